"""What a line's dials show against true time, told impulse by impulse, and where it is not right.

Hours in which nothing happens but one impulse after another are kept as one stretch, so that a year
takes little room. True time is the system's clock's, by which dials are driven.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

from controller.building.civil import DAY_SECONDS, SECOND
from controller.building.durations import MINUTE
from controller.dials.position import next_change, true_position

if TYPE_CHECKING:
    from controller.building.civil import CivilTime
    from controller.building.installed import Line

Span = tuple[int, int]  # outside time, ns, the second not included
_LEAST_MARGIN = 4 * MINUTE  # before and after what is drawn
_MARGIN_SHARE = 5  # of its length, or so much of it


class Impulse(NamedTuple):
    """One impulse of a line."""

    at: int  # outside time, ns
    shows: int  # position after it, as is believed
    again: bool = False
    cut: bool = False


class Regular(NamedTuple):
    """Impulses each at its time, and all as far apart as time has them: right throughout."""

    first: int  # outside time of the first impulse, ns
    last: int
    shows: int  # position after the last

    def before(self, instant: int, every: int) -> int:
        """How many of them are earlier than `instant`."""
        return max(-(-(min(instant, self.last + 1) - self.first) // every), 0)


class Stretch(NamedTuple):
    """A line is not right."""

    start: int
    end: int
    impulses: int  # given in it, the one that ends it too

    @property
    def words(self) -> str:
        """ "driven, 62 impulses", "waits 59 min"."""
        if self.impulses == 0:
            return f"waits {length_text(self.end - self.start)}"
        impulses = "1 impulse" if self.impulses == 1 else f"{self.impulses} impulses"
        return f"driven, {impulses}"


class SystemClock:
    """The clock by which dials go: outside time, plus what it was stepped by."""

    def __init__(self, civil: CivilTime, shifts: Sequence[tuple[int, int]] = ()) -> None:
        """`shifts`: since when (outside time) it differs by how much, in order; it may grow."""
        self.civil = civil
        self._shifts = shifts

    def at(self, outside: int) -> int:
        """What it says, utc ns."""
        place = bisect_right(self._shifts, outside, key=lambda one: one[0])
        return outside + (self._shifts[place - 1][1] if place else 0)

    def local(self, outside: int) -> int:
        """What it shows on its face, ns since 1970-01-01."""
        return self.civil.local_ns(self.at(outside))

    def steps(self, start: int, until: int) -> Iterator[tuple[int, int]]:
        """When it was stepped within [start, until), outside time, and by how much."""
        before = 0
        for at, shift in self._shifts:
            if start <= at < until and shift != before:
                yield at, shift - before
            before = shift

    def changed(self, after: int, until: int) -> Iterator[int]:
        """When it may have been stepped within (after, until], outside time."""
        return (at for at, _ in self._shifts if after < at <= until)


class LineStory:
    """One line through a stretch of time: tell it each impulse in order, then the end."""

    def __init__(self, name: str, line: Line, clock: SystemClock, start: int, shown: int) -> None:
        """`shown` is the position at `start`."""
        self.name, self.line, self.clock = name, line, clock
        self.start, self.shown_at_start = start, shown
        self.told: list[Impulse | Regular] = []
        self.stretches: list[Stretch] = []
        self._last = Impulse(start, shown)

    def tell(self, impulse: Impulse) -> None:
        """The next impulse."""
        before, self._last = self._last, impulse
        regular = (
            not (impulse.again or impulse.cut)
            and impulse.at - before.at <= self.line.every_ns
            and self._true(impulse.at - 1) == before.shows
            and self._true(impulse.at) == impulse.shows
        )
        if not regular:
            self._not_right(before, impulse.at, 1)
            self.told.append(impulse)
            return
        run = self.told[-1] if self.told else None
        if isinstance(run, Regular) and impulse.at == run.last + self.line.every_ns:
            self.told[-1] = run._replace(last=impulse.at, shows=impulse.shows)
        else:
            self.told.append(Regular(impulse.at, impulse.at, impulse.shows))

    def end(self, until: int) -> None:
        """Nothing more is given before `until`."""
        self._not_right(self._last, until, 0)

    def _true(self, outside: int) -> int:
        return true_position(self.line, self.clock.civil, self.clock.at(outside))

    def _not_right(self, since: Impulse, until: int, impulses: int) -> None:
        """Note when, from `since` on, what is shown is not what is true."""
        for start, end in self._wrong(since, until):
            last = self.stretches[-1] if self.stretches else None
            given = impulses if end == until else 0
            if last is not None and start - last.end <= self.line.impulse_ns + self.line.gap_ns:
                self.stretches[-1] = Stretch(last.start, end, last.impulses + given)
            else:
                # The impulse that did not make it right belongs to it.
                given += bool(self.told) and self.told[-1] == since and start == since.at
                self.stretches.append(Stretch(start, end, given))

    def _wrong(self, since: Impulse, until: int) -> Iterator[Span]:
        """The spans of [since, until) in which the dials, standing, are wrong."""
        now, wrong_since = since.at, None
        while now < until:
            right = self._true(now) == since.shows
            if right and wrong_since is not None:
                yield wrong_since, now
                wrong_since = None
            elif not right and wrong_since is None:
                wrong_since = now
            now = min([self._next(now), *self.clock.changed(now, until)])
        if wrong_since is not None:
            yield wrong_since, until

    def _next(self, outside: int) -> int:
        says = self.clock.at(outside)
        return outside + next_change(self.line, self.clock.civil, says) - says


class LineEnd(NamedTuple):
    """How a line's dials end."""

    shows: tuple[str, ...]  # the distinct texts: one where they agree
    right: bool
    doubtful: bool

    @property
    def words(self) -> str:
        """ "08:30, right", "08:30, right, doubtful", "08:29 | 08:30, wrong"."""
        words = f"{' | '.join(self.shows)}, {'right' if self.right else 'wrong'}"
        return f"{words}, doubtful" if self.doubtful else words


class Dials(NamedTuple):
    """All lines of a building through a stretch of time."""

    building: str
    clock: SystemClock
    start: int
    until: int
    lines: tuple[LineStory, ...]
    ends: dict[str, LineEnd]
    dark: tuple[Span, ...]  # no power, or a daemon not yet started

    @property
    def windows(self) -> list[Span]:
        """What is worth drawing: where a line is not right or the power is away, with a margin."""
        spans = [(one.start, one.end) for line in self.lines for one in line.stretches]
        return united(self._with_margin(span) for span in (*spans, *self.dark))

    def _with_margin(self, span: Span) -> Span:
        margin = max(_LEAST_MARGIN, (span[1] - span[0]) // _MARGIN_SHARE)
        return max(span[0] - margin, self.start), min(span[1] + margin, self.until)


def united(spans: Iterable[Span]) -> list[Span]:
    """Spans in order, those that meet as one."""
    found: list[Span] = []
    for start, end in sorted(spans):
        if found and start <= found[-1][1]:
            found[-1] = found[-1][0], max(found[-1][1], end)
        elif start < end:
            found.append((start, end))
    return found


# ── the course of a line within a window ─────────────────────────────────────────────────────────


class Course(NamedTuple):
    """What a line's dials show within a window, as heights that only rise."""

    steps: list[tuple[int, int]]  # outside time, and the height from then on: ns, shown at first
    marks: list[tuple[Impulse, int]]  # impulses that were cut, or given again, and their height


def course(story: LineStory, window: Span) -> Course:
    """The line's course; a height modulo the face is what the dials show."""
    every, positions = story.line.every_ns, story.line.positions
    shown = story.shown_at_start
    height = opening = shown * every
    steps: list[tuple[int, int]] = []
    marks: list[tuple[Impulse, int]] = []
    for one in story.told:
        if isinstance(one, Regular):
            before, within = (one.before(instant, every) for instant in window)
            if before:
                opening = height + before * every
            for number in range(before, within):
                steps.append((one.first + number * every, height + (number + 1) * every))
            height += one.before(one.last + 1, every) * every
        else:
            height += (one.shows - shown) % positions * every
            if one.at < window[0]:
                opening = height
            elif one.at < window[1]:
                steps.append((one.at, height))
                if one.cut or one.again:
                    marks.append((one, height))
        shown = one.shows
    return Course([(window[0], opening), *steps], marks)


def length_text(nanoseconds: int) -> str:
    """ "59 min", "5 min 20 s", "3 d 4 h": the two greatest units, what is less is cut off."""
    rest, parts = nanoseconds // SECOND, []
    for unit, seconds in (("d", DAY_SECONDS), ("h", 3600), ("min", 60), ("s", 1)):
        number, rest = divmod(rest, seconds)
        if number:
            parts.append(f"{number} {unit}")
    return " ".join(parts[:2]) or "under 1 s"
