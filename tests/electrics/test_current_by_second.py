"""What is drawn second by second, against a plain count."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from installed import LINE, ZONE, installed

from controller.electrics.figures import NotKnown
from controller.electrics.load import (
    Closing,
    Drawn,
    Second,
    amp_hours,
    amp_hours_a_day,
    catch_up_amps,
    drawn_by,
    keeping_time_amps,
    seconds,
    worst_second,
)

S = 1_000_000_000
HOUR = 3600 * S
TENTH = S // 10


def of(*rows: tuple[float, float, float]) -> list[Drawn]:
    return [Drawn(round(start * S), round(end * S), amps) for start, end, amps in rows]


def test_what_is_on_at_once_is_added():
    found = list(seconds(of((0, 3, 1.5), (1.5, 2.5, 0.264))))
    assert found == [(0, 1.5), (S, 1.764), (2 * S, 1.764)]


def test_what_ends_as_another_begins_is_not_added():
    assert worst_second(of((0, 0.4, 1.0), (0.4, 0.9, 1.2))) == Second(0, 1.2)


def test_seconds_in_which_nothing_is_on_are_left_out():
    assert [one.utc for one in seconds(of((0.2, 0.4, 1), (7.9, 8.1, 1)))] == [0, 7 * S, 8 * S]


def test_the_first_of_equal_seconds_is_the_worst():
    assert worst_second(of((5, 6, 1), (9, 10, 1))) == Second(5 * S, 1)
    assert worst_second([]) is None


def test_nfpa_72s_sum():
    # guide to the method of NFPA 72: 0.42 A × 24 h + 3.8 A × 5 min = 10.397 Ah
    drawn = [Drawn(0, 24 * HOUR, 0.42), Drawn(HOUR, HOUR + 300 * S, 3.8)]
    assert amp_hours(drawn) == pytest.approx(10.397, abs=5e-4)
    assert amp_hours_a_day(drawn, 0, 48 * HOUR) == pytest.approx(10.397 / 2, abs=5e-4)


def test_a_closing_draws_what_its_circuit_does():
    house = installed(ZONE, LINE)
    closings = [Closing("zones.north", 0, 5 * S), Closing("lines.main", 0, S)]
    assert [one.amps for one in drawn_by(house, closings)] == [1.5, pytest.approx(0.264)]


def test_what_a_circuit_draws_must_be_known():
    house = installed("[zones.north]\nrelay = 17\nbells = 6\n")
    with pytest.raises(NotKnown, match="current of each bell"):
        drawn_by(house, [Closing("zones.north", 0, 5 * S)])


def test_a_line_draws_only_while_an_impulse_lasts():
    # design rule 11: impulse 1 s and gap 1 s, every 60 s: one second of 60, one of 2 when driven
    line = installed(LINE).lines["main"]
    assert keeping_time_amps(line, 0.264) == pytest.approx(0.264 / 60)
    assert catch_up_amps(line, 0.264) == pytest.approx(0.264 / 2)


DRAWN = st.lists(
    st.tuples(st.integers(0, 200), st.integers(1, 60), st.integers(1, 3000)), max_size=12
)


@given(DRAWN)
def test_it_is_a_plain_count_tenth_by_tenth(rows):
    drawn = [Drawn(at * TENTH, (at + n) * TENTH, mA / 1000) for at, n, mA in rows]
    counted: dict[int, int] = {}
    for tenth in range(270):
        on = sum(mA for at, n, mA in rows if at <= tenth < at + n)
        counted[tenth // 10] = max(counted.get(tenth // 10, 0), on)
    expected = [(second * S, mA / 1000) for second, mA in counted.items() if mA]
    assert list(seconds(drawn)) == expected


@given(DRAWN)
def test_ampere_hours_are_the_sum_of_current_times_time(rows):
    drawn = [Drawn(at * TENTH, (at + n) * TENTH, mA / 1000) for at, n, mA in rows]
    plain = sum(n / 10 * mA / 1000 for _, n, mA in rows) / 3600
    assert amp_hours(drawn) == pytest.approx(plain)
