"""The keeper's rules for calendar files, and what an import writes into the calendar."""

from __future__ import annotations

import pytest

from controller.building.faults import Faults
from controller.building.file import building_of
from controller.building.model import Building
from controller.building.sheets import Source

LEAST = '[building]\ntimezone = "UTC"\n[zones.north]\nrelay = 17\n[plans.exams]\nrings = []\n'
EVENT = 'event = { calendar = "Year", uid = "7@elm.example", mark = "4f1c9a02" }'
ENTRY = '[[calendar]]\non = 2026-12-18\nplan = "none"\n'


def read(text: str) -> Building:
    return building_of("x", [Source("x", (LEAST + text).encode())])


def test_rules_keep_their_order_and_their_defaults():
    rules = read(
        '[[import]]\nwords = ["exam"]\nplan = "exams"\ntimed = true\n'
        '[[import]]\ncategories = ["Closed", "Holiday"]\nplan = "usual"\nlift_quiet = true\n'
    ).imports
    assert [(one.words, one.categories, one.plan) for one in rules] == [
        (("exam",), (), "exams"),
        ((), ("Closed", "Holiday"), "usual"),
    ]
    assert [(one.timed, one.lift_quiet) for one in rules] == [(True, False), (False, True)]


def test_a_file_without_rules_has_none():
    assert read("").imports == ()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[[import]]\nwords = ["a"]\n', "[[import]] entry 1 plan: is required"),
        ('[[import]]\nplan = "none"\n', "fits no event; expected categories, words, or both"),
        ('[[import]]\nwords = []\nplan = "none"\n', "expected a list of 1 to 100 texts"),
        ('[[import]]\nwords = [" "]\nplan = "none"\n', 'wrong in it: " "'),
        ('[[import]]\nwords = "a"\nplan = "none"\n', "expected a list of 1 to 100 texts"),
        ('[[import]]\nwords = ["a"]\nplan = "exam"\n', 'no plan "exam"; did you mean "exams"?'),
        ('[[import]]\nword = ["a"]\nplan = "none"\n', 'no such key; did you mean "words"?'),
        ('[import]\nwords = ["a"]\nplan = "none"\n', "expected [[import]], in double brackets"),
        (ENTRY + 'event = "7@elm.example"\n', "expected what `understudy calendar import` wrote"),
        (ENTRY + EVENT.replace("uid", "uuid"), "expected what `understudy calendar import` wrote"),
    ],
)
def test_a_fault_of_a_rule_is_told(text, message):
    with pytest.raises(Faults) as told:
        read(text)
    assert message in str(told.value)


def test_an_entry_knows_the_event_that_it_was_imported_from():
    (entry,) = read(ENTRY + EVENT).calendar
    assert (entry.event.calendar, entry.event.uid, entry.event.mark) == (
        "Year",
        "7@elm.example",
        "4f1c9a02",
    )
    assert read(ENTRY).calendar[0].event is None
