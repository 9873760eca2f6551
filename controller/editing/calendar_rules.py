"""Which events of a calendar file become which calendar entries, by the rules in `[[import]]`.

The first rule that fits an event decides. Dates of an event that adjoin each other become one
range, others stand alone (`on`). Where events meet on a date, an `on` goes before a range as
everywhere in the file; among equals the earlier rule's goes first, and the other gives way on that
date.

What the keeper wrote by hand goes before anything imported. In the file, a later entry beats an
earlier one of its kind, and an `on` beats a range; so imported entries stand before the keeper's,
and an imported date within a range of the keeper's own is written as a range of one date.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from controller.editing.calendar_in import CalendarFile, Occurrence

if TYPE_CHECKING:
    from controller.building.kept import CalendarEntry, ImportRule

_DAY = timedelta(1)


class Wanted(NamedTuple):
    """One calendar entry that a calendar file asks for."""

    uid: str
    first: date
    last: date  # itself included
    single: bool  # to be written with `on`
    plan: str
    says: str
    lift_quiet: bool
    rule: int  # place of its rule in the file

    @property
    def result(self) -> tuple[str, bool]:
        """What comes of it on its dates."""
        return self.plan, self.lift_quiet


class LeftOut(NamedTuple):
    """An event of which nothing, or not every date, is taken."""

    summary: str
    first: date | None  # of the dates that are left out; None where no date can be read
    days: int
    why: str


class Asked(NamedTuple):
    """What a calendar file comes to under the rules."""

    wanted: tuple[Wanted, ...]  # by first date
    left_out: tuple[LeftOut, ...]  # likewise


def asked(
    calendar: CalendarFile,
    rules: Sequence[ImportRule],
    own: Sequence[CalendarEntry],
    today: date,
) -> Asked:
    """The entries from today on that the calendar asks for, beside the keeper's `own`."""
    by_result: dict[tuple[str, int, str], list[Occurrence]] = {}
    by_reason: dict[tuple[str, str, str], list[Occurrence]] = {}
    for one in calendar.occurrences:
        rule = None if one.cancelled else _rule_for(one, rules)
        if rule is not None:
            by_result.setdefault((one.uid, rule, one.summary), []).append(one)
        elif one.last >= today:
            why = "cancelled" if one.cancelled else _why_not(one, rules)
            by_reason.setdefault((one.uid, one.summary, why), []).append(one)
    wanted = [
        Wanted(
            uid, first, last, first == last, rules[rule].plan, says, rules[rule].lift_quiet, rule
        )
        for (uid, rule, says), found in by_result.items()
        for first, last in _joined((one.first, one.last) for one in found)
        if last >= today
    ]
    wanted, gave_way = _without_conflicts(wanted)
    left_out = [
        LeftOut(summary, found[0].first, _days((one.first, one.last) for one in found), why)
        for (_, summary, why), found in by_reason.items()
    ]
    left_out += gave_way
    left_out += [LeftOut(one.summary, None, 0, one.why) for one in calendar.unread]
    return Asked(
        tuple(sorted((_beside(one, own) for one in wanted), key=lambda one: (one[1:], one[0]))),
        tuple(sorted(left_out, key=lambda one: (one.first or date.max, one.summary))),
    )


# ── rules ────────────────────────────────────────────────────────────────────────────────────────


def _rule_for(one: Occurrence, rules: Sequence[ImportRule]) -> int | None:
    return next(
        (
            place
            for place, rule in enumerate(rules)
            if (rule.timed or not one.timed) and names(rule, one)
        ),
        None,
    )


def _why_not(one: Occurrence, rules: Sequence[ImportRule]) -> str:
    if any(names(rule, one) for rule in rules):
        return "with times of day, and their rule is for all-day events (timed = true takes both)"
    return "no rule of [[import]] fits"


def names(rule: ImportRule, one: Occurrence) -> bool:
    """Whether a rule names the event: one of its categories, or one of its words as a whole."""
    categories = {_plain(category) for category in one.categories}
    if any(_plain(category) in categories for category in rule.categories):
        return True
    summary = _plain(one.summary)
    return any(_whole(words).search(summary) for words in rule.words)


@lru_cache(maxsize=1_000)
def _whole(words: str) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(_plain(words))}(?!\w)")


def _plain(text: str) -> str:
    """With what is alike to a reader made the same: large and small, composition, runs of space."""
    folded = unicodedata.normalize("NFKC", text).casefold()
    return " ".join(unicodedata.normalize("NFKC", folded).split())


# ── dates ────────────────────────────────────────────────────────────────────────────────────────


def _joined(spans: Iterable[tuple[date, date]]) -> list[tuple[date, date]]:
    """Spans of dates, those that overlap or adjoin each other as one, in order."""
    found: list[tuple[date, date]] = []
    for first, last in sorted(spans):
        if found and first <= found[-1][1] + _DAY:
            found[-1] = found[-1][0], max(found[-1][1], last)
        else:
            found.append((first, last))
    return found


def _days(spans: Iterable[tuple[date, date]]) -> int:
    return sum((last - first).days + 1 for first, last in _joined(spans))


def _less(span: tuple[date, date], taken: Iterable[tuple[date, date]]) -> list[tuple[date, date]]:
    """What of a span is left where others have been taken out."""
    left = [span]
    for first, last in taken:
        left = [
            (begin, end)
            for was_first, was_last in left
            for begin, end in (
                (was_first, min(was_last, first - _DAY)),
                (max(was_first, last + _DAY), was_last),
            )
            if begin <= end
        ]
    return left


def _without_conflicts(wanted: Iterable[Wanted]) -> tuple[list[Wanted], list[LeftOut]]:
    """On no date are two of a kind with different results; an earlier rule's goes first."""
    kept: list[Wanted] = []
    gave_way: list[LeftOut] = []
    before: list[Wanted] = []
    for one in sorted(wanted, key=lambda one: (one.rule, one.first, one.last, one.uid)):
        others = [
            other
            for other in before
            if other.single == one.single
            and other.result != one.result
            and other.first <= one.last
            and one.first <= other.last
        ]
        before.append(one)
        left = _less((one.first, one.last), [(other.first, other.last) for other in others])
        kept += [one._replace(first=first, last=last) for first, last in left]
        if others:
            lost = _less((one.first, one.last), left)
            other = others[0]
            why = f"giving way to {other.says or 'an event'} ({other.plan}), whose rule comes first"
            gave_way.append(LeftOut(one.says, lost[0][0], _days(lost), why))
    return kept, gave_way


# ── beside the keeper's own ──────────────────────────────────────────────────────────────────────


def _beside(one: Wanted, own: Sequence[CalendarEntry]) -> Wanted:
    """As a range where the keeper has a range with its date: that one then goes before it."""
    if one.single and any(not entry.single for entry in over(one, own)):
        return one._replace(single=False)
    return one


def over(one: Wanted, own: Iterable[CalendarEntry]) -> Iterator[CalendarEntry]:
    """The keeper's own entries that go before it on some of its dates."""
    return (entry for entry in own if entry.first <= one.last and one.first <= entry.last)
