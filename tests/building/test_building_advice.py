"""What is lawful and yet worth a word."""

from __future__ import annotations

import pytest
from building_texts import HOUSE, LEAST

from controller.building.advice import advice
from controller.building.zone_data import package_version, system_version, zone_data_advice

NOTHING_TO_SAY = """
[building]
timezone = "Europe/Oslo"
[supply]
amps = 5.0
sense = 26
[zones.north]
relay = 17
bells = 6
amps_each = 0.25
[lines.main]
drive = "alternating"
relays = [22, 23]
dials = 22
amps_each = 0.012
sense = [5, 6]
[health]
relay = 25
[plans.regular]
rings = [{ at = "08:30", zones = ["*"], for = "5s" }]
"""


def said(building, word):
    return [sentence for sentence in advice(building) if word in sentence]


def test_of_a_building_with_nothing_amiss_nothing_is_said(building_of):
    assert advice(building_of(NOTHING_TO_SAY)) == ()


# Default pulls: GPIO 0 to 8 up, 9 to 27 down (BCM2835 ARM Peripherals, p. 102).
@pytest.mark.parametrize(
    ("pin", "active", "warned"),
    [
        (4, "high", True), (8, "high", True), (9, "high", False), (27, "high", False),
        (4, "low", False), (8, "low", False), (9, "low", True), (27, "low", True),
    ],
)  # fmt: skip
def test_a_pin_whose_default_pull_energises_its_relay_is_warned_of(
    building_of, pin, active, warned
):
    text = LEAST.replace("relay = 17", f'relay = {pin}\nactive = "{active}"')
    assert bool(said(building_of(text), "is pulled")) == warned


@pytest.mark.parametrize(
    ("old", "new", "names"),
    [
        ("relays = [22, 23]", 'relays = [22, 4]\nactive = "high"', "lines.main: GPIO 4"),
        ("relay = 25", 'relay = 25\nactive = "low"', "health: GPIO 25"),
    ],
)
def test_lines_and_health_are_warned_of_too(building_of, old, new, names):
    (sentence,) = said(building_of(NOTHING_TO_SAY.replace(old, new)), "is pulled")
    assert sentence.startswith(names)


@pytest.mark.parametrize(
    ("pin", "bus"), [(2, "I²C"), (3, "I²C"), (7, "SPI"), (11, "SPI"), (14, "UART"), (15, "UART")]
)
def test_a_pin_of_a_bus_is_warned_of(building_of, pin, bus):
    building = building_of(NOTHING_TO_SAY.replace("sense = 26", f"sense = {pin}"))
    (sentence,) = said(building, "bus")
    assert sentence.startswith(f"supply: GPIO {pin} is one of the {bus} bus")


def test_a_supply_without_amps_is_unlimited_and_that_is_said(building_of):
    assert said(building_of(NOTHING_TO_SAY.replace("amps = 5.0", "")), "unlimited")


def test_a_supply_that_is_not_sensed_makes_exact_dials_conditional(building_of):
    (sentence,) = said(building_of(NOTHING_TO_SAY.replace("sense = 26", "")), "nobody sees")
    assert "24 V" in sentence
    assert "exact only while it does not" in sentence


def test_without_dials_nobody_needs_the_supply_sensed(building_of):
    assert said(building_of(LEAST), "nobody sees") == []


def test_zones_and_lines_without_figures_are_named(building_of):
    sentences = said(building_of(HOUSE), "draw nothing")
    assert [one.partition(":")[0] for one in sentences] == ["zones south, gong", "lines tower"]


def test_a_series_line_needs_no_count_of_dials(building_of):
    text = NOTHING_TO_SAY.replace("dials = 22", 'wired = "series"')
    assert said(building_of(text), "draw nothing") == []


def test_an_alternating_line_without_sense_is_told(building_of):
    assert said(building_of(NOTHING_TO_SAY.replace("sense = [5, 6]", "")), "only the gap")


def test_a_single_line_is_told_what_a_cut_means(building_of):
    (sentence,) = said(building_of(HOUSE), "cannot be told")
    assert sentence.startswith("lines.tower")


def test_a_zone_that_nothing_rings_is_named(building_of):
    (sentence,) = said(building_of(HOUSE), "no plan and no hole")
    assert sentence.startswith("zones gong:")


def with_debounces(lengths):
    pins = (4, 9, 10, 12, 13, 16, 19, 20, 21)
    return "".join(
        f'[panel.button{pin}]\npin = {pin}\ndoes = "stop"\ndebounce = "{length}ms"\n'
        for pin, length in zip(pins, lengths, strict=False)
    )


# Ten attributes a request (linux/gpio.h, GPIO_V2_LINE_NUM_ATTRS_MAX; from memory), four of them
# for the relays' levels and the kinds of line, and one each for the senses of relays and supply.
@pytest.mark.parametrize(
    ("text", "lengths", "warned"),
    [
        (LEAST, (10, 20, 30, 40, 50, 60), False),
        (LEAST, (10, 20, 30, 40, 50, 60, 10, 20, 30), False),
        (LEAST, (10, 20, 30, 40, 50, 60, 70), True),
        (LEAST + "[supply]\nsense = 26\n", (10, 20, 30, 40, 50), False),
        (LEAST + "[supply]\nsense = 26\n", (10, 20, 30, 40, 50, 60), True),
        (LEAST + "sense = 26\n", (10, 20, 30, 40, 50, 60), True),
        (NOTHING_TO_SAY, (10, 20, 30, 40), False),
        (NOTHING_TO_SAY, (10, 20, 30, 40, 50), True),
    ],
)
def test_more_lengths_of_debounce_than_the_kernel_takes_are_warned_of(
    building_of, text, lengths, warned
):
    sentences = said(building_of(text + with_debounces(lengths)), "debounce")
    assert bool(sentences) == warned
    assert all(f"{len(lengths)} different" in sentence for sentence in sentences)


# ── time zone data ───────────────────────────────────────────────────────────────────────────────


def test_older_zone_data_of_the_system_is_told_for_it_is_used_first():
    sentence = zone_data_advice("2025b", "2026f")
    assert sentence is not None
    assert "2025b" in sentence
    assert "2026f" in sentence


@pytest.mark.parametrize(
    ("system", "package"),
    [("2026f", "2026f"), ("2026g", "2026f"), (None, "2026f"), ("2025b", None), ("2027a", "2026f")],
)
def test_otherwise_nothing_is_told(system, package):
    assert zone_data_advice(system, package) is None


def test_the_systems_version_is_read_from_its_own_files(tmp_path):
    first, second, third = (tmp_path / name for name in "abc")
    second.mkdir()
    third.mkdir()
    (second / "tzdata.zi").write_text("# version 2025b\n# ddeps backzone\n")
    (third / "+VERSION").write_text("2024a\n")
    assert system_version([str(first), str(second), str(third)]) == "2025b"
    assert system_version([str(third)]) == "2024a"
    assert system_version([str(first)]) is None
    (second / "tzdata.zi").write_text("R d 1916 o\n")
    assert system_version([str(second)]) is None


def test_the_packages_version_is_ianas():
    version = package_version()
    assert version is not None
    assert version[:4].isdigit()
    assert version[4:].isalpha()
