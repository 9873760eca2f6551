"""Soundings: what a zone's contact does where its rings meet (design rule 8).

As the timetable alone would have it: without waits for the supply, orders, buttons and lateness.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, NamedTuple

from controller.building.closings import union
from controller.timetable.contact import MINUTE, Closing, cut_at, first_excess, moved
from controller.timetable.rings import Ring

if TYPE_CHECKING:
    from controller.building.installed import Zone


class Sounding(NamedTuple):
    """Rings of one zone given as one."""

    zone: str
    start: int  # utc, ns: due of its first ring
    closings: tuple[Closing, ...]  # utc, ns, as sounded: nothing after the cut
    rings: tuple[Ring, ...]  # in order of due
    cut: tuple[int, str] | None  # where a limit ends it (utc), and "longest" or "a-minute"

    @property
    def missed(self) -> tuple[Ring, ...]:
        """Its rings that have not begun when a limit ends it."""
        return () if self.cut is None else tuple(r for r in self.rings if r.due >= self.cut[0])


def chains(rings: Iterable[Ring], until: int) -> list[list[Ring]]:
    """Rings of a zone whose spans overlap or touch, directly or through others, in one list.

    `rings` come in order of due; so do the chains, by their first ring. Reads on after `until`
    (utc, ns) as long as a chain that began before it may still grow.
    """
    found: list[list[Ring]] = []
    growing: dict[str, tuple[list[Ring], int]] = {}  # by zone: its newest chain, and its end
    reach = until
    for ring in rings:
        if ring.due >= until and ring.due > reach:
            break
        end = ring.due + ring.span
        newest = growing.get(ring.zone)
        if newest is None or ring.due > newest[1]:
            chain = [ring]
            found.append(chain)
        else:
            chain = newest[0]
            chain.append(ring)
            end = max(end, newest[1])
        growing[ring.zone] = chain, end
        if end > reach and chain[0].due < until:
            reach = end
    return found


def soundings_of(chains: Iterable[list[Ring]], zones: Mapping[str, Zone]) -> list[Sounding]:
    """The sounding that each chain comes to under its zone's limits, in the same order."""
    found = []
    before: dict[str, tuple[Closing, ...]] = {}
    for rings in chains:
        zone = rings[0].zone
        sounding = _limited(rings, before.get(zone, ()), zones[zone])
        found.append(sounding)
        recent = sounding.start - MINUTE
        lately = [closing for closing in before.get(zone, ()) if closing[1] > recent]
        before[zone] = (*lately, *sounding.closings) if lately else sounding.closings
    return found


def _limited(rings: list[Ring], before: tuple[Closing, ...], zone: Zone) -> Sounding:
    """The contact is closed whenever any ring would close it, up to where a limit ends it all."""
    asked = moved(rings[0].closings, rings[0].due)
    if len(rings) > 1:
        asked = union(closing for ring in rings for closing in moved(ring.closings, ring.due))
    cut = first_excess(asked, before, zone.longest_ns, zone.a_minute_ns)
    given = asked if cut is None else cut_at(asked, cut[0])
    return Sounding(rings[0].zone, rings[0].due, given, tuple(rings), cut)
