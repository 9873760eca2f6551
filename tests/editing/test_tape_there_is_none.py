"""Fold finds a tape wherever there is one: beside it stands a search through all tapes and all
quiet rows of a small world, with rules of its own, and not a line of the program's."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import combinations
from typing import NamedTuple

from hypothesis import event, given, settings
from hypothesis import strategies as st
from tape_weeks import HALF_DAYS, SINCE, WEEKDAYS, building, clock, frame, rings, with_tape

from controller.editing.tape_fold import LENGTHS_NS, NoTape, fold

MINUTE_NS = 60_000_000_000
# The halves' edges; times that are one hole on a short tape; two that are alone.
TIMES = (0, 150, 360, 510, 720, 870, 1080, 1230)


class Date(NamedTuple):
    """A date of the calendar."""

    on: date
    plan: str  # "special" or "usual"
    lifted: bool


class World(NamedTuple):
    """One zone, its week, what else it rings, and when it is quiet."""

    week: dict[str, tuple[int, ...]]
    special: tuple[int, ...]
    dates: tuple[Date, ...]
    holidays: bool  # whose plan is special
    quiet: frozenset[str]

    def text(self) -> str:
        lines = [*frame(), f"[quiet]\nnorth = {sorted(self.quiet)}"]
        for name, times in {**self.week, "special": self.special}.items():
            entries = (f'{{ at = "{clock(at)}", zones = ["north"], for = "2s" }}' for at in times)
            lines.append(f"[plans.{name}]\nrings = [{', '.join(entries)}]")
        lines += ["[week]", *(f'{day} = "{day}"' for day in self.week)]
        for one in self.dates:
            lines.append(f'[[calendar]]\non = "{one.on}"\nplan = "{one.plan}"')
            lines.append(f"lift_quiet = {str(one.lifted).lower()}")
        if self.holidays:
            lines.append('[holidays]\ncountry = "GB"\nsubdivision = "ENG"\nplan = "special"')
        return "\n".join(lines)

    def kinds_of_date(self) -> Iterator[tuple[str, str, bool]]:
        """(weekday, plan, whether quiet rows are lifted) of all dates that there are."""
        for day in WEEKDAYS:
            yield day, "usual", False
            if self.holidays:
                yield day, "special", False
        for one in self.dates:
            yield WEEKDAYS[one.on.weekday()], one.plan, one.lifted

    def rung(self, kind: tuple[str, str, bool], usual: tuple[int, ...], quiet) -> Iterator[tuple]:
        """(half-day, time) of what sounds on such a date, where `usual` is rung on usual ones."""
        day, plan, lifted = kind
        for at in usual if plan == "usual" else self.special:
            half = half_day(day, at)
            if lifted or half not in quiet:
                yield half, at


def half_day(day: str, minute: int) -> str:
    """Design rule 2, with halves at six and at eighteen."""
    if 360 <= minute < 1080:
        return f"{day} day"
    owner = day if minute >= 1080 else WEEKDAYS[WEEKDAYS.index(day) - 1]
    return f"{owner} night"


def some_tape_will_do(world: World, hours: int) -> bool:
    """Every set of holes with every set of quiet half-days is tried.

    A ring belongs to one half-day, so whether that is quiet is tried for each alone; a set of holes
    will do if for each half-day there is one of the two.
    """
    turn = hours * 60
    offsets = {at % turn for at in TIMES} | {77}
    kinds = list(world.kinds_of_date())
    wanted = [set(world.rung(kind, world.week.get(kind[0], ()), world.quiet)) for kind in kinds]
    for number in range(len(offsets) + 1):
        for holes in combinations(sorted(offsets), number):
            rung = tuple(at for at in range(1440) if at % turn in holes)
            loud, still = (
                [set(world.rung(kind, rung, quiet)) for kind in kinds]
                for quiet in (frozenset(), frozenset(HALF_DAYS))
            )
            if all(
                any(
                    all(
                        of(tried, half) == of(want, half)
                        for tried, want in zip(one, wanted, strict=True)
                    )
                    for one in (loud, still)
                )
                for half in HALF_DAYS
            ):
                return True
    return False


def of(rung: set, half: str) -> set:
    return {at for its, at in rung if its == half}


@st.composite
def worlds(draw) -> World:
    times = st.sets(st.sampled_from(TIMES), max_size=4).map(lambda some: tuple(sorted(some)))
    usual = draw(times)
    week = {
        day: draw(times if draw(st.integers(0, 9)) == 9 else st.sampled_from([usual, usual, ()]))
        for day in WEEKDAYS
        if draw(st.integers(0, 5))
    }
    dates = draw(
        st.lists(
            st.builds(
                Date,
                st.integers(0, 20).map(lambda days: date(2027, 1, 11) + timedelta(days=days)),
                st.sampled_from(["usual", "special"]),
                st.booleans(),
            ),
            max_size=2,
            unique_by=lambda one: one.on,
        )
    )
    quiet = frozenset(draw(st.sets(st.sampled_from(HALF_DAYS), max_size=6)))
    return World(week, draw(times), tuple(dates), draw(st.integers(0, 3)) == 3, quiet)


@settings(max_examples=60)
@given(worlds(), st.sampled_from([6, 12, 24]))
def test_there_is_a_tape_exactly_where_the_search_finds_one(world, hours):
    house = building(world.text())
    length_ns = next(ns for ns in LENGTHS_NS if ns == hours * 60 * MINUTE_NS)
    try:
        folded = fold(house, SINCE, [length_ns])
    except NoTape:
        event("no tape")
        assert not some_tape_will_do(world, hours)
    else:
        event("a tape")
        assert rings(with_tape(house, folded), 70) == rings(house, 70)
        assert some_tape_will_do(world, hours)


@settings(max_examples=20)
@given(worlds())
def test_a_longer_tape_does_what_a_shorter_one_does(world):
    found = [some_tape_will_do(world, hours) for hours in (6, 12, 24)]
    assert found == sorted(found)
