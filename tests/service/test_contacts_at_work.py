"""Contacts that stick, weld, bounce and lag under a daemon at work: each is named, and the
interlock holds; the supply goes and comes; the health relay falls on any fault."""

from __future__ import annotations

import pytest

HOUSE = """
[supply]
sense = 26
[zones.yard]
relay = 27
sense = 24
longest = "5s"
[lines.main]
drive = "alternating"
relays = [22, 23]
impulse = "300ms"
gap = "300ms"
sense = [10, 11]
[health]
relay = 25
[tell]
command = ["/bin/sh", "-c", "echo $UNDERSTUDY_FAULT $UNDERSTUDY_CHANGE >> TOLD"]
"""


@pytest.fixture
def house(installation, tmp_path):
    installation.told = tmp_path / "told.txt"
    installation.write(lines=HOUSE.replace("TOLD", str(installation.told)))
    return installation


def lasting(house) -> dict[str, str]:
    return {
        fault["name"]: fault["says"] for fault in house.picture()["faults"] if not fault["until"]
    }


def well(house) -> bool:
    """By the health relay, which is what people see."""
    return bool(house.relay("health")["closed"])


def both_closed(house) -> bool:
    """Whether + and − were ever both commanded closed."""
    levels = {"GPIO22": 0, "GPIO23": 0}
    with house.board() as board:
        for change in board.log():
            if change.what == "pin" and change.name in levels:
                levels[change.name] = change.to
                if all(levels.values()):
                    return True
    return False


def dials(house) -> set[int]:
    with house.board() as board:
        return set(board.state()["lines"]["main"]["shows"])


def right(house) -> bool:
    line = house.picture()["lines"]["main"]
    return line["state"] == "right" and len(dials(house)) == 1


@pytest.mark.parametrize(
    ("fault", "named"), [("stuck", "stuck"), ("welded", "welded"), ("bouncing", "bouncing")]
)
def test_a_bell_s_contact_is_found_out_and_well_again_when_it_is_mended(house, fault, named):
    house.started()
    house.wait(lambda: well(house))
    with house.board() as board:
        board.fault("zones.yard", fault)
    house.ask("ring", zones=["yard"], **{"for": "500ms"})
    house.wait(lambda: f"zones.yard {named}" in lasting(house))
    house.wait(lambda: not well(house))
    house.wait(lambda: not house.relay("zones.yard")["level"])
    with house.board() as board:
        board.mend("zones.yard")
    house.ask("ring", zones=["yard"], **{"for": "500ms"})
    house.wait(lambda: not lasting(house))
    house.wait(lambda: well(house))
    assert any(f"fault: zones.yard {named}" in line for line in house.logbook())
    house.wait(lambda: f"zones.yard {named} ends" in house.told.read_text())
    assert f"zones.yard {named} begins" in house.told.read_text()
    assert "Acknowledged" in house.ask("acknowledge")
    assert house.picture()["faults"] == []


def test_a_slow_contact_is_called_slow(house):
    house.started()
    with house.board() as board:
        board.fault("zones.yard", "slow", 300)
    house.ask("ring", zones=["yard"], **{"for": "2s"})
    house.wait(lambda: "zones.yard slow" in lasting(house))


def test_a_welded_plus_keeps_minus_from_closing_and_the_dials_come_right_when_it_is_mended(house):
    house.write(lines=HOUSE.replace("TOLD", str(house.told)))
    house.dials_behind("main", 12)
    house.started()
    house.wait(lambda: house.changes("contact", "lines.main+"))
    with house.board() as board:
        board.fault("lines.main+", "welded")
    house.wait(lambda: "lines.main+ welded" in lasting(house))
    assert house.picture()["lines"]["main"]["state"] == "stands"
    at_rest = len(house.changes("pin", "GPIO23"))
    with pytest.raises(AssertionError):
        house.wait(lambda: len(house.changes("pin", "GPIO23")) > at_rest, seconds=2.0)
    with house.board() as board:
        board.mend("lines.main+")
    house.wait(lambda: right(house), 60)
    assert not both_closed(house)


def test_a_stuck_minus_is_given_again_until_the_dials_take_it(house):
    house.dials_behind("main", 6)
    house.started()
    house.wait(lambda: house.changes("contact", "lines.main+"))
    with house.board() as board:
        board.fault("lines.main-", "stuck")
    house.wait(lambda: "lines.main- stuck" in lasting(house))
    believed = house.picture()["lines"]["main"]["shows"]
    hours, minutes = map(int, believed.split(":"))
    assert dials(house) == {hours * 60 + minutes}, "what never closed is not counted"
    with house.board() as board:
        board.mend("lines.main-")
    house.wait(lambda: right(house), 120)
    assert not both_closed(house)


def test_dials_stand_while_the_24_v_is_away_and_come_right_after(house):
    house.dials_behind("main", 12)
    house.started()
    house.wait(lambda: house.changes("contact", "lines.main+"))
    with house.board() as board:
        board.supply(False)
    house.wait(lambda: "supply" in lasting(house))
    assert "waits" in house.ask("ring", zones=["north"], **{"for": "1s"})
    stands = dials(house)
    impulses = len(house.changes("pin", "GPIO22") + house.changes("pin", "GPIO23"))
    with pytest.raises(AssertionError):
        house.wait(
            lambda: (
                len(house.changes("pin", "GPIO22") + house.changes("pin", "GPIO23")) > impulses + 1
            ),  # one that was out when it went
            seconds=2.0,
        )
    with house.board() as board:
        board.supply(True)
    house.wait(lambda: house.changes("pin", "GPIO17"))  # what waited rings
    house.wait(lambda: right(house), 60)
    assert dials(house) != stands
