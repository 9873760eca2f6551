"""A tape read, folded or unfolded, in the text that a person wrote."""

from __future__ import annotations

import difflib

import pytest
from tape_weeks import SINCE, building, rings

from controller.building.file import building_of
from controller.building.sheets import Source
from controller.editing.keeper_file import EditRefused
from controller.editing.tape_changes import fold_change, unfold_change
from controller.editing.tape_fold import fold
from controller.editing.tape_unfold import unfold

HOUSE = """# a hall
[building]
timezone = "Europe/London"
[zones.north]
relay = 17
[zones.south]
relay = 18

[quiet]                     # as the pins stood
north = ["sun", "sat night"]   # Sunday first

[plans.regular]             # the week
rings = [
  { at = "12:00", zones = ["*"], for = "4s", says = "Noon" },  # all of them
]

[week]
mon = "regular"
tue = "regular"             # and no more
"""
TAPE = """
[tape]
length = "24h"
for = "4s"                  # long enough
[tape.holes]
south = ["08:30:00", "20:15"]
"""


def folded(text: str) -> str:
    house = building(text)
    change = fold_change({"house.toml": text}, house, fold(house, SINCE))
    assert change.file == "house.toml"
    assert rings(building(change.text)) == rings(house)
    return change.text


def unfolded(text: str) -> str:
    house = building(text)
    change = unfold_change({"house.toml": text}, house, unfold(house, SINCE))
    assert rings(building(change.text)) == rings(house)
    return change.text


def changed_lines(before: str, after: str) -> tuple[list[str], list[str]]:
    """Lines that go, and lines that come; blank ones aside."""
    diff = list(difflib.ndiff(before.splitlines(), after.splitlines()))
    gone, come = ([one[2:] for one in diff if one[0] == sign and one[2:]] for sign in "-+")
    return gone, come


def test_a_week_is_folded_and_all_else_stays_as_it_was_written():
    gone, come = changed_lines(HOUSE, folded(HOUSE))
    assert gone == [
        'north = ["sun", "sat night"]   # Sunday first',
        'mon = "regular"',
        'tue = "regular"             # and no more',
    ]
    rows = 'north = ["sun", "sat night", "mon night", "tue night", "wed", "thu", "fri", "sat day"]'
    assert come[0].startswith(rows)
    assert come[0].endswith("# Sunday first")
    assert "[tape]" in come
    assert 'length = "12h"' in come


def test_a_tape_is_unfolded_and_the_plan_it_comes_to_keeps_its_comments():
    gone, come = changed_lines(HOUSE + TAPE, unfolded(HOUSE + TAPE))
    assert set(gone) == {
        *TAPE.splitlines(),
        'mon = "regular"',
        'tue = "regular"             # and no more',
    } - {""}
    assert '  { at = "12:00", zones = ["*"], for = "4s", says = "Noon" },  # all of them' in come
    assert '  { at = "08:30", zones = ["south"], for = "4s" },' in come
    assert 'tue = "tape-mon"             # and no more' in come
    assert 'wed = "tape-wed"' in come


def test_folding_what_was_unfolded_and_unfolding_that_again_uses_the_plans_that_are_there():
    once = unfolded(HOUSE.replace("[week]\n", "[week]\n#").replace("tue", "#tue") + TAPE)
    again = unfolded(folded(once))
    assert building(again).plans.keys() == building(once).plans.keys()
    assert building(again).week == building(once).week


def test_what_would_change_two_files_is_refused_and_says_what_to_do():
    head, rest = HOUSE.split("[quiet]")
    quiet, plans = rest.split("[plans.regular]")
    texts = {"10.toml": head + "[quiet]" + quiet, "20.toml": "[plans.regular]" + plans}
    house = building_of("house", [Source(file, text.encode()) for file, text in texts.items()])
    with pytest.raises(EditRefused, match=r"Put \[week\], \[quiet\], \[tape\] and"):
        fold_change(texts, house, fold(house, SINCE))
