"""A rehearsal from the page: one at a time, drawn, with what would be missed."""

from __future__ import annotations

import time

import pytest
from keepers import Keeper

from controller.page import rehearse_pages
from controller.page.rehearsals import Rehearsals

LINE = '[lines.main]\ntitle = "Classrooms"\ndrive = "alternating"\nrelays = [5, 6]\n'


@pytest.fixture(autouse=True)
def none_before(monkeypatch):
    """Each test's page has rehearsed nothing yet, and is patient, as a busy machine takes long."""
    found = Rehearsals()
    monkeypatch.setattr(rehearse_pages, "_REHEARSALS", found)
    monkeypatch.setattr(rehearse_pages, "_PATIENCE_SECONDS", 60.0)
    yield found
    found.end()


def test_a_cut_across_a_ring_is_drawn_and_the_missed_ring_listed(keeper, daemon):
    daemon.path.write_text(daemon.path.read_text() + LINE)
    daemon.reload()
    said = keeper.sends(
        keeper.opens("/rehearse"),
        "/rehearse",
        first="2026-11-25",
        last="2026-11-25",
        cut_at="2026-11-25T08:29",
        cut_for="5m",
    )
    for part in (
        "The last rehearsal: 2026-11-25 to 2026-11-25; no power from 2026-11-25 08:29 for 5m",
        "1 sounding, 1439 impulses, 2 missed",
        "main, Classrooms: at the end the dials show 11:59, right",
        "Wed 25 Nov 08:30:00 north the controller was off",
        "Wed 25 Nov daily 1 2 1439",
    ):
        assert part in said.words, said.words
    assert "<svg" in keeper.client.get("/rehearse").text


def test_what_makes_no_sense_is_told_at_its_field(keeper):
    form = keeper.opens("/rehearse").form("/rehearse")
    answer = keeper.client.post("/rehearse", data=dict(form.filled(last="2020-01-01")))
    assert answer.status_code == 422
    assert 'id="last-wrong"' in answer.text


def test_a_second_is_refused_while_one_is_under_way_and_it_can_be_ended(
    keeper, none_before, monkeypatch
):
    monkeypatch.setattr(rehearse_pages, "_PATIENCE_SECONDS", 0.0)
    page = keeper.opens("/rehearse")
    first = keeper.sends(page, "/rehearse", first="2026-11-01", last="2026-12-01")
    assert "Under way" in first.words
    second = keeper.sends(page, "/rehearse", status=409)
    assert "there is one at a time" in second.words
    keeper.sends(first, "/rehearse/end")
    assert none_before.last.done.wait(20)
    assert "It was ended." in keeper.opens("/rehearse").words


def test_it_gives_way_to_everything_else(keeper, none_before, monkeypatch):
    monkeypatch.setattr(rehearse_pages, "_PATIENCE_SECONDS", 0.0)
    keeper.sends(keeper.opens("/rehearse"), "/rehearse", first="2026-11-01", last="2026-12-01")
    pid = none_before.last.process.pid
    deadline = time.monotonic() + 20
    while True:
        with open(f"/proc/{pid}/stat") as file:
            nice = int(file.read().rpartition(")")[2].split()[16])  # proc(5): field 19
        if nice == 19:
            break
        assert time.monotonic() < deadline, "it never gave way"
        time.sleep(0.02)


def test_without_a_daemon_the_files_are_rehearsed(keeper, daemon):
    daemon.close()
    said = keeper.sends(
        keeper.opens("/rehearse"), "/rehearse", first="2026-11-25", last="2026-11-25"
    )
    assert "3 soundings" in said.words


def test_what_somebody_asked_for_last_stands_in_the_form_for_them_alone(keeper, visit):
    asked = {"first": "2026-11-25", "last": "2026-11-26", "step_at": "2026-11-25T10:00"}
    keeper.sends(keeper.opens("/rehearse"), "/rehearse", **asked, step_by="-90s")
    form = dict(keeper.opens("/rehearse").form("/rehearse").filled())
    assert asked.items() <= form.items()
    assert form["step_by"] == "-90s"
    other = dict(Keeper(visit, "bo").opens("/rehearse").form("/rehearse").filled())
    assert other["step_by"] == ""


def test_it_is_for_those_who_may_act(visit):
    look = Keeper(visit, "cy")
    look.opens("/rehearse", status=403)
