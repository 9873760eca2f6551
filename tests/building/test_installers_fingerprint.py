"""The fingerprint of the installer's tables: it stands while only the keeper's change."""

from __future__ import annotations

from controller.building.differences import installers_fingerprint
from controller.building.file import building_of
from controller.building.sheets import Source

WIRING = """
[building]
name = "Elm House"
timezone = "America/Halifax"
[zones.north]
relay = 17
[zones.south]
relay = 18
"""
TIMETABLE = '[plans.regular]\nrings = [{ at = "08:30", zones = ["north"], for = "5s" }]\n'


def fingerprint(wiring=WIRING, timetable=TIMETABLE):
    files = [Source("10.toml", wiring.encode()), Source("20.toml", timetable.encode())]
    return installers_fingerprint(building_of("elm", files))


def test_what_the_keeper_changes_leaves_it_as_it_is():
    assert fingerprint(timetable=TIMETABLE.replace("08:30", "08:40")) == fingerprint()
    assert fingerprint(timetable="") == fingerprint()


def test_how_a_file_is_laid_out_does_not_count():
    assert fingerprint(WIRING.replace("relay = 17", 'relay = 17 # its pin\nactive = "high"')) == (
        fingerprint()
    )


def test_another_pin_name_or_order_does():
    swapped = WIRING.replace("17", "99").replace("18", "17").replace("99", "18")
    another = [
        WIRING.replace("17", "19"),
        WIRING.replace("north", "nord"),
        swapped,
        WIRING.replace("[zones.south]\nrelay = 18\n", ""),
        WIRING.replace("Elm", "Oak"),
        WIRING + "sense = 24\n",
    ]
    assert fingerprint(timetable="") not in {fingerprint(text, "") for text in another}
    assert len({fingerprint(text, "") for text in another}) == len(another)
