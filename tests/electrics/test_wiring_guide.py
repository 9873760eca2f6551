"""The wiring guide's figures are the program's, and its run worked by hand is what check says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from controller.building.conductors import conductor
from controller.building.file import read
from controller.cli.spoken import paragraph
from controller.electrics.contacts import make_amps
from controller.electrics.findings import findings
from controller.electrics.fuse_list import input_amps, input_ohms
from controller.electrics.fuses import OPENS_AT, STEADY_SHARE, most_fuse_amps
from controller.electrics.limits import class_2_fuse_amps
from controller.electrics.sheet import circuit_rows
from controller.electrics.supply import window
from controller.electrics.wire import COOL, WARM, ohms, ohms_per_km

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "wiring"
PAGES = {page.name: page.read_text(encoding="utf-8") for page in FOLDER.glob("*.md")}
CIRCUITS = PAGES["circuits.md"]
SCHOOL = read(ROOT / "config" / "marrow-lane")
SUPPLY = window(SCHOOL.supply, SCHOOL.battery)


def rows(first: str) -> list[list[str]]:
    """The rows of the table whose head begins so."""
    table = CIRCUITS[CIRCUITS.index(f"| {first} |") :].split("\n\n")[0]
    return [[cell.strip() for cell in row.strip("|").split("|")] for row in table.splitlines()[2:]]


def test_what_check_says_of_the_yard_stands_there_as_it_says_it():
    (yard,) = findings(SCHOOL, None)
    assert paragraph(f"{yard.circuit}: {yard.says}") in CIRCUITS


def test_the_yard_worked_by_hand_has_the_sheets_figures():
    run = dict(rows("step"))
    yard = next(row for row in circuit_rows(SCHOOL) if row.circuit == "zones.yard")
    assert f"= {yard.amps:g} A" in run["current"]
    lost = SUPPLY.discharged - yard.worst_volts
    both = lost / yard.amps
    assert run["both conductors, 40 °C"].endswith(f"= {both:.2f} Ω")
    assert run["drop"].endswith(f"= {lost:.2f} V")
    left = run["left of 21.0 V, the battery's end"]
    assert left.startswith(f"{yard.worst_volts:.1f} V; {yard.needed_volts:g} V are needed")
    room = SUPPLY.discharged - yard.needed_volts
    assert f"{room:.1f} V may be lost" in left
    for size in ("1.5", "2.5"):
        loop = 2 * ohms(conductor(f"{size} mm2"), 140, WARM)
        said = run[f"{size} mm² instead"]
        assert f"= {loop:.2f} Ω, {yard.amps * loop:.2f} V lost" in said
        assert ("enough" in said) == (yard.amps * loop <= room)
    assert run["or nearer, in 1 mm²"].endswith(f"= {140 * room / lost:.1f} m")
    assert f"= {lost / 2:.2f} V lost: too much" in run["or one bell only there"]
    assert f"{yard.amps / yard.fuse_amps:.0%}".replace("%", " %") in run["fuse: load"]
    assert yard.amps <= STEADY_SHARE * yard.fuse_amps + 1e-9
    assert f"bears {yard.wire_bears_amps:g} A" in run["fuse: wire"]
    assert f"= {yard.short_amps:.2f} A" in run["fuse: short at the end"]
    assert f"{OPENS_AT * yard.fuse_amps:g} A: it opens" in run["fuse: short at the end"]
    r, c = (yard.snubber[:2], yard.snubber[2:])
    assert f"R {r[0]:g} to {r[1]:g} Ω, C {c[0]:g} to {c[1]:g} µF" in run["suppressor, 24 V"]


@pytest.mark.parametrize("row", rows("wire"), ids=lambda row: row[0])
def test_resistance_and_fuse_of_every_wire_in_the_table(row):
    wire = conductor(row[0].replace("²", "2"))
    assert row[1:3] == [f"{ohms_per_km(wire, warm):#.3g}" for warm in (COOL, WARM)]
    assert row[3] == f"{most_fuse_amps(wire):g} A"


def test_the_supplys_window_and_its_class_2_fuse():
    for volts in SUPPLY:
        assert f"{volts:.1f} V" in CIRCUITS
    assert f"{class_2_fuse_amps(24):.2f} A at 24 V" in CIRCUITS
    assert f"{class_2_fuse_amps(SUPPLY.boosted):.2f} A at {SUPPLY.boosted:.1f} V" in CIRCUITS


def test_what_an_input_draws():
    resistor, led = input_ohms(SCHOOL), 1.2
    amps = [(volts - led) / resistor for volts in (SUPPLY.discharged, SUPPLY.boosted, 12)]
    assert amps[1] == pytest.approx(input_amps(SCHOOL))
    assert f"{resistor / 1e3:g} kΩ gives" in CIRCUITS
    assert f"{amps[0] * 1e3:.1f} mA at 21 V and {amps[1] * 1e3:.1f} mA at 29.4 V" in CIRCUITS
    assert f"{amps[1] ** 2 * resistor:.2f} W" in CIRCUITS
    assert f"{amps[2] * 1e3:.1f} mA at 12 V" in CIRCUITS
    more = [(volts - led) / 1800 for volts in (SUPPLY.discharged, SUPPLY.boosted)]
    said = " ".join(PAGES["old-building.md"].split())
    assert f"{more[0] * 1e3:.1f} mA at 21 V, {more[1] * 1e3:.1f} mA and" in said
    assert f"{more[1] ** 2 * 1800:.2f} W" in said


def test_the_norths_contact_and_suppressor():
    north = circuit_rows(SCHOOL)[0]
    assert make_amps(north.most_amps, SUPPLY.boosted, north.snubber.most_ohms) == pytest.approx(
        north.contact_makes_amps
    )
    assert f"{north.contact_makes_amps:.2f} A in all" in CIRCUITS


@pytest.mark.parametrize("page", PAGES)
def test_every_link_leads_somewhere(page):
    for target in re.findall(r"\]\(([^)]+)\)", PAGES[page].replace("\n", " ")):
        name, _, place = target.partition("#")
        assert (FOLDER / name).exists(), target
        if place:
            heads = re.findall(r"^#+ (.+)$", PAGES[name], re.MULTILINE)
            marks = {re.sub(r"[^\w -]", "", head.lower()).replace(" ", "-") for head in heads}
            assert place in marks, target
