"""What of a ring counts against its zone's limits, and how much a file may hold."""

from __future__ import annotations

from itertools import pairwise

import pytest
from building_texts import LEAST, plus
from hypothesis import given
from hypothesis import strategies as st

from controller.building.closings import closings_of, longest_of, most_in_a_minute, union

SECOND = 1_000_000_000
STROKES = st.lists(st.integers(1, 40), min_size=1, max_size=15).filter(lambda one: len(one) % 2)


def closed_by_the_second(strokes):
    """Whether the contact is closed in each second, told off by hand."""
    return [place % 2 == 0 for place, length in enumerate(strokes) for _ in range(length)]


@given(STROKES)
def test_strokes_close_and_open_in_turn(strokes):
    closings = closings_of([one * SECOND for one in strokes])
    closed = [any(a <= s * SECOND < b for a, b in closings) for s in range(sum(strokes))]
    assert closed == closed_by_the_second(strokes)
    assert longest_of(closings) == max(strokes[::2]) * SECOND


@given(STROKES)
def test_the_fullest_minute_is_found(strokes):
    closed = closed_by_the_second(strokes)
    fullest = max(sum(closed[start : start + 60]) for start in range(len(closed)))
    assert most_in_a_minute(closings_of([one * SECOND for one in strokes])) == fullest * SECOND


@given(st.lists(STROKES, min_size=1, max_size=4))
def test_together_the_contact_is_closed_whenever_one_of_them_would_close_it(rings):
    merged = union(one for ring in rings for one in closings_of(ring))
    assert all(a[1] < b[0] for a, b in pairwise(merged))
    for second in range(max(map(sum, rings))):
        by_hand = any(second < sum(ring) and closed_by_the_second(ring)[second] for ring in rings)
        assert any(a <= second < b for a, b in merged) == by_hand


def test_a_ring_of_exactly_its_limits_is_lawful(building_of):
    text = '[plans.a]\nrings = [{ at = "08:30", zones = ["north"], strokes = [10, 1, 10, 1, 10] }]'
    assert building_of(LEAST + text).plans["a"][0].closings[-1] == (22 * SECOND, 32 * SECOND)


def test_a_minute_may_be_less_than_longest(building_of, faults_of):
    text = LEAST + 'longest = "20s"\na_minute = "10s"\n'
    assert building_of(text).zones["north"].a_minute_ns == 10 * SECOND
    ring = '[plans.a]\nrings = [{ at = "08:30", zones = ["north"], for = "15s" }]'
    (fault,) = faults_of(text + ring)
    assert "15s within a minute; expected no more than a_minute of north (10s)" in fault.expected


def test_a_ring_is_told_once_with_all_the_zones_it_is_too_long_for(faults_of):
    (fault,) = faults_of(
        plus('[plans.a]\nrings = [{ at = "09:00", zones = ["north", "south"], for = "12s" }]')
    )
    assert fault.expected.endswith("expected no more than longest of north (10s), south (8s)")


def many_rings(zones: int, rings: int) -> str:
    text = '[building]\ntimezone = "UTC"\n[week]\nmon = "full"\n'
    text += "".join(f"[zones.z{pin}]\nrelay = {pin}\n" for pin in range(2, 2 + zones))
    ring = '{{ at = "{:02}:{:02}:{:02}", zones = ["*"], for = "1s" }},\n'
    times = [(n // 3600, n // 60 % 60, n % 60) for n in range(0, 43 * rings, 43)]
    return text + f"[plans.full]\nrings = [\n{''.join(ring.format(*at) for at in times)}]\n"


def test_a_day_may_have_ten_thousand_rings(building_of):
    rings = building_of(many_rings(5, 2000)).plans["full"]
    assert sum(len(ring.zones) for ring in rings) == 10_000


def test_a_day_may_not_have_more(faults_of):
    (fault,) = faults_of(many_rings(6, 2000))
    assert str(fault).endswith(
        "[plans.full] rings: has 12,000 rings a day; expected 10,000 at most"
    )


def test_a_plan_may_not_have_more_than_two_thousand_entries(faults_of):
    (fault,) = faults_of(many_rings(1, 2001))
    assert (fault.table, fault.key) == ("[plans.full]", "rings")
    assert "a list of at most 2000 rings" in fault.expected


def test_the_tape_counts_with_the_week(faults_of):
    holes = [f"{n // 60:02}:{n % 60:02}" for n in range(360)]
    tape = f'[tape]\nlength = "6h"\nfor = "1s"\n[tape.holes]\nz2 = {holes}\n'
    (fault,) = faults_of(many_rings(5, 2000) + tape)
    assert (fault.table, fault.key) == ("[week]", "mon")
    assert "11,440 rings a day" in fault.expected


def test_a_tape_by_itself_may_be_too_full(faults_of):
    holes = [f"{n // 60:02}:{n % 60:02}" for n in range(360)]
    rows = "".join(f"z{pin} = {holes}\n" for pin in range(2, 10))
    tape = f'[tape]\nlength = "6h"\nfor = "1s"\n[tape.holes]\n{rows}'
    (fault,) = faults_of(many_rings(8, 1) + tape)
    assert (fault.table, fault.expected) == (
        "[tape]",
        "makes 11,520 rings a day; expected 10,000 at most",
    )


@pytest.mark.parametrize(
    ("entries", "table"),
    [
        ("".join(f"[plans.p{n}]\nrings = []\n" for n in range(201)), "[plans]"),
        ('[[calendar]]\non = 2026-12-18\nplan = "none"\n' * 2001, "[[calendar]]"),
    ],
)
def test_entries_are_limited(faults_of, entries, table):
    (fault,) = faults_of(LEAST + entries)
    assert fault.table == table
    assert "expected at most" in fault.expected
