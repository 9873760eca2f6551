"""A rehearsal as a keeper asks for it on the page."""

from __future__ import annotations

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.building.civil import SECOND, CivilTime
from controller.page.rehearsal_asked import (
    RehearsalForm,
    form_of_fields,
    script_of,
    usual_form,
)
from controller.page.rehearsal_process import plain_of_script, script_of_plain
from controller.rehearsal.script import Cut, Script, Step

CIVIL = CivilTime("America/Halifax")
WEEK = RehearsalForm("2026-11-23", "2026-11-29")


def at(*local: int) -> int:
    return CIVIL.instant(datetime(*local))


def test_the_last_day_is_played_to_its_end():
    assert script_of(WEEK, CIVIL) == (Script(at(2026, 11, 23), at(2026, 11, 30)), {})


def test_a_cut_and_a_step_back_are_taken_from_their_fields():
    form = WEEK._replace(
        cut_at="2026-11-25T08:29", cut_for="5m", step_at="2026-11-26T10:00", step_by="-90s"
    )
    script, wrong = script_of(form, CIVIL)
    assert wrong == {}
    assert script.cuts == (Cut(at(2026, 11, 25, 8, 29), 300 * SECOND),)
    assert script.steps == (Step(at(2026, 11, 26, 10), -90 * SECOND),)
    assert script_of_plain(plain_of_script(script)) == script


@pytest.mark.parametrize(
    ("form", "fields"),
    [
        (RehearsalForm(), ["first", "last"]),
        (WEEK._replace(last="2026-11-22"), ["last"]),
        (WEEK._replace(last="2026-12-24"), ["last"]),
        (WEEK._replace(cut_at="2026-11-25T08:29"), ["cut_for"]),
        (WEEK._replace(cut_for="5m"), ["cut_at"]),
        (WEEK._replace(cut_at="2026-12-25T08:29", cut_for="0s"), ["cut_at", "cut_for"]),
        (WEEK._replace(step_at="2026-11-25T08:29", step_by="--5s"), ["step_by"]),
        (WEEK._replace(step_at="2026-11-25T08:29", step_by="25h"), ["step_by"]),
    ],
)
def test_what_makes_no_sense_is_told_at_its_field(form, fields):
    script, wrong = script_of(form, CIVIL)
    assert script is None
    assert list(wrong) == fields


def test_thirty_one_days_are_the_most():
    script, _ = script_of(WEEK._replace(last="2026-12-23"), CIVIL)
    assert script is not None


def test_the_coming_week_stands_in_the_form_at_first():
    assert usual_form(CIVIL, at(2026, 11, 25, 23)) == RehearsalForm("2026-11-25", "2026-12-01")


@given(st.dictionaries(st.sampled_from(RehearsalForm._fields), st.text()))
def test_whatever_is_typed_is_taken_or_told_as_wrong(fields):
    script, wrong = script_of(form_of_fields(fields), CIVIL)
    assert (script is None) == bool(wrong)
