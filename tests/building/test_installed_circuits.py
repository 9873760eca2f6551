"""How circuits are run, fused and fitted: what the file takes, and what it refuses."""

from __future__ import annotations

import pytest
from building_texts import HOUSE, instead, plus
from hypothesis import given
from hypothesis import strategies as st

from controller.building.conductors import LIMITS, Conductor, conductor
from controller.building.differences import wiring_differences

NORTH = "amps_each = 0.25\n"
MAIN = "amps_each = 0.012\n"
ATTIC = '[returns.attic]\nmetres = 60\nwire = "2.5 mm2"\n'


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("1.5 mm2", (1.5, "mm2", "solid")),
        ("0.75 mm² flexible", (0.75, "mm2", "flexible")),
        ("18 AWG", (18, "AWG", "solid")),
        ("22AWG stranded", (22, "AWG", "stranded")),
    ],
)
def test_a_conductor_by_its_size_and_make(text, read):
    assert conductor(text) == read


@pytest.mark.parametrize(
    "text",
    ["", "1.5", "mm2", "1.5 mm", "18.5 AWG", "2 AWG", "40 AWG", "0.01 mm2", "99 mm2", "1 mm2 old"],
)
def test_what_is_no_conductor(text):
    with pytest.raises(ValueError, match="not a"):
        conductor(text)


@given(
    st.sampled_from(["mm2", "AWG"]),
    st.integers(50, 50_000),
    st.sampled_from(["solid", "stranded", "flexible"]),
)
def test_a_conductor_is_written_as_it_is_read(unit, thousandths, make):
    low, high = LIMITS[unit]
    size = min(max(thousandths / 1000, low), high)
    wire = Conductor(float(round(size)) if unit == "AWG" else float(f"{size:g}"), unit, make)
    assert conductor(str(wire)) == wire


def test_nothing_of_it_must_be_said(building_of):
    house = building_of(HOUSE)
    assert house.battery is None
    assert house.returns == {}
    assert house.relays.amps is None
    assert house.zones["north"].wire is None
    assert not house.zones["north"].spread


def test_zones_and_lines_are_run_alike(building_of):
    run = 'run_metres = 45\nwire = "1.5 mm2"\nspread = true\nfuse_amps = 2\n'
    house = building_of(instead(NORTH, NORTH + run).replace(MAIN, MAIN + run))
    for circuit in (house.zones["north"], house.lines["main"]):
        assert (circuit.run_metres, circuit.spread, circuit.fuse_amps) == (45, True, 2)
        assert circuit.wire == Conductor(1.5, "mm2", "solid")


def test_a_wrong_wire_is_answered_with_what_a_wire_is(faults_of):
    (fault,) = faults_of(instead(NORTH, NORTH + 'wire = "thick"\n'))
    assert (fault.key, fault.value) == ("wire", '"thick"')
    assert fault.expected.endswith('unless it is solid, such as "1.5 mm2"')


def test_a_return_that_is_not_there(faults_of):
    shares = instead(NORTH, NORTH + 'shares_return = "atic"\n') + ATTIC
    (fault,) = faults_of(shares)
    assert fault.expected == 'there is no return "atic"; did you mean "attic"?'


def test_an_alternating_line_shares_with_nothing(faults_of):
    (fault,) = faults_of(instead(MAIN, MAIN + 'shares_return = "attic"\n') + ATTIC)
    assert fault.table == "[lines.main]"
    assert fault.expected.startswith("an alternating line shares with nothing")


def test_a_single_line_and_a_zone_may_share_a_return(building_of):
    shares = 'shares_return = "attic"\n'
    text = instead("relays = 24\n", "relays = 24\n" + shares).replace(NORTH, NORTH + shares)
    assert building_of(text + ATTIC).lines["tower"].shares_return == "attic"


def test_a_dropping_resistor_belongs_to_dials_in_series(faults_of, building_of):
    fitted = "relays = 24\nresistor_ohms = 68\n"
    (fault,) = faults_of(instead("relays = 24\n", fitted))
    assert fault.key == "resistor_ohms"
    series = instead("relays = 24\n", fitted + 'wired = "series"\n')
    assert building_of(series).lines["tower"].resistor_ohms == 68


def test_what_changes_of_it_is_told_as_the_installers(building_of):
    before = instead(NORTH, NORTH + 'wire = "1 mm2"\n')
    after = instead(NORTH, NORTH + 'wire = "18 AWG stranded"\n') + "[battery]\n" + ATTIC
    assert wiring_differences(building_of(before), building_of(after)) == [
        "battery: new",
        'zones.north: wire "1 mm²" → "18 AWG stranded"',
        "returns.attic: new",
    ]


def test_a_battery_is_twelve_cells_unless_it_says_otherwise(building_of):
    assert building_of(plus("[battery]")).battery.cells == 12
