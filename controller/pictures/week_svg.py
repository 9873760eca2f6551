"""A week on one sheet: a lane for each zone, in it a row for each day, time of day to the right.

So days of one plan stand under each other and look alike, and what differs sticks out. A mark's
height is how long it sounds, its pieces are the strokes.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import NamedTuple

from controller.building.civil import HOUR, SECOND
from controller.building.durations import MINUTE
from controller.pictures import sheet as s
from controller.pictures.sheet import Sheet
from controller.pictures.week import (
    DAYS,
    DayHead,
    Lane,
    Mark,
    Row,
    Week,
    clock,
    close_together,
    cut_words,
    hours,
    how_long,
    limited,
)
from controller.timetable.rings import DAY

_HEADS_AT, _HEADS_HIGH = 20.0, 19.0
_LANES_AT = _HEADS_AT + _HEADS_HIGH + 6.5
_KEY_AT = s.HEIGHT - s.MARGIN - 11.0
_MOST_LANES = 13  # in one column; more stand in two
_MOST_LANE = 46.0  # mm
_BETWEEN = 6.0  # columns
_BAR = 0.7  # width of a mark
_LEAST_HIGH = 0.36  # of a row: the shortest mark
_MINUTES = 0.52  # of a row: the size of the minutes beside a mark
_LEAST_MINUTES, _MOST_MINUTES = 1.25, 2.3  # mm: smaller ones are left out
_APART = 0.12  # at least, between two; closer ones are one block
_LEAST_PIECE, _LEAST_REST = 0.3, 0.25  # of strokes
_MOST_NOTES = 3


class _Frame(NamedTuple):
    """Where a column's lanes stand, and what they show."""

    names_at: float
    days_at: float
    left: float
    right: float
    row: float  # height
    lane: float  # height, with what is below it
    first: int  # ns of the local day
    last: int
    full: int  # ns of sounding that make a mark of full height

    def x(self, at: int) -> float:
        """Where a time of the local day stands."""
        share = (min(max(at, self.first), self.last) - self.first) / (self.last - self.first)
        return self.left + share * (self.right - self.left)


def week_svg(week: Week) -> str:
    """The sheet as SVG."""
    name = week.building or "The building"
    sheet = Sheet("week", f"{name}: {week.title}", _described(week))
    sheet.text(s.MARGIN, 16.0, week.title, 6.2, bold=True)
    sheet.text(s.WIDTH - s.MARGIN, 16.0, name, 4.6, anchor="end", room=130)
    _heads(sheet, week)
    columns = 1 if len(week.lanes) <= _MOST_LANES else 2
    each = -(-len(week.lanes) // columns)
    for column in range(columns):
        lanes = week.lanes[column * each : (column + 1) * each]
        frame = _frame(week, column, columns, each)
        _ruler(sheet, week, frame, len(lanes))
        for number, lane in enumerate(lanes):
            _lane(sheet, week, lane, frame, _LANES_AT + number * frame.lane)
    _foot(sheet, week)
    return sheet.xml()


def _frame(week: Week, column: int, columns: int, each: int) -> _Frame:
    wide = (s.WIDTH - 2 * s.MARGIN - (columns - 1) * _BETWEEN) / columns
    at = s.MARGIN + column * (wide + _BETWEEN)
    names, days, counts = (31.0, 16.0, 9.0) if columns == 1 else (17.0, 13.0, 6.0)
    lane = min((_KEY_AT - 3.0 - _LANES_AT) / each, _MOST_LANE)
    first, last = hours(week)
    longest = max((mark.length for mark in week.marks), default=SECOND)
    return _Frame(
        at,
        at + names,
        at + names + days,
        at + wide - counts,
        (lane - min(2.2, lane * 0.07)) / DAYS,
        lane,
        first * HOUR,
        last * HOUR,
        max(longest, SECOND),
    )


# ── the days ─────────────────────────────────────────────────────────────────────────────────────


def _heads(sheet: Sheet, week: Week) -> None:
    wide = (s.WIDTH - 2 * s.MARGIN) / DAYS
    for number, day in enumerate(week.days):
        _head(sheet, day, s.MARGIN + number * wide, wide - 1.2)


def _head(sheet: Sheet, day: DayHead, x: float, wide: float) -> None:
    thick = 0.6 if day.departs or day.changes or not day.exists else 0.2
    back = s.TINT if day.departs else s.PAPER
    sheet.rect(x, _HEADS_AT, wide, _HEADS_HIGH, back, stroke=s.INK, thick=thick)
    _swatch(sheet, day, x + wide - 9.4, _HEADS_AT + 1.2, 8.2, 5.2)
    sheet.text(
        x + 1.6, _HEADS_AT + 5.2, f"{day.date:%a} {day.date.day} {day.date:%b}", 3.8, bold=True
    )
    room = wide - 3.0
    sheet.text(x + 1.6, _HEADS_AT + 9.3, day.plan, 2.8, room=room)
    below = _HEADS_AT + 12.6
    notes = [(change.words, s.WARN) for change in day.changes if day.exists]
    if day.why:
        notes.append((day.why, s.INK))
    lines = [
        (line, ink) for words, ink in notes for line in s.wrapped(words, s.letters_in(room, 2.4), 2)
    ]
    for line, ink in lines[:3]:
        sheet.text(x + 1.6, below, line, 2.4, fill=ink)
        below += 2.7


def _swatch(sheet: Sheet, day: DayHead, x: float, y: float, wide: float, high: float) -> None:
    """A day's letter on the fill of its plan, on a plaque where the fill has lines."""
    fill = sheet.plan_fill(day.sign.place) if day.exists else sheet.fill("never")
    sheet.rect(x, y, wide, high, fill, stroke=s.INK, thick=0.15)
    size = high * 0.74
    plaque = size * 0.78 * len(day.sign.letter)
    sheet.rect(x + (wide - plaque) / 2, y + high * 0.13, plaque, high * 0.74, s.PAPER)
    sheet.text(x + wide / 2, y + high * 0.77, day.sign.letter, size, bold=True, anchor="middle")


# ── the lanes ────────────────────────────────────────────────────────────────────────────────────


def _ruler(sheet: Sheet, week: Week, frame: _Frame, lanes: int) -> None:
    """Hours above, and lines of hours through all lanes, stronger where the halves begin."""
    y = _LANES_AT - 1.6
    step = 1 if (frame.right - frame.left) * HOUR / (frame.last - frame.first) > 5.5 else 3
    for at in range(frame.first, frame.last + 1, step * HOUR):
        sheet.text(frame.x(at), y, f"{at // HOUR:02d}", 2.6, anchor="middle", fill=s.PALE_INK)


def _lane(sheet: Sheet, week: Week, lane: Lane, frame: _Frame, top: float) -> None:
    high = frame.row * DAYS
    size = min(3.6, frame.lane * 0.26)
    room = frame.days_at - frame.names_at - 1.5
    sheet.text(frame.names_at, top + size * 0.95, lane.zone, size, bold=True, room=room)
    small = min(2.7, frame.lane * 0.2)
    most = int((high - size * 1.2) / (small * 1.2))
    for number, line in enumerate(s.wrapped(lane.title, s.letters_in(room, small), max(most, 1))):
        sheet.text(frame.names_at, top + size * 0.95 + (number + 1) * small * 1.25, line, small)
    for number, (day, row) in enumerate(zip(week.days, lane.rows, strict=True)):
        _ground(sheet, week, day, row, frame, top + number * frame.row)
    for at in range(frame.first, frame.last + 1, HOUR):
        half = at in (week.day_half, week.night_half)
        ink, thick = (s.PALE_INK, 0.3) if half else (s.RULE, 0.12)
        sheet.path(f"M{frame.x(at):.2f},{top:.2f}v{high:.2f}", ink, thick)
    for number, (day, row) in enumerate(zip(week.days, lane.rows, strict=True)):
        y = top + number * frame.row
        if number:
            sheet.path(f"M{frame.left:.2f},{y:.2f}H{frame.right:.2f}", s.RULE, 0.08)
        groups = close_together(row.marks, _apart(frame))
        for group in groups:
            _group(sheet, lane, day, group, frame, y)
        if not number or not _alike(row, lane.rows[number - 1]):
            _minutes(sheet, groups, frame, y)
        _count(sheet, row, frame, y)
    sheet.rect(frame.left, top, frame.right - frame.left, high, stroke=s.INK, thick=0.25)


def _apart(frame: _Frame) -> int:
    return int((_BAR + _APART) / (frame.right - frame.left) * (frame.last - frame.first))


def _ground(sheet: Sheet, week: Week, day: DayHead, row: Row, frame: _Frame, y: float) -> None:
    """What lies below a row's marks: its day, night and quiet halves, a clock change."""

    def band(start: int, end: int, fill: str) -> None:
        left, right = frame.x(start), frame.x(end)
        if right > left:
            sheet.rect(left, y, right - left, frame.row, fill)

    if day.departs:
        band(week.day_half, week.night_half, s.TINT)
    for start, end in ((0, week.day_half), (week.night_half, DAY)):
        band(start, end, s.NIGHT_TINT if day.departs else s.NIGHT)
    for start, end in row.quiet:
        band(start, end, sheet.fill("quiet"))
    if not day.exists:
        band(0, DAY, sheet.fill("never"))
    for twice, fill in ((False, "never"), (True, "twice")):
        for start, end in day.stretches(twice=twice):
            band(start, end, sheet.fill(fill))
    size = min(2.6, frame.row * 1.15)  # nothing in these words reaches below the line
    base = y + frame.row / 2 + size * 0.36
    if day.departs or not day.exists:
        sheet.rect(frame.days_at - 0.5, y, frame.left - frame.days_at + 0.5, frame.row, s.TINT)
    sheet.text(frame.days_at, base, f"{day.date:%a}", size, bold=day.departs)
    sheet.text(frame.left - 5.6, base, f"{day.date.day}", size, anchor="end")
    sheet.text(frame.left - 1.0, base, day.sign.letter, size, bold=True, anchor="end")


def _alike(one: Row, other: Row) -> bool:
    """Whether two days of a zone look the same."""
    kept = [[(mark.at, mark.closings, mark.quiet == "") for mark in r.marks] for r in (one, other)]
    return kept[0] == kept[1]


def _minutes(sheet: Sheet, groups: Sequence[Sequence[Mark]], frame: _Frame, y: float) -> None:
    """The minutes past the hour beside each mark, where there is room to its right or its left.

    Only for a day that is not like the one above it: what is alike is told once.
    """
    size = min(frame.row * _MINUTES, _MOST_MINUTES)
    if size < _LEAST_MINUTES or not groups:
        return
    need = size * 1.28 + 0.2
    taken = frame.left - need
    ends = [frame.x(group[-1].at) + _BAR / 2 for group in groups]
    starts = [*(frame.x(group[0].at) - _BAR / 2 for group in groups[1:]), frame.right]
    for group, end, following in zip(groups, ends, starts, strict=True):
        start = frame.x(group[0].at) - _BAR / 2
        words = f"{group[0].at // MINUTE % 60:02d}"
        if len(group) == 1 and following - end >= need:
            sheet.text(end + 0.2, y + size * 0.9, words, size, fill=s.PALE_INK)
            end += need
        elif len(group) == 1 and start - taken >= need:
            sheet.text(start - 0.2, y + size * 0.9, words, size, anchor="end", fill=s.PALE_INK)
        taken = end


def _count(sheet: Sheet, row: Row, frame: _Frame, y: float) -> None:
    """How many soundings the row has; in brackets, how many are silenced."""
    size = min(2.4, frame.row * 1.05)
    silent = len(row.marks) - row.sounding
    words = " ".join([str(row.sounding)] * bool(row.sounding) + [f"({silent})"] * bool(silent))
    sheet.text(frame.right + 1.0, y + frame.row / 2 + size * 0.36, words, size, fill=s.PALE_INK)


# ── marks ────────────────────────────────────────────────────────────────────────────────────────


def _group(
    sheet: Sheet, lane: Lane, day: DayHead, group: Sequence[Mark], frame: _Frame, y: float
) -> None:
    says = f"{lane.zone}, {day.date:%a} {day.date.day} {day.date:%b}: {_group_words(group)}"
    x, base = frame.x(group[0].at), y + frame.row * 0.94
    full = frame.row * 0.86
    if len(group) == 1:
        _mark(sheet, group[0], x, base, full, frame.full, says)
    else:
        wide = max(frame.x(group[-1].at) - x, _BAR) + _BAR
        many = sheet.fill("silent-many" if group[0].quiet else "many")
        ink = s.SOUND
        sheet.rect(x - _BAR / 2, base - full, wide, full, many, stroke=ink, thick=0.15, says=says)
        if wide > 3.5 and full > 1.6:
            high = min(full * 0.7, 2.4)
            room = high * 0.62 * len(str(len(group))) + 0.6
            sheet.rect(x + 0.4, base - full + (full - high) / 2, room, high, s.PAPER)
            sheet.text(x + 0.7, base - full / 2 + high * 0.36, str(len(group)), high, bold=True)
    if any(mark.cut for mark in group):
        arm = min(0.7, full * 0.3)
        _cross(sheet, x, base - full + arm, arm)


def _cross(sheet: Sheet, x: float, y: float, arm: float) -> None:
    path = f"M{x - arm:.2f},{y - arm:.2f}l{2 * arm:.2f},{2 * arm:.2f}m0,{-2 * arm:.2f}"
    sheet.path(f"{path}l{-2 * arm:.2f},{2 * arm:.2f}", s.WARN, 0.35)


def _mark(
    sheet: Sheet, mark: Mark, x: float, base: float, full: float, full_ns: int, says: str
) -> None:
    """One bar in as many pieces as it has strokes, where so many can be told apart."""
    pieces = max(len(mark.closings), 1)
    pieces = min(pieces, int((full + _LEAST_REST) / (_LEAST_PIECE + _LEAST_REST)) or 1)
    needed = pieces * (_LEAST_PIECE + _LEAST_REST) - _LEAST_REST
    high = max(full * sqrt(min(mark.length / full_ns, 1.0)), full * _LEAST_HIGH, needed)
    piece = (high - (pieces - 1) * _LEAST_REST) / pieces
    feet = (base - number * (piece + _LEAST_REST) for number in range(pieces))
    left, outline = x - _BAR / 2, f"h{_BAR:g}v{-piece:.2f}h{-_BAR:g}z"
    path = "".join(f"M{left:.2f},{foot:.2f}{outline}" for foot in feet)
    if mark.quiet:
        sheet.path(path, s.SOUND, 0.16, fill=s.PAPER, says=says)
    else:
        sheet.path(path, fill=s.SOUND, says=says)


def _group_words(group: Sequence[Mark]) -> str:
    if len(group) > 1:
        kind = "silenced rings" if group[0].quiet else "soundings"
        return f"{len(group)} {kind}, {clock(group[0].at)} to {clock(group[-1].at)}"
    mark = group[0]
    words = f"{clock(mark.at)}, {cut_words(mark) if mark.cut else how_long(mark)}"
    if mark.says:
        words += f", {mark.says}"
    return f"{words}; silenced by the quiet row {mark.quiet}" if mark.quiet else words


# ── the foot ─────────────────────────────────────────────────────────────────────────────────────


def _foot(sheet: Sheet, week: Week) -> None:
    """The key, and what is to be said of this week."""
    longest = max((mark.length for mark in week.marks), default=SECOND)
    y, x, size = _KEY_AT + 1.0, s.MARGIN, 2.5
    base = y + 2.6
    for number, share in enumerate((_LEAST_HIGH, 0.65, 1.0)):
        sheet.rect(x + number * 1.2, base - 2.8 * share, _BAR, 2.8 * share, s.SOUND)
    words = f"a sounding: the longer the taller, up to {longest / SECOND:g} s"
    x = _key_words(sheet, x + 4.6, base, words, size)
    for number in range(3):
        sheet.rect(x, base - 2.8 + number, _BAR, 0.75, s.SOUND)
    x = _key_words(sheet, x + 2, base, "strokes", size)
    sheet.rect(x, base - 2.8, 3.2, 2.8, sheet.fill("many"), stroke=s.SOUND, thick=0.15)
    x = _key_words(sheet, x + 4.4, base, "several, close together", size)
    sheet.rect(x - 0.3, base - 3.1, 5.0, 3.4, sheet.fill("quiet"))
    sheet.rect(x + 2, base - 2.6, _BAR, 2.6, s.PAPER, stroke=s.SOUND, thick=0.16)
    x = _key_words(sheet, x + 6, base, "silenced by a quiet row", size)
    sheet.rect(x, base - 2.8, 4, 2.8, s.NIGHT, stroke=s.RULE, thick=0.12)
    x = _key_words(sheet, x + 5, base, "night half", size)
    if any(day.departs for day in week.days):
        sheet.rect(x, base - 2.8, 4, 2.8, s.TINT, stroke=s.INK, thick=0.45)
        x = _key_words(sheet, x + 5, base, "not the usual day", size)
    if any(day.changes or not day.exists for day in week.days):
        for name, words in (("never", "never on the clock"), ("twice", "on it twice")):
            sheet.rect(x, base - 2.8, 4, 2.8, sheet.fill(name), stroke=s.WARN, thick=0.12)
            x = _key_words(sheet, x + 5, base, words, size)
    if any(mark.cut for mark in week.marks):
        _cross(sheet, x + 0.7, base - 1.8, 0.7)
        x = _key_words(sheet, x + 2.4, base, "a limit ends it early", size)
    room = s.letters_in(s.WIDTH - 2 * s.MARGIN, size)
    for number, line in enumerate(s.wrapped(_notes(week), room, 2)):
        sheet.text(s.MARGIN, base + 4.4 + number * 3.2, line, size, fill=s.PALE_INK)


def _key_words(sheet: Sheet, x: float, y: float, words: str, size: float) -> float:
    sheet.text(x, y, words, size)
    return x + len(words) * size * 0.5 + 4.0


def _notes(week: Week) -> str:
    cut = [*limited(week)]
    parts = cut[:_MOST_NOTES]
    if len(cut) > _MOST_NOTES:
        parts.append(f"and {len(cut) - _MOST_NOTES} more that a limit ends early (×)")
    first, last = hours(week)
    if first > 0:
        parts.append(f"nothing rings before {first:02d}:00")
    if last < 24:
        parts.append(f"nothing rings from {last:02d}:00 on")
    return "; ".join([f"Times of {week.timezone}", *parts]) + ". " + " ".join(week.remarks)


def _described(week: Week) -> str:
    """The week in words, for those who do not see it."""
    parts = []
    for number, day in enumerate(week.days):
        words = f"{day.date:%A} {day.date.day} {day.date:%B}: {day.plan}"
        words += f" ({day.why})" if day.why else ""
        words += "".join(f", {change.words}" for change in day.changes if day.exists)
        counts = []
        for lane in week.lanes:
            row = lane.rows[number]
            silent = len(row.marks) - row.sounding
            if row.marks:
                counts.append(
                    f"{lane.zone} {row.sounding}" + (f" and {silent} silenced" if silent else "")
                )
        parts.append(f"{words}; soundings: {', '.join(counts) or 'none'}.")
    return " ".join(parts)
