"""Cross-checks of the keeper's tables: time zone, halves, quiet rows, week, calendar, holidays."""

from __future__ import annotations

import re
import zoneinfo
from collections.abc import Iterator
from typing import Any

from controller.building.countries import country, country_codes, needs_subdivision
from controller.building.draft import Draft
from controller.building.entries import Entry, judged
from controller.building.faults import Fault, nearest, not_known, shown
from controller.building.installed import Premises
from controller.building.kept import CalendarEntry, Halves, Holidays, ImportRule
from controller.building.values import NO_RINGS, USUAL, WEEKDAYS

_ZONE_NAME = re.compile(r"[A-Za-z0-9_+-]{1,30}(?:/[A-Za-z0-9_+-]{1,30}){0,3}")
# Not IANA names: the machine's own zone, and rules that count leap seconds, as POSIX time does not.
_NOT_IANA = ("localtime", "posixrules", "Factory", "right", "posix")


def timetable_faults(draft: Draft) -> list[Fault]:
    """All faults of dates and weekdays, as far as their tables are sound."""
    faults = judged(_time_zone(draft.premises)) + judged(_halves_in_order(draft.halves))
    for zone, row in draft.quiet.items():
        faults += zone_of_row(row, zone, draft)
    for weekday in WEEKDAYS:
        faults += judged(_plan_of_weekday(weekday, draft))
    for entry in draft.calendar:
        faults += judged(_one_date_or_range(entry))
        faults += judged(_first_before_last(entry))
        faults += judged(_plan_of_dates(entry, draft))
    for rule in draft.imports:
        faults += judged(_some_event_named(rule))
        faults += judged(_plan_of_dates(rule, draft))
    if draft.holidays is not None:
        faults += judged(_plan_of_dates(draft.holidays, draft))
        faults += judged(_country(draft.holidays))
    return faults


# ── time ─────────────────────────────────────────────────────────────────────────────────────────


def _time_zone(premises: Entry[Premises]) -> Iterator[Fault]:
    key = premises.value.timezone
    if _is_time_zone(key):
        return
    meant = _nearest_time_zone(key)
    hint = f'did you mean "{meant}"?' if meant else 'expected an IANA name, such as "Europe/Oslo"'
    yield premises.fault("timezone", f"there is no such time zone; {hint}")


def _is_time_zone(key: str) -> bool:
    if _ZONE_NAME.fullmatch(key) is None or key.partition("/")[0] in _NOT_IANA:
        return False
    try:
        zoneinfo.ZoneInfo.no_cache(key)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def _nearest_time_zone(key: str) -> str | None:
    """The time zone that was probably meant: by its whole name, or by its place alone."""
    known = sorted(zoneinfo.available_timezones())
    if any(name.startswith(f"{key}/") for name in known):
        return None  # a continent, and nobody knows which place in it
    by_place = {name.rpartition("/")[2]: name for name in known}
    place = nearest(key.rpartition("/")[2], by_place)
    return nearest(key, known) or (by_place[place] if place else None)


def _halves_in_order(halves: Entry[Halves]) -> Iterator[Fault]:
    day, night = halves.value.day, halves.value.night
    if day >= night:
        key = "night" if "night" in halves.raw else "day"
        words = f"expected the day ({day:%H:%M}) to begin before the night ({night:%H:%M})"
        yield halves.fault(key, words)


# ── names ────────────────────────────────────────────────────────────────────────────────────────


def zone_of_row(row: Entry[Any], zone: str, draft: Draft) -> list[Fault]:
    """A table whose keys are zones names one that is not there."""
    if zone in draft.zones or not draft.whole:
        return []
    return [row.fault(zone, not_known("zone", zone, draft.zones))]


def _plan_of_weekday(weekday: str, draft: Draft) -> Iterator[Fault]:
    plan = getattr(draft.week.value, weekday)
    if plan == USUAL:
        words = f'"{USUAL}" means week and tape, so it cannot stand in the week itself'
        yield draft.week.fault(weekday, f"{words}; expected a plan's name")
    elif plan is not None:
        yield from _plan_known(draft.week, weekday, plan, draft)


def _plan_of_dates(
    entry: Entry[CalendarEntry] | Entry[ImportRule] | Entry[Holidays], draft: Draft
) -> Iterator[Fault]:
    plan = entry.value.plan
    if plan != USUAL:
        yield from _plan_known(entry, "plan", plan, draft)


def _plan_known(entry: Entry[Any], key: str, plan: str, draft: Draft) -> Iterator[Fault]:
    if plan != NO_RINGS and plan not in draft.plans and draft.whole:
        yield entry.fault(key, not_known("plan", plan, (*draft.plans, NO_RINGS)))


# ── dates ────────────────────────────────────────────────────────────────────────────────────────


def _one_date_or_range(entry: Entry[CalendarEntry]) -> Iterator[Fault]:
    given = [key for key in ("on", "from", "until") if key in entry.raw]
    if given in (["on"], ["from", "until"]):
        return
    expected = "expected either on, or both from and until"
    if not given:
        yield entry.fault("", f"has no date; {expected}")
    elif "on" in given:
        yield entry.fault("on", f"stands beside {' and '.join(given[1:])}; {expected}")
    else:
        yield entry.fault(given[0], f"stands alone; {expected}")


def _first_before_last(entry: Entry[CalendarEntry]) -> Iterator[Fault]:
    first, last = entry.value.from_, entry.value.until
    if first is not None and last is not None and first > last:
        yield entry.fault("until", f"is before from ({first}); expected that date or a later one")


def _some_event_named(rule: Entry[ImportRule]) -> Iterator[Fault]:
    if not (rule.value.categories or rule.value.words):
        yield rule.fault("", "fits no event; expected categories, words, or both")


# ── public holidays ──────────────────────────────────────────────────────────────────────────────


def _country(holidays: Entry[Holidays]) -> Iterator[Fault]:
    code = holidays.value.country
    known = country(code)
    if known is None:
        codes = country_codes()
        hint = (
            f'did you mean "{code.upper()}"?'
            if code.upper() in codes
            else ('expected two capital letters as in ISO 3166-1, such as "CA"')
        )
        yield holidays.fault("country", f"the holidays library knows no such country; {hint}")
        return
    subdivision = holidays.value.subdivision
    listed = ", ".join(known.subdivisions)
    if subdivision is None:
        if needs_subdivision(code):
            words = (
                f"is required, for the list of {code} as a whole lacks days that most of it keeps"
            )
            yield holidays.fault("subdivision", f"{words}; expected one of {listed}")
    elif subdivision not in known.subdivisions:
        meant = known.by_name.get(subdivision) or nearest(subdivision, known.subdivisions)
        if not known.subdivisions:
            words = f"the holidays library knows none in {code}; expected no subdivision"
        elif meant is not None:
            words = f"there is no such subdivision in {code}; did you mean {shown(meant)}?"
        else:
            words = f"there is no such subdivision in {code}; expected one of {listed}"
        yield holidays.fault("subdivision", words)
