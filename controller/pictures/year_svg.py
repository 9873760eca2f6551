"""A year on one sheet: a row for each month, the weekdays under each other; below, what departs."""

from __future__ import annotations

from controller.pictures import sheet as s
from controller.pictures.plans import NO_DATE
from controller.pictures.sheet import Sheet
from controller.pictures.year import MONTHS, Notice, Year, YearDay

_NAMES = 19.0  # of the months
_COLUMNS = 37  # a month of 31 days that begins on a Sunday
_TOP, _WEEKDAYS_AT = 24.5, 22.8
_ROW = 8.6
_KEY_AT = _TOP + MONTHS * _ROW + 5.5
_KEY_LINE = 5.6
_MOST_KEY = 44  # letters
_SIZES = ((2, 2.7), (3, 2.5), (4, 2.1), (5, 1.75))  # columns of the list, size of its letters
_LEADING = 1.42  # from line to line, of that size


def year_svg(year: Year) -> str:
    """The sheet as SVG."""
    name = year.building or "The building"
    sheet = Sheet("year", f"{name}: {year.title}", _described(year))
    sheet.text(s.MARGIN, 16.0, year.title, 6.2, bold=True)
    sheet.text(s.WIDTH - s.MARGIN, 16.0, name, 4.6, anchor="end", room=130)
    wide = (s.WIDTH - 2 * s.MARGIN - _NAMES) / _COLUMNS
    left = s.MARGIN + _NAMES
    for column in range(_COLUMNS):
        weekday = "MTWTFSS"[column % 7]
        x = left + (column + 0.5) * wide
        sheet.text(x, _WEEKDAYS_AT, weekday, 2.5, anchor="middle", fill=s.PALE_INK)
    for number, month in enumerate(year.months):
        top = _TOP + number * _ROW
        first = month[0].date
        sheet.text(s.MARGIN, top + _ROW * 0.62, f"{first:%b} {first.year}", 3.3, bold=True)
        for day in month:
            column = first.weekday() + day.date.day - 1
            _day(sheet, day, left + column * wide, top, wide)
    for column in range(7, _COLUMNS, 7):
        x = left + column * wide
        sheet.path(f"M{x:.2f},{_TOP:.2f}v{MONTHS * _ROW:.2f}", s.PALE_INK, 0.25)
    _list(sheet, year, _key(sheet, year))
    return sheet.xml()


def _day(sheet: Sheet, day: YearDay, x: float, y: float, wide: float) -> None:
    fill = sheet.plan_fill(day.sign.place) if day.exists else sheet.fill("never")
    says = f"{day.date:%a} {day.date.day} {day.date:%b} {day.date.year}: {day.plan}"
    says += f", {day.why}" if day.why else ""
    says += "".join(f", {change.words}" for change in day.changes if day.exists)
    high = _ROW - 0.5
    sheet.rect(x, y, wide, high, fill, stroke=s.RULE, thick=0.15, says=says)
    sheet.rect(x + 0.35, y + 0.35, wide - 0.7, 2.6, s.PAPER)
    number = f"{day.date.day}"
    sheet.text(x + 0.7, y + 2.45, number, 2.3, bold=day.departs, fill=s.INK)
    _letter(sheet, day, x + wide / 2, y + high - 1.2)
    if day.departs or not day.exists:
        inset = 0.3
        sheet.rect(
            x + inset, y + inset, wide - 2 * inset, high - 2 * inset, stroke=s.INK, thick=0.55
        )
    for change in day.changes:
        if day.exists:
            _arrow(sheet, x + wide - 1.6, y + 1.7, onward=change.after > change.before)


def _letter(sheet: Sheet, day: YearDay, middle: float, base: float) -> None:
    size = 3.4 if len(day.sign.letter) < 3 else 2.4
    if day.sign.place is not None:
        wide = size * 0.75 * len(day.sign.letter)
        sheet.rect(middle - wide / 2, base - size * 0.82, wide, size * 0.95, s.PAPER)
    sheet.text(middle, base, day.sign.letter, size, bold=True, anchor="middle")


def _arrow(sheet: Sheet, x: float, y: float, *, onward: bool) -> None:
    """The clock goes on: to the right; back: to the left."""
    reach = 0.9 if onward else -0.9
    sheet.path(
        f"M{x - reach:.2f},{y - 0.9:.2f}l{2 * reach:.2f},0.9l{-2 * reach:.2f},0.9z", fill=s.WARN
    )


# ── below ────────────────────────────────────────────────────────────────────────────────────────


def _key(sheet: Sheet, year: Year) -> float:
    """Each plan's letter, fill and name, and on how many dates it is; where the next thing goes."""
    x, y, size = s.MARGIN, _KEY_AT, 2.7
    plans = year.plans
    for number, (plan, sign, dates) in enumerate(plans):
        words = s.shortened(f"{plan}, {dates}", _MOST_KEY)
        wide = 8.8 + len(words) * size * 0.56
        if x + wide > s.WIDTH - s.MARGIN:
            x, y = s.MARGIN, y + _KEY_LINE
        if y > _KEY_AT + _KEY_LINE:
            sheet.text(s.MARGIN, y - 1.0, f"and {len(plans) - number} more plans", size)
            break
        fill = sheet.plan_fill(sign.place) if sign.letter != NO_DATE else sheet.fill("never")
        sheet.rect(x, y - 3.6, 7.6, 4.6, fill, stroke=s.INK, thick=0.15)
        plaque = 3.2 * 0.75 * len(sign.letter)
        sheet.rect(x + 3.8 - plaque / 2, y - 2.7, plaque, 3.0, s.PAPER)
        sheet.text(x + 3.8, y - 0.1, sign.letter, 3.2, bold=True, anchor="middle")
        sheet.text(x + 8.8, y, words, size)
        x += wide + 4.0
    return y + 5.6


def _list(sheet: Sheet, year: Year, top: float) -> None:
    """What departs, in as many columns as it takes; what has no room is counted."""
    bottom = s.HEIGHT - s.MARGIN - (3.2 if year.remarks else 0.0)
    columns, size = next(
        (one for one in _SIZES if len(year.notices) <= one[0] * _lines(top, bottom, one[1])),
        _SIZES[-1],
    )
    room = columns * _lines(top, bottom, size)
    shown = year.notices if len(year.notices) <= room else year.notices[: room - 1]
    lines = -(-min(len(year.notices), room) // columns)
    wide = (s.WIDTH - 2 * s.MARGIN) / columns
    for number, notice in enumerate(shown):
        column, line = divmod(number, lines)
        x, y = s.MARGIN + column * wide, top + line * size * _LEADING
        _notice(sheet, notice, x, y, size, wide - 3.0)
    if len(shown) < len(year.notices):
        x, y = s.MARGIN + (columns - 1) * wide, top + (lines - 1) * size * _LEADING
        sheet.text(x, y, f"and {len(year.notices) - len(shown)} more", size, bold=True)
    remarks = " ".join(year.remarks)
    wide = s.WIDTH - 2 * s.MARGIN
    sheet.text(s.MARGIN, s.HEIGHT - s.MARGIN, remarks, 2.2, fill=s.PALE_INK, room=wide)


def _lines(top: float, bottom: float, size: float) -> int:
    return int((bottom - top) / (size * _LEADING)) + 1


def _notice(sheet: Sheet, notice: Notice, x: float, y: float, size: float, room: float) -> None:
    """The dates bold, then the words."""
    dates = notice.when
    reach = size * 9.4
    sheet.text(x, y, dates, size, bold=True, room=max(reach, room * 0.45))
    indent = max(reach, len(dates) * size * 0.62 + 1.0)
    indent = min(indent, room * 0.55)
    if notice.sign is None:
        _arrow(sheet, x + indent, y - size * 0.35, onward="on" in notice.words.split()[:3])
    sheet.text(
        x + indent + (2.0 if notice.sign is None else 0),
        y,
        notice.words,
        size,
        fill=s.WARN if notice.sign is None else s.INK,
        room=room - indent,
    )


def _described(year: Year) -> str:
    """The year in words, for those who do not see it."""
    plans = ", ".join(f"{plan} on {dates} dates" for plan, _, dates in year.plans)
    notices = "".join(f" {one.when}: {one.words}." for one in year.notices)
    return f"{plans}.{notices}"
