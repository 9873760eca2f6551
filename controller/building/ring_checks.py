"""Cross-checks of rings in plans: that every one can be given as it is written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import time
from functools import lru_cache

from controller.building.closings import (
    Closings,
    closings_of,
    longest_of,
    most_in_a_minute,
    union,
)
from controller.building.draft import Draft
from controller.building.durations import MINUTE, duration_text
from controller.building.entries import Entry, Unread, judged
from controller.building.faults import Fault
from controller.building.installed import SINGLE_STROKE_LONGEST_NS, Zone
from controller.building.kept import PlanRing
from controller.building.values import EVERY_ZONE
from controller.building.wiring_checks import zones_known

LONGEST_RING_NS = 10 * MINUTE  # first closing to last opening

Zones = Mapping[str, Entry[Zone]]
ZoneAndTime = tuple[str, time]


def ring_faults(ring: Entry[PlanRing], draft: Draft) -> list[Fault]:
    """All faults of one ring by itself."""
    return [
        *judged(_for_or_strokes(ring)),
        *judged(_odd_strokes(ring)),
        *judged(_zones_of_ring(ring, draft)),
        *judged(_not_endless(ring)),
        *judged(_within_limits(ring, draft)),
    ]


def merged_faults(
    rings: list[Entry[PlanRing]], of_tape: Mapping[ZoneAndTime, Closings], draft: Draft
) -> list[Fault]:
    """Rings of a zone that are one ring (design rule 6) and only together exceed its limits.

    They are those of one plan at one time, and with them what the tape has at that time.
    """
    together_with: dict[ZoneAndTime, list[tuple[str, Closings]]] = {
        key: [("the tape", closings)] for key, closings in of_tape.items()
    }
    faults: list[Fault] = []
    for ring in rings:
        try:
            keys = [(zone, ring.value.at) for zone in zones_of(ring, draft)]
            closings = closings_as_written(ring)
        except Unread:
            continue
        for key in keys:
            same = together_with.setdefault(key, [])
            same.append((ring.table, closings))
            if len(same) > 1:
                faults += _merged_within_limits(ring, key[0], same, draft)
    return faults


def closings_as_written(ring: Entry[PlanRing]) -> Closings:
    """The ring's closings. `Unread` where `for` and `strokes` do not say them."""
    strokes, for_ns = ring.value.strokes_ns, ring.value.for_ns
    if (strokes is None) == (for_ns is None) or (strokes is not None and len(strokes) % 2 == 0):
        raise Unread("closings")
    return closings_of(strokes or (for_ns or 0,))


def zones_of(ring: Entry[PlanRing], draft: Draft) -> list[str]:
    """The zones of a ring that are there, "*" being all."""
    zones = ring.value.zones
    if EVERY_ZONE in zones:
        return list(draft.zones)
    return [zone for zone in dict.fromkeys(zones) if zone in draft.zones]


# ── one ring ─────────────────────────────────────────────────────────────────────────────────────


def _for_or_strokes(ring: Entry[PlanRing]) -> Iterator[Fault]:
    if "for" in ring.raw and "strokes" in ring.raw:
        yield ring.fault("for", "stands beside strokes; expected one of the two")
    elif "for" not in ring.raw and "strokes" not in ring.raw:
        yield ring.fault("", 'has no length: expected for, such as for = "5s", or strokes')


def _odd_strokes(ring: Entry[PlanRing]) -> Iterator[Fault]:
    strokes = ring.value.strokes_ns
    if strokes is not None and len(strokes) % 2 == 0:
        words = f"has {len(strokes)} lengths; expected an odd number, on, off, on …, on at the end"
        yield ring.fault("strokes", words)


def _zones_of_ring(ring: Entry[PlanRing], draft: Draft) -> Iterator[Fault]:
    yield from zones_known(ring, ring.value.zones, draft)


def _not_endless(ring: Entry[PlanRing]) -> Iterator[Fault]:
    span, most = closings_as_written(ring)[-1][1], LONGEST_RING_NS
    if span > most:
        words = f"takes {duration_text(span)} in all; expected {duration_text(most)} at most"
        yield ring.fault("strokes", words)


def _within_limits(ring: Entry[PlanRing], draft: Draft) -> Iterator[Fault]:
    key = "for" if "for" in ring.raw else "strokes"
    zones = {zone: draft.zones[zone] for zone in zones_of(ring, draft)}
    for words in over_limits(closings_as_written(ring), key, zones):
        yield ring.fault(key, words)


def _merged_within_limits(
    ring: Entry[PlanRing], zone: str, same: list[tuple[str, Closings]], draft: Draft
) -> list[Fault]:
    zones = {zone: draft.zones[zone]}
    if any(_over(closings, zones) for _, closings in same):
        return []  # told of that one already
    words = _over(union(one for _, closings in same for one in closings), zones)
    if not words:
        return []
    others = " and ".join(dict.fromkeys(name for name, _ in same[:-1]))
    return [ring.fault("at", f"with {others} at the same time {words}")]


# ── limits of a zone ─────────────────────────────────────────────────────────────────────────────


def over_limits(closings: Closings, key: str, zones: Zones) -> Iterator[str]:
    """Why these zones cannot be rung so; nothing where they can.

    Design rule 8: a single ring that alone exceeds a limit of its zone is an error in the file.
    """
    struck = [zone for zone, entry in zones.items() if _is_single_stroke(entry)]
    if struck and (key == "for" or longest_of(closings) > SINGLE_STROKE_LONGEST_NS):
        limit = duration_text(SINGLE_STROKE_LONGEST_NS)
        yield (
            f"rings {', '.join(struck)}, whose bells are single-stroke; "
            f"expected strokes, each on for at most {limit}"
        )
        zones = {zone: entry for zone, entry in zones.items() if zone not in struck}
    words = _over(closings, zones)
    if words:
        yield words


def _is_single_stroke(zone: Entry[Zone]) -> bool:
    try:
        return zone.value.kind == "single-stroke"
    except Unread:
        return False


def _over(closings: Closings, zones: Zones) -> str:
    """Which limits of which zones the closings exceed; "" where they exceed none."""
    longest, minute = _measured(closings)
    too_long = _exceeded(longest, "longest_ns", zones)
    too_much = _exceeded(minute, "a_minute_ns", zones)
    words = []
    if too_long:
        words.append(
            f"closes for {duration_text(longest)} without a break; "
            f"expected no more than longest of {too_long}"
        )
    if too_much:
        words.append(
            f"closes for {duration_text(minute)} within a minute; "
            f"expected no more than a_minute of {too_much}"
        )
    return ", and ".join(words)


@lru_cache(maxsize=1000)
def _measured(closings: Closings) -> tuple[int, int]:
    """The longest closing, and the most in any minute: plans repeat the same few lengths."""
    return longest_of(closings), most_in_a_minute(closings)


def _exceeded(length: int, limit: str, zones: Zones) -> str:
    """ "north (10s), south (8s)": the zones whose limit is less than `length`."""
    words = []
    for zone, entry in zones.items():
        try:
            most = getattr(entry.value, limit)
        except Unread:
            continue
        if length > most:
            words.append(f"{zone} ({duration_text(most)})")
    return ", ".join(words)
