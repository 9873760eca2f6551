"""Invented weeks, tapes and calendars for the property tests of fold and unfold; and the rings that
a building has, date by date."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from hypothesis import strategies as st

from controller.building.file import building_of
from controller.building.model import Building
from controller.building.sheets import Source
from controller.editing.tape_fold import Folded
from controller.editing.tape_unfold import Unfolded
from controller.timetable.days import Timetable

SINCE = date(2026, 11, 28)
DAYS = 400  # with both clock changes, and more than a year of holidays
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
HALF_DAYS = tuple(f"{day} {half}" for day in WEEKDAYS for half in ("day", "night"))
ZONES = ("north", "south")


def building(text: str) -> Building:
    return building_of("house.toml", [Source("house.toml", text.encode())])


def rings(house: Building, days: int = DAYS) -> dict[date, set]:
    """Which zone rings at which time as written, and how, on every date."""
    timetable = Timetable(house)
    dates = (SINCE + timedelta(days=number) for number in range(days))
    return {
        on: {(ring.zone, ring.written, ring.due, ring.closings) for ring in timetable.day(on).rings}
        for on in dates
    }


def with_tape(house: Building, folded: Folded) -> Building:
    return replace(house, week={}, tape=folded.tape, quiet={**house.quiet, **folded.quiet})


def with_plans(house: Building, unfolded: Unfolded) -> Building:
    new = {name: plan.whole(house) for name, plan in unfolded.plans.items()}
    plans = {**house.plans, **new}
    return replace(house, plans=plans, week=dict(unfolded.week), tape=None)


# ── what hypothesis draws from ───────────────────────────────────────────────────────────────────

minutes = st.one_of(
    st.integers(0, 23).map(lambda hour: hour * 60),
    st.sampled_from([0, 1, 359, 360, 361, 449, 450, 719, 720, 1079, 1080, 1439]),
    st.integers(0, 1439),
)
quiet_rows = st.dictionaries(
    st.sampled_from(ZONES), st.lists(st.sampled_from(HALF_DAYS), min_size=1, unique=True)
)


def clock(minute: int, second: int = 0) -> str:
    return f"{minute // 60:02}:{minute % 60:02}" + (f":{second:02}" if second else "")


def plan(name: str, entries: list[tuple[int, tuple[str, ...], str]]) -> Iterator[str]:
    """Lines of a plan; an entry is (minute, zones, "for" or "strokes" as written)."""
    yield f"[plans.{name}]\nrings = ["
    for minute, zones, length in entries:
        yield f'  {{ at = "{clock(minute)}", zones = {list(zones)}, {length} }},'
    yield "]"


def frame(halves: tuple[str, str] = ("06:00", "18:00")) -> Iterator[str]:
    yield '[building]\ntimezone = "Europe/London"'
    yield from (f"[zones.{zone}]\nrelay = {17 + place}" for place, zone in enumerate(ZONES))
    yield f'[halves]\nday = "{halves[0]}"\nnight = "{halves[1]}"'


@st.composite
def calendars(draw) -> list[str]:
    """Entries of all kinds: named plans and the usual, with quiet rows lifted or not; holidays."""
    lines = list(
        plan(
            "special",
            draw(
                st.lists(
                    st.tuples(
                        minutes,
                        st.sampled_from([("north",), ("south",), ZONES]),
                        st.sampled_from(['for = "3s"', "strokes = [1, 0.5, 1]"]),
                    ),
                    max_size=3,
                    unique_by=lambda entry: entry[0],
                )
            ),
        )
    )
    for _ in range(draw(st.integers(0, 3))):
        first = draw(st.dates(date(2026, 11, 1), date(2027, 11, 30)))
        last = first + timedelta(days=draw(st.sampled_from([0, 1, 9])))
        lines.append(f'[[calendar]]\nfrom = "{first}"\nuntil = "{last}"')
        if draw(st.booleans()):
            lines[-1] = f'[[calendar]]\non = "{first}"'
        lines.append(f'plan = "{draw(st.sampled_from(["none", "special", "usual"]))}"')
        lines.append(f"lift_quiet = {str(draw(st.booleans())).lower()}")
    if draw(st.booleans()):
        its = draw(st.sampled_from(["none", "special", "usual"]))
        lines.append(f'[holidays]\ncountry = "GB"\nsubdivision = "ENG"\nplan = "{its}"')
    return lines


@st.composite
def quiet_tables(draw) -> list[str]:
    return ["[quiet]", *(f"{zone} = {row}" for zone, row in draw(quiet_rows).items())]


@st.composite
def tapes(draw) -> list[str]:
    hours = draw(st.sampled_from([6, 12, 24]))
    starts = clock(draw(minutes), draw(st.sampled_from([0, 0, 20])))
    of_zones = draw(
        st.dictionaries(
            st.sampled_from(ZONES),
            st.lists(minutes.map(lambda minute: minute % (hours * 60)), max_size=5, unique=True),
        )
    )
    holes = (f"{zone} = {[clock(one) for one in offsets]}" for zone, offsets in of_zones.items())
    return [
        f'[tape]\nlength = "{hours}h"\nstarts = "{starts}"\nfor = "2s"\n[tape.holes]',
        *holes,
    ]


@st.composite
def taped(draw) -> str:
    """A house with a tape, quiet rows and a calendar; its week is empty."""
    halves = draw(st.sampled_from([("06:00", "18:00"), ("00:00", "12:00"), ("07:30", "16:45:30")]))
    parts = (frame(halves), draw(quiet_tables()), draw(calendars()), draw(tapes()))
    return "\n".join(line for part in parts for line in part)


@st.composite
def weekly(draw) -> str:
    """A house with a week of plans that are nearly alike, and perhaps a tape beside."""
    entry = st.tuples(
        minutes, st.sampled_from([("north",), ("south",), ZONES]), st.just('for = "2s"')
    )
    whole = draw(st.lists(entry, min_size=1, max_size=4, unique_by=lambda one: one[0]))
    week = draw(st.dictionaries(st.sampled_from(WEEKDAYS), st.sampled_from(["whole", "part"])))
    lines = [*frame(), *draw(quiet_tables()), *draw(calendars())]
    lines += plan("whole", whole)
    lines += plan("part", [one for one in whole if draw(st.booleans())])
    if draw(st.booleans()):
        lines += draw(tapes())
    lines += ["[week]", *(f'{day} = "{name}"' for day, name in week.items())]
    return "\n".join(lines)
