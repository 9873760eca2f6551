"""Only an edit that the page has shown to a person can come back from that person to be saved."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from controller.page.edit_seal import Sealed, sealed, unsealed

EDIT = Sealed("20-timetable.toml", '[week]\r\nmon = "schön"\n\r', "f" * 64)


def test_an_edit_comes_back_to_the_byte_line_ends_and_all():
    assert unsealed("Ada", sealed("Ada", EDIT)) == EDIT


def test_another_person_cannot_save_it():
    assert unsealed("Bo", sealed("Ada", EDIT)) is None


def test_one_other_letter_breaks_the_seal():
    carried = sealed("Ada", EDIT)
    for place in range(0, len(carried), 7):
        other = "A" if carried[place] != "A" else "B"
        assert unsealed("Ada", carried[:place] + other + carried[place + 1 :]) is None


@given(st.text(), st.text())
def test_what_was_never_sealed_is_no_edit(person, carried):
    assert unsealed(person, carried) is None


@given(st.text(alphabet=st.characters(codec="utf-8")), st.text(max_size=20))
def test_any_text_can_be_carried(text, person):
    edit = Sealed("a.toml", text, "f")
    assert unsealed(person, sealed(person, edit)) == edit
