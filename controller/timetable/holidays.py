"""Public holidays, observed days included, from the general-purpose `holidays` library.

The library is imported at the first question: it costs memory that a building without public
holidays need not pay. It holds rules for every year, so nothing is fetched.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import lru_cache
from importlib.metadata import version

from controller.timetable.rings import joined


@lru_cache(maxsize=16)
def public_holidays(country: str, subdivision: str | None, year: int) -> Mapping[date, str]:
    """The public holidays that fall in `year`, with their names.

    A day on which a holiday of another year is observed belongs to the year it falls in: in the
    United States 2027-12-31, for New Year's Day 2028. Raises `NotImplementedError` where the
    library does not know the country or its subdivision (the file is checked for that).
    """
    from holidays import country_holidays  # late: see above

    known = country_holidays(country, subdiv=subdivision, years=year)
    return {day: joined(known.get_list(day)) for day in sorted(known) if day.year == year}


def library_version() -> str:
    """The version of the holidays library: a newer one can move days."""
    return version("holidays")
