"""What happens, in words, as it happens: one line for each thing a person would want to know."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.building.civil import SECOND
from controller.circuits.wire import Switched
from controller.dials.position import face_text, true_position, verdict
from controller.engine.contract import (
    Decision,
    LineRow,
    MissCount,
    MissRow,
    NoteRow,
    Now,
    SoundingRow,
)
from controller.engine.orders import coming_text_of
from controller.engine.reasons import MISSED_WHY
from controller.engine.state import LineState, State

if TYPE_CHECKING:
    from controller.building.model import Building


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
            says = " / ".join(
                dict.fromkeys(g.ring.says for g in zone.sounding.rings if g.ring.says)
            )
        return f"{name}  {'sounds' if told.closed else 'is silent'}  {says}".rstrip()
    line = building.lines.get(name)
    if line is None or told.closed:
        return None
    row = state.lines[name].row
    shown = row.shown if row.step is None else (row.shown + row.step.counts) % row.positions
    polarity = "" if line.drive == "single" else " +" if told.relay == 0 else " -"
    return f"{name}  impulse{polarity}, shows {face_text(line, shown)}"


def line_words(building: Building, name: str, state: LineState, now: Now) -> str:
    """What a line's dials show, and whether that is right."""
    line, row = building.lines[name], state.row
    if not row.read:
        return "unread: nobody has said what its dials show"
    words = f"shows {face_text(line, row.shown)}"
    if row.held:
        words += ", held"
    elif not now.trusted:
        words += ", stands until the clock is trusted"
    else:
        true = true_position(line, building.civil, now.utc)
        behind = (true - row.shown) % row.positions
        if verdict(line, row.shown, true) == "right" or (behind == 1 and state.play is not None):
            words += ", right"
        else:
            words += ". " + coming_text_of(line, building.civil, row.shown, now)
    return words + (", doubtful" if row.doubtful else "")


def zone_words(building: Building, state: State, name: str, now: Now) -> str:
    """Whether a zone sounds, waits or is silent."""
    zone = state.zones[name]
    if zone.sounding is not None and zone.sounding.play.start_mono <= now.mono:
        left = max(0, zone.sounding.end - now.mono) / SECOND
        return f"SOUNDING, {left:.0f} s more"
    if zone.quiet_until > now.utc:
        until = building.civil.aware(zone.quiet_until).strftime("%a %H:%M")
        return f"quiet until {until}"
    if any(ring.zone == name and ring.due <= now.utc for ring in state.waiting):
        return "waits for the supply"
    return "silent"


def last_impulse_words(building: Building, row: LineRow) -> str:
    """When the last impulse of a line was stored, to hold against the dials after a power cut."""
    if not row.last_utc:
        return "no impulse stored yet"
    at = building.civil.aware(row.last_utc)
    return f"last stored impulse {at:%Y-%m-%d %H:%M:%S}"
