"""Cross-checks of the tape and its holes, and of how much a day has of rings in all."""

from __future__ import annotations

from collections.abc import Iterator

from controller.building.closings import Closings, closings_of
from controller.building.draft import Draft
from controller.building.durations import DAY, MINUTE, duration_text
from controller.building.entries import Entry, Unread, judged
from controller.building.faults import Fault, key_written
from controller.building.kept import HolesRow, Tape
from controller.building.ring_checks import ZoneAndTime, over_limits, zones_of
from controller.building.timetable_checks import zone_of_row
from controller.building.values import WEEKDAYS, ns_of_day, time_at

MOST_RINGS_A_DAY = 10_000


def tape_faults(tape: Entry[Tape], draft: Draft) -> list[Fault]:
    """All faults of the tape, as far as it is sound."""
    faults: list[Fault] = []
    for zone, row in draft.holes.items():
        faults += zone_of_row(row, zone, draft)
        for check in (_whole_minutes(row, zone), _once(row, zone), _on_the_tape(row, zone, tape)):
            faults += judged(check)
    return faults + judged(_within_limits(tape, draft))


def closings_of_tape(draft: Draft) -> dict[ZoneAndTime, Closings]:
    """What the tape rings in a day, as far as it is sound: a hole rings once a turn."""
    found: dict[ZoneAndTime, Closings] = {}
    for zone, row in draft.holes.items():
        try:
            assert draft.tape is not None, "holes are the tape's"
            tape = draft.tape.value
            starts = ns_of_day(tape.starts)
            for offset in row.value.offsets:
                for at in range((starts + offset) % tape.length_ns, DAY, tape.length_ns):
                    found[zone, time_at(at)] = closings_of((tape.for_ns,))
        except Unread:
            continue
    return found


def _whole_minutes(row: Entry[HolesRow], zone: str) -> Iterator[Fault]:
    between = [_offset(one) for one in row.value.offsets if one % MINUTE]
    if between:
        yield row.fault(zone, f"expected whole minutes; wrong in it: {', '.join(between)}")


def _once(row: Entry[HolesRow], zone: str) -> Iterator[Fault]:
    offsets = row.value.offsets
    doubled = [_offset(one) for one in dict.fromkeys(offsets) if offsets.count(one) > 1]
    if doubled:
        yield row.fault(zone, f"expected each hole once; there twice: {', '.join(doubled)}")


def _on_the_tape(row: Entry[HolesRow], zone: str, tape: Entry[Tape]) -> Iterator[Fault]:
    length = tape.value.length_ns
    beyond = [_offset(one) for one in row.value.offsets if one >= length]
    if beyond:
        words = f"expected offsets below the tape's length ({duration_text(length)})"
        yield row.fault(zone, f"{words}; wrong in it: {', '.join(beyond)}")


def _within_limits(tape: Entry[Tape], draft: Draft) -> Iterator[Fault]:
    zones = {zone: draft.zones[zone] for zone in draft.holes if zone in draft.zones}
    if zones:
        for words in over_limits(closings_of((tape.value.for_ns,)), "for", zones):
            yield tape.fault("for", words)


def _offset(offset_ns: int) -> str:
    return time_at(offset_ns).isoformat("seconds" if offset_ns % MINUTE else "minutes")


# ── how much a day has ───────────────────────────────────────────────────────────────────────────


def too_many_rings(draft: Draft) -> list[Fault]:
    """Days with more rings than are kept in mind; a ring of three zones counts as three."""
    faults: list[Fault] = []
    of_tape = _rings_of_tape(draft)
    if draft.tape is not None and of_tape > MOST_RINGS_A_DAY:
        faults.append(draft.tape.fault("", _too_many("makes", of_tape)))
        of_tape = 0
    of_plan = {plan: _rings_of_plan(plan, draft) for plan in draft.plans}
    for plan, rings in of_plan.items():
        if rings > MOST_RINGS_A_DAY:
            file, table = draft.plans[plan][0].file, f"[plans.{key_written(plan)}]"
            faults.append(Fault(file, table, "rings", None, _too_many("has", rings)))
    for weekday in WEEKDAYS:
        rings = of_plan.get(plan_of(weekday, draft), 0)
        if of_tape and rings <= MOST_RINGS_A_DAY < rings + of_tape:
            words = _too_many("has with the tape", rings + of_tape)
            faults.append(draft.week.fault(weekday, words))
    return faults


def _too_many(verb: str, rings: int) -> str:
    return f"{verb} {rings:,} rings a day; expected {MOST_RINGS_A_DAY:,} at most"


def _rings_of_plan(plan: str, draft: Draft) -> int:
    total = 0
    for ring in draft.plans[plan]:
        try:
            total += len(zones_of(ring, draft))
        except Unread:
            continue
    return total


def _rings_of_tape(draft: Draft) -> int:
    try:
        turns = 0 if draft.tape is None else DAY // draft.tape.value.length_ns
        return turns * sum(len(row.value.offsets) for row in draft.holes.values())
    except Unread:
        return 0


def plan_of(weekday: str, draft: Draft) -> str:
    """The plan that the week gives a weekday; "" where it gives none."""
    try:
        return getattr(draft.week.value, weekday) or ""
    except Unread:
        return ""
