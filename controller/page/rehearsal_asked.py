"""A rehearsal that the page is asked for, from its form to what the process beside it is told."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

from controller.building.civil import DAY_SECONDS, SECOND, CivilTime
from controller.building.durations import duration_ns
from controller.rehearsal.script import Cut, Script, Step

MOST_DAYS = 31
_LONGEST_NS = DAY_SECONDS * SECOND  # of a cut, and of a step
_MOST_TEXT = 40


class RehearsalForm(NamedTuple):
    """The fields as they were typed."""

    first: str = ""  # a local date
    last: str = ""  # a local date, itself included
    cut_at: str = ""  # local date and time
    cut_for: str = ""  # a duration
    step_at: str = ""
    step_by: str = ""  # a duration, "-" before it where the clock is set back

    @property
    def words(self) -> tuple[str, ...]:
        """What is asked for."""
        words = [f"{self.first} to {self.last}"]
        if self.cut_at:
            words.append(f"no power from {self.cut_at.replace('T', ' ')} for {self.cut_for}")
        if self.step_at:
            words.append(f"the clock stepped at {self.step_at.replace('T', ' ')} by {self.step_by}")
        return tuple(words)


def form_of_fields(fields: Mapping[str, str]) -> RehearsalForm:
    """What the form says, cut where it is too long."""
    return RehearsalForm(
        *(fields.get(key, "").strip()[:_MOST_TEXT] for key in RehearsalForm._fields)
    )


def usual_form(civil: CivilTime, now: int) -> RehearsalForm:
    """The coming week."""
    today = civil.date_at(now)
    return RehearsalForm(today.isoformat(), (today + timedelta(days=6)).isoformat())


def script_of(form: RehearsalForm, civil: CivilTime) -> tuple[Script | None, dict[str, str]]:
    """What is to be played through; or what is wrong, by field."""
    wrong: dict[str, str] = {}
    first, last = _date("first", form.first, civil, wrong), _date("last", form.last, civil, wrong)
    if first and last and not first <= last < first + timedelta(days=MOST_DAYS):
        wrong["last"] = f"expected the first day or a later one, at most {MOST_DAYS} days in all."
    if first is None or last is None or wrong:
        return None, wrong
    end = datetime.combine(last + timedelta(days=1), time.min)
    window = civil.instant(datetime.combine(first, time.min)), civil.instant(end)
    cut = _moved("cut", form.cut_at, form.cut_for, civil, window, wrong)
    by = form.step_by.lstrip("+")
    step = _moved("step", form.step_at, by.removeprefix("-"), civil, window, wrong)
    if wrong:
        return None, wrong
    return Script(
        *window,
        cuts=() if cut is None else (Cut(*cut),),
        steps=() if step is None else (Step(step[0], -step[1] if by[:1] == "-" else step[1]),),
    ), {}


def _date(field: str, text: str, civil: CivilTime, wrong: dict[str, str]) -> date | None:
    try:
        return civil.date_at(civil.instant_of(text))
    except ValueError as fault:
        wrong[field] = f"{fault}." if text else "is required; expected a date."
        return None


def _moved(
    what: str,
    at: str,
    length: str,
    civil: CivilTime,
    window: tuple[int, int],
    wrong: dict[str, str],
) -> tuple[int, int] | None:
    """An instant and a length, where both are given."""
    if not at and not length:
        return None
    start, lasts = f"{what}_at", f"{what}_{'for' if what == 'cut' else 'by'}"
    instant = nanoseconds = 0
    try:
        instant = civil.instant_of(at)
        if not window[0] <= instant < window[1]:
            wrong[start] = "expected a time within these days."
    except ValueError as fault:
        wrong[start] = f"{fault}." if at else "is required where a length is given."
    try:
        nanoseconds = duration_ns(length)
        if not 0 < nanoseconds <= _LONGEST_NS:
            wrong[lasts] = "expected more than nothing, and at most 24h."
    except ValueError:
        wrong[lasts] = "expected a number and ms, s, m or h, such as 5m."
    return instant, nanoseconds
