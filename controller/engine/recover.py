"""From records to a state: what is known after a stop, a crash or a power cut. Pure.

Lawful for every prefix of the records, in any order, the newest of each key.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from controller.building.closings import union
from controller.engine.contract import Now
from controller.engine.lines import taken, unread
from controller.engine.rebuild import fitted, rebuilt
from controller.engine.records import (
    EraRow,
    FaultRow,
    FollowRow,
    LineRow,
    MissRow,
    NoteRow,
    QuietRow,
    Record,
    SoundingRow,
    Stamp,
    TrustRow,
)
from controller.engine.state import ERA_NS, FAR, Identity, LineState, State, ZoneState
from controller.engine.turn import with_identities
from controller.timetable.contact import MINUTE, Closing

if TYPE_CHECKING:
    from controller.building.model import Building

_MAYBE = "the last impulse before the stop counts as taken, and may not have reached its dials"


def recover(
    building: Building, records: Iterable[Record], now: Now, before: Building | None = None
) -> State:
    """The state in which the daemon starts at `now`.

    `before` is the building of the last run, where the file was changed since: what it did not have
    is not rung for instants that have passed.
    """
    newest = {_key(record): record for record in records}
    rows: list[Record] = [row for row in newest.values() if not isinstance(row, SoundingRow)]
    stamp = next((row for row in rows if isinstance(row, Stamp)), None)
    soundings = [row for row in newest.values() if isinstance(row, SoundingRow)]
    soundings = sorted((row for row in soundings if row.how != "void"), key=lambda row: row.play)
    lines, owed = _lines(building, rows, now)
    eras = {row.number: row.began for row in rows if isinstance(row, EraRow)}
    cut = [row for row in soundings if row.how == "begun"]
    first_note = 1 + max((row.number for row in rows if isinstance(row, NoteRow)), default=0)
    notes = _notes(owed, cut, now, first_note)
    state = State(
        boot=now.boot,
        started_mono=now.mono,
        off_until=None,
        trusted_from=None,
        hand=None,
        zones=_zones(building, rows, soundings, now),
        lines=lines,
        waiting=(),
        given=_given(soundings, eras),
        missed=with_identities(
            {}, ((r.zone, r.written) for r in rows if isinstance(r, MissRow) and r.why)
        ),
        follow=tuple(
            (r.day, r.plan) for r in rows if isinstance(r, FollowRow) and r.plan != "usual"
        ),
        frontier=None if stamp is None else stamp.settled,
        fence=None if stamp is None else stamp.fence,
        fence_at_start=stamp is not None and stamp.boot != now.boot and stamp.settled is not None,
        settled=None if stamp is None else stamp.settled,
        next_due=-1,
        next_play=_next_play(stamp, rows, soundings),
        next_batch=1,
        next_note=first_note + len(notes),
        owed=(*owed, *(row._replace(how="cut") for row in cut), *notes),
        storing=True,
        panel={},
        supply_lost=(),
        faults={r.name: r for r in rows if isinstance(r, FaultRow) and not r.acknowledged},
        word=_word(rows, now),
        era=max(eras, default=0),
        untrusted_since=None,
        ahead=now.utc - now.mono
        if stamp is None or stamp.boot != now.boot
        else stamp.utc - stamp.mono,
        presses={},
        fault_begins={},
        fault_eases={},
        well=False,
        look_utc=now.utc,
        look_mono=now.mono,
    )
    return state if before is None else rebuilt(before, building, state, now)


def _key(record: Record) -> int | tuple[str, ...]:
    """What it stands for; a number for soundings, of which there are thousands."""
    return record.play if isinstance(record, SoundingRow) else record.key


def _notes(owed: list[LineRow], cut: list[SoundingRow], now: Now, first_note: int) -> list[NoteRow]:
    """What the logbook has of an impulse and of rings that the stop fell into."""
    says = [f"{row.line}: doubtful; {_MAYBE}" for row in owed if row.doubtful]
    says += [f"{row.zone}: cut as it began or while it sounded" for row in cut]
    return [NoteRow(number, now.utc, "", text) for number, text in enumerate(says, first_note)]


def _next_play(stamp: Stamp | None, rows: list[Record], soundings: list[SoundingRow]) -> int:
    """A number that no play had, whichever of the records is the newest."""
    numbers = [row.play for row in soundings]
    numbers += [row.step.play for row in rows if isinstance(row, LineRow) and row.step]
    return max(1, 0 if stamp is None else stamp.next_play, *(number + 1 for number in numbers))


def _word(rows: list[Record], now: Now) -> TrustRow | None:
    """Who vouched for the clock did so for one run of the machine."""
    words = (row for row in rows if isinstance(row, TrustRow) and row.boot == now.boot)
    return next(words, None)


def _given(
    soundings: list[SoundingRow], eras: Mapping[int, int]
) -> Mapping[str, frozenset[Identity]]:
    """What was given, save what a clock far ahead gave before it was set right."""
    last_due = {
        era: ERA_NS + min((began for number, began in eras.items() if number > era), default=FAR)
        for era in {row.era for row in soundings}
    }
    return with_identities(
        {},
        (
            (row.zone, ring)
            for row in soundings
            if row.due <= last_due[row.era]
            for ring in row.rings
        ),
    )


def _zones(
    building: Building, rows: list[Record], soundings: list[SoundingRow], now: Now
) -> dict[str, ZoneState]:
    quiet = {row.zone: row.until for row in rows if isinstance(row, QuietRow)}
    closed: dict[str, list[Closing]] = {name: [] for name in building.zones}
    for row in soundings:
        if row.zone in closed:
            # Of another boot only the system's clock can tell how long ago it was.
            start = row.start_mono
            if row.boot != now.boot:
                start = now.mono - (now.utc - row.start_utc)
            if start + max(row.edges, default=0) <= now.mono - MINUTE:
                continue
            pairs = zip(row.edges[::2], row.edges[1::2], strict=True)
            closings = [(start + a, min(start + b, now.mono)) for a, b in pairs]
            closed[row.zone] += [(a, b) for a, b in closings if a < b and b > now.mono - MINUTE]
    return {
        name: ZoneState(closed=union(closed[name]), quiet_until=quiet.get(name, 0))
        for name in building.zones
    }


def _lines(
    building: Building, rows: list[Record], now: Now
) -> tuple[dict[str, LineState], list[LineRow]]:
    kept = {row.line: row for row in rows if isinstance(row, LineRow)}
    lines: dict[str, LineState] = {}
    owed: list[LineRow] = []
    for name, line in building.lines.items():
        if name not in kept:
            lines[name] = LineState(unread(name, line))
            continue
        row = _after_a_crash(fitted(kept[name], building, name), line.drive == "single", now)
        lines[name] = LineState(row)
        if row != kept[name]:
            owed.append(row)
    return lines, owed


def _after_a_crash(row: LineRow, single: bool, now: Now) -> LineRow:
    """What an impulse that was begun and not recorded as ended leaves behind.

    Within one boot, one whose start still lies ahead was never given. On an alternating line it
    stays owed and is given again; on a single line it counts as taken, and the line is doubtful.
    """
    step = row.step
    if step is None:
        return row
    if step.boot == now.boot and step.start_mono > now.mono and not step.again:
        return row._replace(step=None)
    if single:
        return taken(row, step)._replace(doubtful=True)
    return row
