"""What is, and what happens, in words: the same for picture, display, status and page."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from controller.building.civil import SECOND, CivilTime
from controller.circuits.wire import Switched
from controller.dials.position import Coming, coming_right, face_text, true_position, verdict
from controller.engine.contract import Decision
from controller.engine.reasons import MISSED_WHY
from controller.engine.records import LineRow, MissCount, MissRow, NoteRow, SoundingRow
from controller.engine.state import LineState, State
from controller.engine.turn import Turn
from controller.service.settling import TRUST_CLOCK
from controller.timetable.rings import joined

if TYPE_CHECKING:
    from controller.building.installed import Line
    from controller.building.model import Building

_GRAIN_NS = SECOND // 10  # of the instant from which a drive is foretold
_STOPPING = ("stuck", "welded")  # faults of a contact for which a line stands
_NO_HAND = "nothing holds the relays at present"
_NO_SUPPLY = "the supply is away"


# ── what happens ─────────────────────────────────────────────────────────────────────────────────


def decided_lines(decision: Decision) -> list[str]:
    """What a decision stored, for people."""
    lines = []
    for record in decision.records:
        match record:
            case MissRow(zone, written, _, why) if why:
                due = written.replace("T", " ")
                lines.append(f"missed  {zone}, due {due}: {MISSED_WHY.get(why, why)}")
            case MissCount(rings, _, _, why):
                lines.append(f"missed  {rings} rings more: {MISSED_WHY.get(why, why)}")
            case NoteRow(_, _, who, text):
                lines.append(f"{text}" + (f" ({who})" if who else ""))
            case SoundingRow(how="cut", zone=zone):
                lines.append(f"{zone}  cut short")
            case _:
                pass
    return lines


def switched_line(building: Building, state: State, told: Switched) -> str | None:
    """A relay moved, for people: a bell begins or ends, a line is stepped."""
    kind, name = told.circuit.split(".", 1)
    if kind == "zones":
        zone = state.zones.get(name)
        says = ""
        if told.closed and zone is not None and zone.sounding is not None:
            says = joined(given.ring.says for given in zone.sounding.rings)
        return f"{name}  {'sounds' if told.closed else 'is silent'}  {says}".rstrip()
    line = building.lines.get(name)
    if line is None or told.closed:
        return None
    row = state.lines[name].row
    shown = row.shown if row.step is None else (row.shown + row.step.counts) % row.positions
    polarity = "" if line.drive == "single" else " +" if told.relay == 0 else " -"
    shows = f", shows {face_text(line, shown)}" if row.read else ""
    return f"{name}  impulse{polarity}{shows}"


def entry_words(entry: Mapping[str, Any]) -> str:
    """One entry of the logbook, as the order `logbook` answers it, without its time."""
    zone, text = entry["zone"], str(entry["text"])
    by = f" ({entry['by']})" if entry["by"] else ""
    match entry["kind"]:
        case "sounding":
            how = {"begun": "began to sound", "cut": "sounded, cut short"}.get(entry["how"], "rang")
            says = f"{zone}  {how}, {entry['seconds']:g} s" + (f"  {text}" if text else "")
            return says + by
        case "missed":
            due = ", ".join(written.replace("T", " ") for written in entry["written"])
            after_all = ", and given after all" if entry["how"] == "withdrawn" else ""
            return f"{zone}  missed, due {due}: {MISSED_WHY.get(text, text)}{after_all}"
        case "missed-count":
            return f"missed  {entry['rings']} rings: {MISSED_WHY.get(text, text)}"
    return text + by


def last_impulse_words(building: Building, row: LineRow) -> str:
    """When the last impulse of a line was stored, to hold against the dials after a power cut."""
    if not row.last_utc:
        return "no impulse stored yet"
    at = building.civil.aware(row.last_utc)
    return f"last stored impulse {at:%Y-%m-%d %H:%M:%S}"


# ── how things stand ─────────────────────────────────────────────────────────────────────────────


class ZoneTold(NamedTuple):
    """How a zone stands: one word for it, a sentence, and until when it stands so (utc)."""

    state: Literal["silent", "sounding", "waits", "quiet", "switched-off"]
    says: str
    until: int | None = None


class LineTold(NamedTuple):
    """How a line stands: one word for it, a sentence, and what a person can do about it."""

    state: Literal["right", "driven", "waiting", "held", "unread", "stands"]
    says: str
    settle: tuple[str, ...] = ()  # the orders that settle it
    right_utc: int | None = None  # when it will be right; None where it is, or nobody can tell
    impulses: int | None = None  # how many are still to come, where it is driven


def zone_told(turn: Turn, name: str) -> ZoneTold:
    """Whether a zone sounds, waits, is kept quiet or is just silent."""
    told = _zone_told(turn, name)
    faults = _faults(turn, (f"zones.{name} ",))
    return told._replace(says="; ".join((told.says, *faults)))


def _zone_told(turn: Turn, name: str) -> ZoneTold:
    zone, now = turn.zones[name], turn.now
    sounding = zone.sounding
    if sounding is not None and sounding.play.start_mono <= now.mono:
        left = max(0, sounding.end - now.mono) / SECOND
        what_for = joined(given.ring.says for given in sounding.rings)
        says = f"SOUNDING, {left:.0f} s more" + (f": {what_for}" if what_for else "")
        return ZoneTold("sounding", says, turn.utc_of(sounding.end))
    if turn.switched_off(name):
        return ZoneTold("switched-off", "switched off at the panel: it does not ring")
    if any(ring.zone == name and ring.due <= now.utc for ring in turn.waiting):
        return ZoneTold("waits", f"waits: {_what_for(turn)}")
    if zone.quiet_until > now.utc:
        until = f"{turn.building.civil.aware(zone.quiet_until):%a %d %b %H:%M}"
        return ZoneTold("quiet", f"quiet until {until}", zone.quiet_until)
    return ZoneTold("silent", "silent")


def _what_for(turn: Turn) -> str:
    if turn.hand is None:
        return _NO_HAND
    return "there is not enough current yet" if turn.supply_there else _NO_SUPPLY


def line_told(turn: Turn, name: str) -> LineTold:
    """What a line's dials show, whether that is right, and if not, how it comes right."""
    state = turn.lines[name]
    told = _line_told(turn, name, state)
    words = [told.says]
    if state.row.read and state.row.doubtful:
        words.append("doubtful")
        told = told._replace(settle=_settles_doubt(turn, name, state))
    extra = state.steps + (state.row.step is not None and not state.row.step.counts)
    if extra:
        words.append(f"{extra} extra impulse{'' if extra == 1 else 's'} to come")
    return told._replace(says=", ".join(words))


def _line_told(turn: Turn, name: str, state: LineState) -> LineTold:
    line, row = turn.building.lines[name], state.row
    if not row.read:
        held = ", and it is held" if row.held else ""
        says = f"unread: nobody has said what its dials show{held}"
        return LineTold("unread", says, ("set",))
    shows = f"shows {face_text(line, row.shown)}"
    if row.held:
        return LineTold("held", f"{shows}, held", ("go", "set"))
    why = _stands_for(turn, name, state)
    if why:
        return LineTold("stands", f"{shows}, stands: {why}")
    if row.target >= 0:
        impulses = (row.target - row.shown) % row.positions
        where = face_text(line, row.target)
        says = f"{shows}, is driven to {where} and held there"
        return LineTold("driven", says, impulses=impulses)
    if not turn.now.trusted:
        return LineTold("stands", f"{shows}, stands: the clock is not trusted", TRUST_CLOCK)
    return _by_the_clock(turn, line, state, shows)


def _stands_for(turn: Turn, name: str, state: LineState) -> str:
    """Why a line that is read and not held can give no impulse; "" where it can."""
    if turn.hand is None:
        return _NO_HAND
    if not turn.supply_there:
        return _NO_SUPPLY
    marks = ("", "+", "-")
    faults = _faults(turn, tuple(f"lines.{name}{m} {kind}" for m in marks for kind in _STOPPING))
    if faults:
        return faults[0]
    return "its relay's contact did not close" if state.unanswered else ""


def _by_the_clock(turn: Turn, line: Line, state: LineState, shows: str) -> LineTold:
    """A line that goes by the clock: right, waiting, or driven."""
    civil, now, row = turn.building.civil, turn.now, state.row
    true = true_position(line, civil, now.utc)
    stepping = state.play is not None and row.step is not None and row.step.counts
    if true == row.shown or (stepping and (true - row.shown) % row.positions == 1):
        return LineTold("right", f"{shows}, right")
    waits = verdict(line, row.shown, true) == "wait"
    coming = _coming(turn, line, state)
    if coming is None:
        return LineTold("driven", f"{shows}, is driven; how long is not foretold")
    at = _when(civil, coming.right_utc, now.utc)
    if waits and coming.impulses == 0:
        says = f"{shows}, ahead of time: stands until time reaches it, at {at}"
        return LineTold("waiting", says, right_utc=coming.right_utc)
    number = f"{coming.impulses} impulse{'' if coming.impulses == 1 else 's'}"
    says = f"{shows}, is driven: right at {at}, after {number}"
    return LineTold("driven", says, (), coming.right_utc, coming.impulses)


def _coming(turn: Turn, line: Line, state: LineState) -> Coming | None:
    """How a line comes right, from the end of what is under way or owed."""
    civil, row = turn.building.civil, state.row
    start = max(turn.now.mono, state.rest_until, state.not_before)
    turns = state.steps
    shown, impulses = row.shown, 0
    if row.step is not None:
        if state.play is not None:
            start = max(start, state.play.start_mono + line.impulse_ns + line.gap_ns)
        else:
            turns += 1
        shown, impulses = (shown + row.step.counts) % row.positions, int(row.step.counts)
    start += turns * (line.impulse_ns + line.gap_ns)
    utc = turn.utc_of(start)
    ended = utc - line.gap_ns
    if impulses and true_position(line, civil, ended) == shown:
        return Coming(impulses, ended, shown)
    coming = _foretold(line, civil, shown, utc // _GRAIN_NS * _GRAIN_NS)
    return None if coming is None else coming._replace(impulses=coming.impulses + impulses)


@lru_cache(maxsize=64)
def _foretold(line: Line, civil: CivilTime, shown: int, utc: int) -> Coming | None:
    """Kept, for a picture is asked for several times within one impulse of a long drive."""
    return coming_right(line, civil, shown, utc)


def _settles_doubt(turn: Turn, name: str, state: LineState) -> tuple[str, ...]:
    if state.row.held:
        return "right", "set"
    alternating = turn.building.lines[name].drive == "alternating"
    return ("right", "stood") if alternating else ("right", "hold")


def _faults(turn: Turn, beginnings: tuple[str, ...]) -> list[str]:
    """What is said of the faults that last and whose names begin so."""
    return [
        fault.says
        for fault in turn.faults.values()
        if fault.until == 0 and fault.name.startswith(beginnings)
    ]


def _when(civil: CivilTime, utc: int, now_utc: int) -> str:
    local = civil.aware(utc)
    same_day = local.date() == civil.date_at(now_utc)
    return f"{local:%H:%M:%S}" if same_day else f"{local:%a %d %b %H:%M:%S}"
