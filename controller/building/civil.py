"""Civil time: between the building's local time and the world's.

Rules: a written local time that does not exist is read with the offset before the gap; one that
occurs twice is its first occurrence (RFC 5545 §3.3.5; `zoneinfo` with fold=0 gives exactly these).
A date that no clock ever showed (Pacific/Apia, 30 December 2011) does not exist.
Instants are integer nanoseconds since 1970-01-01T00:00:00Z, leap seconds not counted (POSIX).
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

SECOND = 1_000_000_000
HOUR = 3600 * SECOND
DAY_SECONDS = 86_400
YEARS = (1970, 2199)  # of a local time that a person writes: after the first, up to the last
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_CACHE_HOURS = 50_000  # some six years of hours; then the cache starts anew


def utc_ns(moment: datetime) -> int:
    """Nanoseconds since the epoch of an aware datetime, exact to its microsecond."""
    assert moment.tzinfo is not None, "a naive datetime is not an instant"
    since = moment - _EPOCH
    return (since.days * DAY_SECONDS + since.seconds) * SECOND + since.microseconds * 1000


class CivilTime:
    """The local time of one IANA zone. Offsets are remembered by the hour, so it is quick.

    It holds rules of its own, read when it was made: a reload after new zone data makes another.
    """

    def __init__(self, key: str) -> None:
        """Raise `zoneinfo.ZoneInfoNotFoundError` where the zone is unknown."""
        self.key = key
        self.zone = ZoneInfo.no_cache(key)
        self._offset_by_hour: dict[int, int] = {}

    def offset_seconds(self, utc: int) -> int:
        """Seconds to add to UTC for local time, at the instant `utc` (ns)."""
        hour = utc // HOUR
        offset = self._offset_by_hour.get(hour)
        if offset is not None:
            return offset
        first = self._read_offset(hour * 3600)
        if first != self._read_offset(hour * 3600 + 3599):  # a change within this hour
            return self._read_offset(utc // SECOND)
        if len(self._offset_by_hour) >= _CACHE_HOURS:
            self._offset_by_hour.clear()
        self._offset_by_hour[hour] = first
        return first

    def _read_offset(self, utc_seconds: int) -> int:
        local = (_EPOCH + timedelta(seconds=utc_seconds)).astimezone(self.zone)
        delta = local.utcoffset()
        assert delta is not None
        return delta.days * DAY_SECONDS + delta.seconds

    def local_ns(self, utc: int) -> int:
        """Local time at `utc` as nanoseconds since 1970-01-01 on the local clock face."""
        return utc + self.offset_seconds(utc) * SECOND

    def date_at(self, utc: int) -> date:
        """The local date at `utc` (ns)."""
        return date.fromordinal(719_163 + self.local_ns(utc) // (DAY_SECONDS * SECOND))

    def aware(self, utc: int) -> datetime:
        """The aware local datetime at `utc` (ns), cut to its microsecond."""
        return (_EPOCH + timedelta(microseconds=utc // 1000)).astimezone(self.zone)

    def instant(self, local: datetime) -> int:
        """The instant (ns) of a local time as written (naive), by RFC 5545 §3.3.5."""
        assert local.tzinfo is None, "a time as written carries no offset"
        first = utc_ns(local.replace(tzinfo=self.zone, fold=0))
        second = utc_ns(local.replace(tzinfo=self.zone, fold=1))
        # `zoneinfo` sees a fold that never was where a slim zone file's last rule begins
        # (America/Nuuk, 28 October 2023): there only the second is what the clock shows.
        if first != second and not self._shows(first, local) and self._shows(second, local):
            return second
        return first

    def _shows(self, utc: int, local: datetime) -> bool:
        return self.aware(utc).replace(tzinfo=None, fold=0) == local

    def instant_of(self, text: str) -> int:
        """The instant (ns) of an ISO 8601 local date (its midnight) or date and time.

        `ValueError` says in words what was expected.
        """
        try:
            local = datetime.fromisoformat(text)
        except ValueError:
            raise ValueError(
                f"{text!r} is no local date or time; expected ISO 8601, "
                "such as 2026-11-25 or 2026-11-25T08:30"
            ) from None
        if local.tzinfo is not None:
            raise ValueError(f"{text!r} has an offset; expected local time of {self.key} without")
        if not YEARS[0] < local.year <= YEARS[1]:
            raise ValueError(f"{text!r}: expected a year from {YEARS[0] + 1} to {YEARS[1]}")
        return self.instant(local)

    def occurs(self, local: datetime) -> bool:
        """Whether the local clock ever shows this naive `local` time."""
        return self._shows(self.instant(local), local)

    def date_exists(self, day: date) -> bool:
        """Whether the local calendar has this date: not when a change skips it whole."""
        return self.occurs(datetime.combine(day, time.min)) or self.occurs(
            datetime.combine(day, time(23, 59, 59))
        )

    def next_change(self, after: int, until: int) -> int | None:
        """The first instant (ns, whole seconds) in (after, until] with another offset, if any.

        Looks in steps of six hours, as no zone has changed twice within so short a time.
        """
        before = self._read_offset(after // SECOND)
        low = after // SECOND
        end = until // SECOND
        while low < end:
            high = min(low + 6 * 3600, end)
            if self._read_offset(high) != before:
                while high - low > 1:
                    middle = (low + high) // 2
                    if self._read_offset(middle) == before:
                        low = middle
                    else:
                        high = middle
                return high * SECOND
            low = high
        return None
