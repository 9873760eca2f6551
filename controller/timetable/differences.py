"""What another file, or another order, changes of the rings: each by itself, and in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, time
from functools import cache
from itertools import groupby
from operator import attrgetter
from typing import Literal, NamedTuple

from controller.building.civil import SECOND, CivilTime
from controller.building.values import WEEKDAYS, ns_of_day, time_at
from controller.timetable.contact import Closing
from controller.timetable.days import Timetable
from controller.timetable.rings import DAY, Ring

MOST_DAYS = 100
MOST_LINES = 40
_MOST_TEXT = 60  # letters of a ring's text that a line repeats
_MOST_ZONES = 8  # that a line names
_MOST_DATES = 3  # that a line names; more are told by their weekdays
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

Kind = Literal["new", "gone", "changed"]


class Difference(NamedTuple):
    """One ring of one zone that is not as it was. Zone and `written` are its identity."""

    zone: str
    written: str  # local date and time as written, "2026-11-25T08:30:00"
    due: int  # utc, ns; of a ring that is gone, when it was due
    kind: Kind  # changed: other closings, another text, or another instant
    before: tuple[Closing, ...]  # ns from due; () where it is new
    after: tuple[Closing, ...]  # () where it is gone
    says_before: str
    says_after: str
    left_that_day: int  # rings after the change: of its date from the start on, in any zone
    left_in_zone: int  # likewise: of its zone, in the days looked at


# ── each by itself ───────────────────────────────────────────────────────────────────────────────


def differences(
    before: Timetable, after: Timetable, start_utc: int, days: int = 14
) -> tuple[Difference, ...]:
    """Which rings due in [start, start + days of 24 h) are new, gone or changed, by due.

    A ring that a quiet row, the calendar or an order takes away is not due, and so not there.
    """
    assert 0 < days <= MOST_DAYS, "some weeks are looked at"
    end_utc = start_utc + days * DAY
    left = list(after.window(start_utc, end_utc))
    in_zone = Counter(ring.zone for ring in left)

    @cache
    def on_day(written: str) -> int:
        # Not of the window alone, which may end in the middle of a day that goes on ringing.
        rings = after.day(date.fromisoformat(written)).rings
        return sum(ring.due >= start_utc for ring in rings)

    def told(ring: Ring, kind: Kind, was: Ring | None, now: Ring | None) -> Difference:
        return Difference(
            ring.zone,
            ring.written,
            ring.due,
            kind,
            () if was is None else was.closings,
            () if now is None else now.closings,
            "" if was is None else was.says,
            "" if now is None else now.says,
            on_day(ring.written[:10]),
            in_zone[ring.zone],
        )

    unmatched = {(one.zone, one.written): one for one in before.window(start_utc, end_utc)}
    found = []
    for ring in left:
        was = unmatched.pop((ring.zone, ring.written), None)
        if was is None:
            found.append(told(ring, "new", None, ring))
        elif was != ring:
            found.append(told(ring, "changed", was, ring))
    found += [told(ring, "gone", ring, None) for ring in unmatched.values()]
    found.sort(key=attrgetter("due"))  # stable: zones stay in the file's order
    return tuple(found)


# ── in words ─────────────────────────────────────────────────────────────────────────────────────


class _Change(NamedTuple):
    """What is alike of rings that one line tells of."""

    at: str  # "08:30"
    words: str  # "new, 5 s"


def summary(differences: Sequence[Difference], civil: CivilTime) -> list[str]:
    """The differences in lines for people: the same change on many days is one line.

    Days and zones that lose all their rings come first, and their rings are not told again. 40
    lines at most, then how many more there are.
    """
    silent = {one.written[:10] for one in differences if last_of_day(one)}
    lines = [*_silent_days(differences), *_silent_zones(differences, silent)]
    lines += _changes(
        [one for one in differences if not last_of_day(one) and not last_of_zone(one)], civil
    )
    if len(lines) > MOST_LINES:
        return [*lines[:MOST_LINES], f"… and {len(lines) - MOST_LINES} more"]
    return lines


def last_of_day(one: Difference) -> bool:
    """Whether a ring is gone and none is left in any zone on its day."""
    return one.kind == "gone" and one.left_that_day == 0


def last_of_zone(one: Difference) -> bool:
    """Whether a ring is gone and none is left of its zone in the days looked at."""
    return one.kind == "gone" and one.left_in_zone == 0


def _silent_days(differences: Iterable[Difference]) -> Iterator[str]:
    gone = Counter(one.written[:10] for one in differences if last_of_day(one))
    if gone:
        when, since = _dates_words(tuple(gone), "days")
        yield f"{when}{since}: no ring is left in any zone; {_counted(gone.total())} gone"


def _silent_zones(differences: Iterable[Difference], silent: set[str]) -> Iterator[str]:
    """Zones that lose rings on other days than those on which all is silent."""
    gone = Counter(
        one.zone for one in differences if last_of_zone(one) and one.written[:10] not in silent
    )
    if gone:
        names = _zones_words(list(gone))
        yield f"{names}: no ring is left on any of these days; {_counted(gone.total())} gone"


def _changes(differences: Iterable[Difference], civil: CivilTime) -> Iterator[str]:
    """The same change of the same zones on the same dates is one line, by the first of them."""
    dates: dict[tuple[_Change, str], list[str]] = {}
    for one in differences:
        change = _Change(_time_words(one, civil), _change_words(one))
        dates.setdefault((change, one.zone), []).append(one.written[:10])
    zones: dict[tuple[_Change, tuple[str, ...]], list[str]] = {}
    for (change, zone), of_zone in dates.items():
        zones.setdefault((change, tuple(of_zone)), []).append(zone)
    for (change, on), alike in zones.items():
        when, since = _dates_words(on, "times")
        yield f"{when} {change.at} {_zones_words(alike)}: {change.words}{since}"


def _time_words(one: Difference, civil: CivilTime) -> str:
    """ "08:30"; "02:30 (at 03:30)" where the clock never shows the time as written."""
    written = time.fromisoformat(one.written[11:])
    on_the_clock = civil.local_ns(one.due) % DAY
    if on_the_clock == ns_of_day(written):
        return _clock(written)
    return f"{_clock(written)} (at {_clock(time_at(on_the_clock))})"


def _clock(at: time) -> str:
    return at.isoformat("seconds" if at.second else "minutes")


def _change_words(one: Difference) -> str:
    if one.kind == "gone":
        return "gone"
    if one.kind == "new":
        text = f', "{_short(one.says_after)}"' if one.says_after else ""
        return f"new, {closings_words(one.after)}{text}"
    parts = []
    if one.before != one.after:
        was, now = closings_words(one.before), closings_words(one.after)
        parts.append(f"{was} → {now}" if was != now else f"{was}, of other lengths")
    if one.says_before != one.says_after:
        texts = (one.says_before, one.says_after)
        parts.append(" → ".join(f'"{_short(text)}"' if text else "no text" for text in texts))
    return ", ".join(parts) or "at another instant"


def _short(text: str) -> str:
    return text if len(text) <= _MOST_TEXT else text[: _MOST_TEXT - 1] + "…"


def closings_words(closings: Sequence[Closing]) -> str:
    """ "5 s" for one closing, "3 strokes" for more."""
    if len(closings) == 1:
        return f"{(closings[0][1] - closings[0][0]) / SECOND:g} s"
    return f"{len(closings)} strokes"


def _zones_words(zones: Sequence[str]) -> str:
    more = len(zones) - _MOST_ZONES
    return ", ".join(zones[:_MOST_ZONES]) + (f" and {more} more zones" if more > 0 else "")


def _counted(rings: int) -> str:
    return "1 ring is" if rings == 1 else f"{rings} rings are"


def _dates_words(written: Sequence[str], unit: str) -> tuple[str, str]:
    """When, and how often if that is not plain: "Mon–Fri" and ", from Wed 25 Nov (10 times)"."""
    dates = sorted({date.fromisoformat(one) for one in written})
    if len(dates) <= _MOST_DATES:
        return ", ".join(map(date_words, dates)), ""
    weekdays = sorted({day.weekday() for day in dates})
    return weekdays_words(weekdays), f", from {date_words(dates[0])} ({len(dates)} {unit})"


def date_words(day: date) -> str:
    """ "Wed 25 Nov"."""
    return f"{WEEKDAYS[day.weekday()].capitalize()} {day.day} {_MONTHS[day.month - 1]}"


def weekdays_words(weekdays: Sequence[int]) -> str:
    """ "daily", "Mon–Fri", "Mon, Wed": those that follow each other in one, from three on."""
    if len(weekdays) == len(WEEKDAYS):
        return "daily"
    parts: list[str] = []
    for _, following in groupby(enumerate(weekdays), lambda numbered: numbered[1] - numbered[0]):
        run = [WEEKDAYS[weekday].capitalize() for _, weekday in following]
        parts += [f"{run[0]}–{run[-1]}"] if len(run) > 2 else run
    return ", ".join(parts)
