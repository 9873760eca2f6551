"""What the hand is told of the building."""

from __future__ import annotations

import subprocess
import sys

from building_texts import HOUSE
from hypothesis import given
from hypothesis import strategies as st

from controller.building.wiring import Circuit, PanelInput, Wiring, from_json, wiring_of

SECOND = 1_000_000_000
MORE = """
[panel.north_button]
pin = 20
does = "ring"
zones = ["*"]
[panel.step]
pin = 21
active = "high"
does = "step"
line = "main"
debounce = "30ms"
[health]
relay = 25
active = "low"
"""


def test_circuits_stand_in_the_order_of_the_file_zones_first(building_of):
    wiring = wiring_of(building_of(HOUSE))
    assert [one.name for one in wiring.circuits] == [
        "zones.north", "zones.south", "zones.gong", "lines.main", "lines.tower",
    ]  # fmt: skip


def test_a_zone_is_told_with_its_limits(building_of):
    wiring = wiring_of(building_of(HOUSE))
    assert wiring.circuits[1] == Circuit(
        "zones.south", "zone", (18,), "high", 8 * SECOND, 30 * SECOND, 0, None
    )


def test_a_single_stroke_zone_is_told_with_a_second_at_most(building_of):
    assert wiring_of(building_of(HOUSE)).circuits[2].longest_ns == SECOND


def test_a_line_is_told_with_its_impulse_and_gap(building_of):
    text = HOUSE.replace("relays = [22, 23]", 'relays = [22, 23]\nsense = [5, 6]\nactive = "low"')
    assert wiring_of(building_of(text)).circuits[3] == Circuit(
        "lines.main", "line", (22, 23), "low", SECOND, 0, SECOND, (5, 6)
    )


def test_panel_health_and_supply_are_told(building_of):
    wiring = wiring_of(building_of(HOUSE.replace("amps = 5.0", "amps = 5.0\nsense = 26") + MORE))
    zones = ("north", "south", "gong")
    assert wiring.panel == (
        PanelInput("north_button", 20, "low", 20_000_000, "ring", zones, None),
        PanelInput("step", 21, "high", 30_000_000, "step", (), "main"),
    )
    assert wiring.health == (25, "low")
    assert wiring.supply_sense == 26


def test_what_is_not_there_is_told_as_not_there(building_of):
    wiring = wiring_of(building_of(HOUSE))
    assert (wiring.panel, wiring.health, wiring.supply_sense) == ((), None, None)


def test_wirings_of_the_same_file_are_equal_and_hash_alike(building_of):
    first, second = (wiring_of(building_of(HOUSE + MORE)) for _ in range(2))
    assert first == second
    assert hash(first) == hash(second)


PINS = st.integers(2, 27)
LEVELS = st.sampled_from(["high", "low"])
NS = st.integers(0, 10**18)
CIRCUITS = st.builds(
    Circuit,
    st.text(max_size=9),
    st.sampled_from(["zone", "line"]),
    st.lists(PINS, min_size=1, max_size=2).map(tuple),
    LEVELS,
    NS,
    NS,
    NS,
    st.none() | st.lists(PINS, min_size=1, max_size=2).map(tuple),
)
INPUTS = st.builds(
    PanelInput,
    st.text(max_size=9),
    PINS,
    LEVELS,
    NS,
    st.sampled_from(["ring", "stop", "quiet", "step"]),
    st.lists(st.text(max_size=5)).map(tuple),
    st.none() | st.text(max_size=9),
)
WIRINGS = st.builds(
    Wiring,
    st.lists(CIRCUITS, max_size=5).map(tuple),
    st.lists(INPUTS, max_size=5).map(tuple),
    st.none() | st.tuples(PINS, LEVELS),
    st.none() | PINS,
)


@given(WIRINGS)
def test_a_wiring_crosses_as_json_unchanged_types_and_all(wiring):
    back = from_json(wiring.to_json())
    assert back == wiring
    assert hash(back) == hash(wiring)
    assert "\n" not in wiring.to_json()


def test_reading_it_back_imports_no_pydantic():
    code = (
        "import sys; from controller.building.wiring import from_json; "
        'from_json(\'{"circuits": [], "panel": [], "health": null, "supply_sense": null}\'); '
        "sys.exit('pydantic' in sys.modules or 'controller.building.model' in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
