"""What the holidays library knows of countries. It is imported only when a file asks: it is heavy.

A country's list without a subdivision may be nobody's calendar: that of the United Kingdom lacks
Easter Monday and the bank holiday of August, which most of it keeps, each part by its own law. So a
subdivision is required where a holiday that more than half of the subdivisions keep is missing from
the country's own list; found from the library's data of five years. (With version 0.109 these
are AU, BA, CA, CH, DE, ES, GB, MY and SH; not US, whose own list is that of the federal holidays.)
"""

from __future__ import annotations

from collections import Counter
from functools import lru_cache
from typing import NamedTuple

_YEARS = range(2025, 2030)  # long enough that feasts which move and days observed are among them


class Country(NamedTuple):
    """A country of the library."""

    subdivisions: tuple[str, ...]
    by_name: dict[str, str]  # other names of subdivisions → their codes


def country_codes() -> tuple[str, ...]:
    """The two letters of every country that the library knows, in order."""
    from holidays.registry import COUNTRIES

    return tuple(sorted(str(names[1]) for names in COUNTRIES.values()))


@lru_cache(maxsize=8)
def country(code: str) -> Country | None:
    """A country by its two capital letters; None where the library does not know it."""
    from holidays import country_holidays

    if len(code) != 2 or code not in country_codes():
        return None
    known = country_holidays(code)
    return Country(tuple(known.subdivisions), dict(known.subdivisions_aliases))


@lru_cache(maxsize=8)
def needs_subdivision(code: str) -> bool:
    """Whether days that most of the country keeps are missing from its own list (see above)."""
    from holidays import country_holidays

    known = country(code)
    assert known is not None, "asked of known countries only"
    national = set(country_holidays(code, years=_YEARS))
    keep: Counter[object] = Counter()
    for subdivision in known.subdivisions:
        keep.update(set(country_holidays(code, subdiv=subdivision, years=_YEARS)) - national)
    return any(2 * count > len(known.subdivisions) for count in keep.values())
