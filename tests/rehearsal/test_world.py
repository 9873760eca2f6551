"""The world of a rehearsal: whatever is cut and stepped, it tells in order, and wholly."""

from __future__ import annotations

from collections import Counter
from datetime import datetime
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.building.civil import CivilTime
from controller.building.file import read
from controller.engine.records import LineRow
from controller.rehearsal.record import EndRecord, ImpulseRecord, MissedRecord, RingRecord
from controller.rehearsal.script import Cut, Script, Step
from controller.rehearsal.world import World, rehearse

SECOND = 1_000_000_000
MINUTE = 60 * SECOND
START = CivilTime("America/Halifax").instant(datetime(2026, 11, 25, 8, 0))
UNTIL = START + 30 * MINUTE
MINUTES = range(1, 30, 2)  # a ring of 5 s each second minute: none meets another


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    rings = ",".join(
        f'{{ at = "08:{minute:02}", zones = ["north", "south"], for = "5s" }}' for minute in MINUTES
    )
    path = tmp_path_factory.mktemp("house") / "building.toml"
    path.write_text(
        f"""
[building]
timezone = "America/Halifax"
[zones.north]
relay = 17
[zones.south]
relay = 27
[lines.main]
drive = "alternating"
relays = [22, 23]
[lines.yard]
drive = "single"
relays = [24]
[plans.daily]
rings = [{rings}]
[week]
wed = "daily"
"""
    )
    return read(path)


def instants(most: int) -> st.SearchStrategy[int]:
    """Tenths of a second from the start, whole minutes and what is near them more often."""
    near = st.tuples(st.integers(0, most // 60), st.integers(-20, 20)).map(
        lambda at: max(0, at[0] * 600 + at[1])
    )
    return st.one_of(near, st.integers(0, most * 10)).map(lambda at: START + at * SECOND // 10)


cuts = st.lists(
    st.builds(Cut, instants(1700), st.integers(1, 4_000).map(lambda t: t * SECOND // 10)),
    max_size=4,
).map(tuple)
steps = st.lists(
    st.builds(
        Step,
        instants(1700),
        st.sampled_from([-3600, -600, -40, -2, -0.3, 0.3, 2, 40, 600, 3600]).map(
            lambda seconds: round(seconds * SECOND)
        ),
    ),
    max_size=3,
).map(tuple)
moderately = settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@moderately
@given(cuts, steps)
def test_records_come_in_order_and_the_end_counts_them(house, cuts, steps):
    *records, end = rehearse(house, Script(START, UNTIL, cuts=cuts, steps=steps))
    assert isinstance(end, EndRecord)
    ranks = {MissedRecord: 0, ImpulseRecord: 1, RingRecord: 2}
    told = [(one.at, ranks[type(one)]) for one in records]
    assert told == sorted(told)
    counts = Counter(type(one) for one in records)
    assert (counts[RingRecord], counts[ImpulseRecord], counts[MissedRecord]) == (
        end.rings,
        end.impulses,
        end.missed,
    )


@moderately
@given(cuts, steps)
def test_the_same_script_is_told_the_same(house, cuts, steps):
    script = Script(START, UNTIL, cuts=cuts, steps=steps)
    assert list(rehearse(house, script)) == list(rehearse(house, script))


@moderately
@given(cuts)
def test_every_ring_is_given_or_cut_or_missed_and_never_two_of_these(house, cuts):
    records = list(rehearse(house, Script(START, UNTIL, cuts=cuts)))
    told = Counter(
        (one.zone, one.due) for one in records if isinstance(one, RingRecord | MissedRecord)
    )
    assert told == {
        (zone, START + minute * MINUTE): 1 for zone in ("north", "south") for minute in MINUTES
    }
    for one in records:
        if isinstance(one, RingRecord):
            assert one.cut == (one.length < 5 * SECOND)
            assert one.cut or one.at == one.due
        elif isinstance(one, MissedRecord):
            assert one.why == "off"


@moderately
@given(cuts, steps)
def test_no_ring_is_given_twice(house, cuts, steps):
    records = rehearse(house, Script(START, UNTIL, cuts=cuts, steps=steps))
    given = Counter((one.zone, one.due) for one in records if isinstance(one, RingRecord))
    assert not [ring for ring, times in given.items() if times > 1]


@settings(moderately, max_examples=40)
@given(cuts, steps)
def test_dials_of_an_alternating_line_are_right_once_it_has_been_quiet(house, cuts, steps):
    quiet = UNTIL + 150 * MINUTE  # an hour's wait, and an hour's catch-up after it
    script = Script(START, quiet + 30 * SECOND, cuts=cuts, steps=steps)
    *records, end = rehearse(house, script)
    assert end.lines["main"].right
    given = [one for one in records if isinstance(one, ImpulseRecord) and one.line == "main"]
    for before, after in pairwise(given):
        # one given again may be the first that is told, if it was stored and had not begun
        assert after.again or after.polarity != before.polarity


@moderately
@given(cuts)
def test_a_single_line_is_doubtful_exactly_if_an_impulse_was_cut_or_may_have_been(house, cuts):
    world = World(house, Script(START, UNTIL, cuts=cuts))
    records = list(world.run())
    end = world.end_record()
    cut = [one for one in records if isinstance(one, ImpulseRecord) and one.cut]
    doubtful = end.lines["yard"].doubtful
    assert doubtful or not any(one.line == "yard" for one in cut)
    assert doubtful or end.lines["yard"].right or ends_in_the_dark(cuts)


def ends_in_the_dark(cuts: tuple[Cut, ...]) -> bool:
    return any(cut.start_utc + cut.duration_ns + 200 * SECOND > UNTIL for cut in cuts)


def test_a_quiet_rehearsal_is_what_the_timetable_says(house):
    *records, end = rehearse(house, Script(START, UNTIL))
    rings = [one for one in records if isinstance(one, RingRecord)]
    assert [one.at for one in rings[::2]] == [START + minute * MINUTE for minute in MINUTES]
    assert [one.zone for one in rings] == ["north", "south"] * len(MINUTES)
    assert (end.rings, end.impulses, end.missed) == (30, 58, 0)
    assert {one.clock for one in rings} == {None}


def test_without_lines_the_dials_stand_and_the_bells_are_the_same(house):
    *with_lines, _ = rehearse(house, Script(START, UNTIL))
    *without, end = rehearse(house, Script(START, UNTIL, lines=False))
    assert without == [one for one in with_lines if not isinstance(one, ImpulseRecord)]
    assert end.impulses == 0


def test_boot_takes_as_long_as_it_is_told(house):
    script = Script(
        START, UNTIL, cuts=(Cut(START + 60 * SECOND + SECOND // 2, SECOND),), boot_ns=5 * SECOND
    )
    again = next(
        one for one in rehearse(house, script) if isinstance(one, ImpulseRecord) and one.again
    )
    assert again.at == START + 67 * SECOND + SECOND // 2, (
        "1 s without power, 5 s of boot, 1 s of gap"
    )


def test_power_that_goes_again_during_the_boot_begins_it_anew(house):
    cuts = (Cut(START + 90 * SECOND, SECOND), Cut(START + 100 * SECOND, SECOND))
    world = World(house, Script(START, UNTIL, cuts=cuts))
    records = list(world.run())
    after = [one.at for one in records if isinstance(one, ImpulseRecord) and one.at > cuts[0][0]]
    assert after[0] == START + 122 * SECOND
    assert world.boots == 2


def test_a_step_while_the_power_is_away_is_forgotten_by_the_boot(house):
    script = Script(
        START,
        UNTIL,
        cuts=(Cut(START + 90 * SECOND, 10 * SECOND),),
        steps=(Step(START + 95 * SECOND, 40 * SECOND),),
    )
    records = list(rehearse(house, script))
    assert all(one.clock is None for one in records[:-1])


def test_what_the_engine_believes_at_the_end_is_what_the_dials_show(house):
    world = World(house, Script(START, UNTIL))
    list(world.run())
    row = world.store["line", "main"]
    assert isinstance(row, LineRow)
    assert {dial.shows for dial in world.dials["main"]} == {509}
