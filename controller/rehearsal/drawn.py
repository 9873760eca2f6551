"""A rehearsal's dials as a drawing has them, from its records as they go by."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING

from controller.dials.position import position_of, true_position
from controller.pictures.dials import Dials, Impulse, LineEnd, LineStory, Span, SystemClock, united
from controller.rehearsal.record import EndRecord, ImpulseRecord, RehearsalRecord

if TYPE_CHECKING:
    from controller.building.model import Building
    from controller.rehearsal.script import Script
    from controller.rehearsal.world import World


def drawn(
    building: Building,
    script: Script,
    world: World,
    records: Iterable[RehearsalRecord],
    draw: Callable[[Dials], object],
) -> Iterator[RehearsalRecord]:
    """The same records; when the last has gone by, `draw` is given the dials."""
    clock = SystemClock(building.civil, world.shifts)
    stories = {}
    for name, line in building.lines.items():
        true = true_position(line, building.civil, script.start_utc)
        shown, _ = script.dials.get(name, (true, "-"))
        stories[name] = LineStory(name, line, clock, script.start_utc, shown)
    ends: dict[str, LineEnd] = {}
    for record in records:
        if isinstance(record, ImpulseRecord):
            shows = position_of(building.lines[record.line], record.shows)
            stories[record.line].tell(Impulse(record.at, shows, record.again, record.cut))
        elif isinstance(record, EndRecord):
            ends = {name: LineEnd(*end) for name, end in record.lines.items()}
        yield record
    for story in stories.values():
        story.end(script.until_utc)
    dark = tuple(united(_dark(script, world)))
    lines = tuple(stories.values())
    draw(Dials(building.name, clock, script.start_utc, script.until_utc, lines, ends, dark))


def _dark(script: Script, world: World) -> Iterator[Span]:
    """From each cut to the start after it: with every start the clock is right again."""
    for cut in script.cuts:
        starts = (at for at, _ in world.shifts if at > cut.start_utc)
        yield cut.start_utc, min(next(starts, script.until_utc), script.until_utc)
