"""A week in a terminal of any width: the days with their plans, then a lane for each zone.

A column is a stretch of the day. What a mark means does not hang on its colour: all are of
different shape, and where a terminal has only ASCII they are letters of that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from operator import itemgetter
from textwrap import wrap
from typing import NamedTuple

from rich.text import Text

from controller.building.civil import HOUR, SECOND
from controller.building.durations import MINUTE
from controller.pictures.sheet import shortened
from controller.pictures.week import DayHead, Lane, Mark, Row, Week, hours, limited
from controller.timetable.rings import DAY

NARROWEST = 40
_LABEL = 10  # "Mon 23 R+ "
_LONG_NS = 6 * SECOND  # a mark is tall from here on
_MOST_COUNT = 9  # in one column
_MOST_NOTES = 5
_MINUTES = (1, 2, 3, 5, 6, 10, 12, 15, 20, 30, 60, 120, 240)  # that a column may stand for
_HOURS = (1, 2, 3, 4, 6, 12, 24)  # between two hours of the ruler
_UNBROKEN = "\N{NO-BREAK SPACE}"
_HOUR_ROOM = 4  # columns at least
_SHOWN = {"paper": " ", "night": "·", "quiet": "░", "never": "╳", "twice": "≈"}
_PLAIN = {"paper": " ", "night": ".", "quiet": "-", "never": "x", "twice": "~"}


class Shapes(NamedTuple):
    """What stands for what."""

    short: str
    long: str
    strokes: str
    silent: str
    cut: str
    many: str
    ground: dict[str, str]


SHAPES = Shapes("▄", "█", "║", "○", "!", "*", _SHOWN)
ASCII = Shapes("i", "I", ":", "o", "!", "*", _PLAIN)

STYLES = {"night": "dim", "quiet": "dim", "never": "red", "twice": "red"}


def week_text(week: Week, width: int, *, ascii_only: bool = False) -> Iterator[Text]:
    """The lines, none wider than `width` (40 at least)."""
    shapes = ASCII if ascii_only else SHAPES
    width = max(width, NARROWEST)
    yield from (_fitted(line, width) for line in _lines(week, width, shapes))


def _lines(week: Week, width: int, shapes: Shapes) -> Iterator[Text]:
    for words in (week.building, f"{week.title}, {week.timezone}"):
        yield from (Text(line, "bold") for line in _wrapped(words, width) if line)
    yield Text()
    for day in week.days:
        yield from _head(day, width)
    counts = [_count(row) for lane in week.lanes for row in lane.rows]
    tail = max((len(count) for count in counts), default=0) + 1
    scale = _scale(week, width - _LABEL - tail)
    drawn: set[str] = set()
    for lane in week.lanes:
        yield Text()
        yield _ruler(lane, scale, width)
        for day, row in zip(week.days, lane.rows, strict=True):
            line = _row(week, day, row, scale, shapes)
            drawn |= {*line.plain[_LABEL : _LABEL + scale.columns]}
            yield line
    yield Text()
    yield from _key(drawn, width, scale, shapes)
    yield from _notes(week, width)


def _fitted(line: Text, width: int) -> Text:
    line.rstrip()
    line.truncate(width, overflow="ellipsis")
    return line


# ── the days ─────────────────────────────────────────────────────────────────────────────────────


def _label(day: DayHead) -> Text:
    style = "bold yellow" if day.departs or not day.exists else ""
    label = Text(f"{day.date:%a} {day.date.day:2d} ", style)
    label.append(f"{day.sign.letter[: _LABEL - 7]:<{_LABEL - 7}}", style or "cyan")
    return label


def _head(day: DayHead, width: int) -> Iterator[Text]:
    words = [day.plan, *([day.why] if day.why else [])]
    if day.exists:
        words += [change.words for change in day.changes]
    label = _label(day)
    for line in _wrapped(": ".join(words), width - _LABEL):
        label.append(line, "bold yellow" if day.departs or day.changes else "")
        yield label
        label = Text(" " * _LABEL)


def _wrapped(words: str, width: int) -> list[str]:
    return wrap(words, width, break_on_hyphens=False) or [""]


# ── a lane ───────────────────────────────────────────────────────────────────────────────────────


class _Scale(NamedTuple):
    """Which column a time of the local day falls in: all are of one length."""

    first: int  # ns of the local day
    minutes: int  # a column
    columns: int

    def column(self, at: int) -> int:
        """Times that are not shown fall in the outermost."""
        return min(max((at - self.first) // (self.minutes * MINUTE), 0), self.columns - 1)


def _scale(week: Week, room: int) -> _Scale:
    """The finest columns that fit, so that an hour or more is a whole number of them."""
    first, last = hours(week)
    minutes = next(each for each in _MINUTES if (last - first) * 60 <= room * each)
    return _Scale(first * HOUR, minutes, -(-(last - first) * 60 // minutes))


def _ruler(lane: Lane, scale: _Scale, width: int) -> Text:
    """The zone's name, the hours above their columns, and its title where there is room."""
    step = next(step for step in _HOURS if step * 60 >= _HOUR_ROOM * scale.minutes)
    ruler = [" "] * (scale.columns + 1)
    first = scale.first // HOUR
    for hour in range(-(-first // step) * step, 24, step):
        column = (hour - first) * 60 // scale.minutes
        if column < scale.columns:
            ruler[column : column + 2] = f"{hour:02d}"
    line = Text()
    line.append(f"{shortened(lane.zone, _LABEL - 1):<{_LABEL}}", "bold")
    line.append("".join(ruler), "dim")
    if lane.title and _LABEL + len(ruler) + len(lane.title) < width:
        line.append(f" {lane.title}", "dim")
    return line


def _row(week: Week, day: DayHead, row: Row, scale: _Scale, shapes: Shapes) -> Text:
    ground = _ground(week, day, row, scale)
    columns: dict[int, list[Mark]] = {}
    for mark in row.marks:
        columns.setdefault(scale.column(mark.at), []).append(mark)
    line = _label(day)
    cells = [
        _shape(columns[column], shapes)
        if column in columns
        else (shapes.ground[ground[column]], STYLES.get(ground[column], ""))
        for column in range(scale.columns)
    ]
    for style, run in groupby(cells, itemgetter(1)):
        line.append("".join(shape for shape, _ in run), style)
    line.append(f" {_count(row)}", "dim")
    return line


def _ground(week: Week, day: DayHead, row: Row, scale: _Scale) -> list[str]:
    ground = ["paper"] * scale.columns
    last = scale.first + scale.columns * scale.minutes * MINUTE

    def band(start: int, end: int, name: str) -> None:
        """Every column that begins there, and one at least."""
        if end <= scale.first or start >= last:
            return
        low = scale.column(start + scale.minutes * MINUTE - 1) if start > scale.first else 0
        high = scale.column(end - 1)
        for number in range(min(low, high), high + 1):
            ground[number] = name

    band(0, week.day_half, "night")
    band(week.night_half, DAY, "night")
    for start, end in row.quiet:
        band(start, end, "quiet")
    if not day.exists:
        band(0, DAY, "never")
    for twice, name in ((False, "never"), (True, "twice")):
        for start, end in day.stretches(twice=twice):
            band(start, end, name)
    return ground


def _shape(marks: Sequence[Mark], shapes: Shapes) -> tuple[str, str]:
    """What stands for the marks of one column, and its style. What sounds goes before what not."""
    sounding = [mark for mark in marks if not mark.quiet]
    if any(mark.cut for mark in sounding):
        return shapes.cut, "bold red"
    if not sounding:
        return shapes.silent, "dim"
    if len(sounding) > 1:
        number = len(sounding)
        return (str(number) if number <= _MOST_COUNT else shapes.many), "bold"
    (mark,) = sounding
    if len(mark.closings) > 1:
        return shapes.strokes, "bold"
    return (shapes.long if mark.length >= _LONG_NS else shapes.short), "bold"


def _count(row: Row) -> str:
    silent = len(row.marks) - row.sounding
    return " ".join([str(row.sounding)] * bool(row.sounding) + [f"({silent})"] * bool(silent))


# ── what stands below ────────────────────────────────────────────────────────────────────────────


def _key(drawn: set[str], width: int, scale: _Scale, shapes: Shapes) -> Iterator[Text]:
    """What the shapes that are drawn mean, and no others."""
    seconds = _LONG_NS // SECOND
    meanings = {
        shapes.short: f"under {seconds} s",
        shapes.long: f"{seconds} s or longer",
        shapes.strokes: "strokes",
        "2": f"so many within {scale.minutes} min",
        shapes.many: "ten or more",
        shapes.silent: "silenced by a quiet row",
        shapes.cut: "a limit ends it early",
        shapes.ground["night"]: "night half",
        shapes.ground["quiet"]: "quiet row",
        shapes.ground["never"]: "never on the clock",
        shapes.ground["twice"]: "on the clock twice",
    }
    if any(shape.isdigit() for shape in drawn):
        drawn = drawn | {"2"}
    parts = [f"{shape} {words}" for shape, words in meanings.items() if shape in drawn]
    parts.append("at the right the day's soundings (and rings silenced)")
    words = ", ".join(part.replace(" ", _UNBROKEN) for part in parts[:-1])
    words = ", ".join(filter(None, [words, parts[-1]]))
    for line in _wrapped(words, width):
        yield Text(line.replace(_UNBROKEN, " "), "dim")


def _notes(week: Week, width: int) -> Iterator[Text]:
    cut = [*limited(week)]
    first, last = hours(week)
    notes = [(note, "red") for note in cut[:_MOST_NOTES]]
    if len(cut) > _MOST_NOTES:
        notes.append((f"and {len(cut) - _MOST_NOTES} more that a limit ends early", "red"))
    if first > 0:
        notes.append((f"Nothing rings before {first:02d}:00.", "dim"))
    if last < 24:
        notes.append((f"Nothing rings from {last:02d}:00 on.", "dim"))
    notes += [(remark, "") for remark in week.remarks]
    for note, style in notes:
        for line in _wrapped(note, width):
            yield Text(line, style)
