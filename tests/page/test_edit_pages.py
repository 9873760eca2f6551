"""The keeper's tables changed from the page: shown first, then saved, then taken back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from keepers import Keeper
from keepers_desk import HOUSE


def tomorrow() -> datetime:
    return datetime.now(UTC) + timedelta(days=1)


def edits(daemon) -> list[str]:
    return [order for order in daemon.heard if order == "edit"]


@pytest.fixture
def now_text(daemon):
    """What the keeper's file holds now."""
    return lambda: daemon.path.read_bytes().decode()


# ── the story ────────────────────────────────────────────────────────────────────────────────────


def test_an_edit_that_would_silence_tomorrow_is_seen_before_it_is_saved(keeper, daemon, now_text):
    day = tomorrow()
    shown = keeper.sends(
        keeper.opens("/edit/calendar"), "/edit/calendar/add", on=f"{day:%Y-%m-%d}", plan="none"
    )
    assert f"Tomorrow, {day:%a} {day.day} {day:%B}: nothing would ring (3 rings now)" in shown.words
    assert "Nothing is saved yet" in shown.words
    assert "Save, although bells fall silent" in shown.words
    assert now_text() == HOUSE
    assert edits(daemon) == []


def test_an_edit_from_form_to_file_keeps_every_other_byte_and_is_undone_to_the_same(
    keeper, daemon, now_text
):
    plan = keeper.opens("/edit/plan/daily")
    shown = keeper.sends(
        plan, "/edit/plan/daily/add", at="09:20", zones=["north"], **{"for": "3", "says": "Change"}
    )
    assert "09:20 north: new, 3 s" in shown.words
    assert "daily: the ring at 09:20 is added" in shown.words
    saved = keeper.sends(shown, "/edit/save")
    assert "is written; the version before it is kept. The file is reloaded." in saved.words
    new = '  { at = "09:20", zones = ["north"], for = "3s", says = "Change" },\n'
    place = HOUSE.index('  { at = "23:59:59"')
    assert now_text() == HOUSE[:place] + new + HOUSE[place:]
    back = keeper.sends(saved, "/edit/undo")
    assert "09:20 north: gone" in back.words
    keeper.sends(back, "/edit/save")
    assert now_text() == HOUSE
    assert edits(daemon) == ["edit", "edit"]


def test_after_the_last_edit_there_is_nothing_to_take_back(keeper):
    said = keeper.sends(keeper.opens("/edit"), "/edit/undo", status=409)
    assert "Nothing is to be undone" in said.words


# ── plans ────────────────────────────────────────────────────────────────────────────────────────


def test_several_times_are_as_many_rings(keeper, now_text):
    plan = keeper.opens("/edit/plan/short")
    changes = {"at": "11:00, 12:00:30", "zones": ["north", "south"], "strokes": "1, 0.5, 1"}
    keeper.sends(keeper.sends(plan, "/edit/plan/short/add", **changes), "/edit/save")
    assert '{ at = "11:00", zones = ["north", "south"], strokes = [1, 0.5, 1] }' in now_text()
    assert '{ at = "12:00:30", zones = ["north", "south"], strokes = [1, 0.5, 1] }' in now_text()


def test_a_ring_at_another_time_keeps_its_comment(keeper, now_text):
    ring = keeper.opens("/edit/plan/daily/ring/0")
    fields = dict(ring.form("/edit/plan/daily/ring/0").fields)
    assert (fields["at"], fields["for"], fields["says"]) == ("08:30", "5s", "First class")
    shown = keeper.sends(ring, "/edit/plan/daily/ring/0", at="08:35")
    keeper.sends(shown, "/edit/save")
    assert now_text() == HOUSE.replace('at = "08:30"', 'at = "08:35"')


def test_rings_that_are_chosen_go(keeper, now_text):
    plan = keeper.opens("/edit/plan/daily")
    shown = keeper.sends(plan, "/edit/plan/daily/remove", ring=["1"])
    assert "23:59:59 north: gone" in shown.words
    keeper.sends(shown, "/edit/save")
    assert "23:59:59" not in now_text()


def test_none_chosen_is_said(keeper):
    said = keeper.sends(keeper.opens("/edit/plan/daily"), "/edit/plan/daily/remove", status=422)
    assert "Choose the rings that are to go." in said.words


def test_every_fault_appears_at_its_field_and_what_was_typed_is_kept(keeper, daemon):
    plan = keeper.opens("/edit/plan/daily")
    wrong = {"at": "8 o'clock", "zones": [], "for": "long", "strokes": "1, x", "says": "Oops"}
    answer = keeper.client.post(
        "/edit/plan/daily/add",
        data={**dict(plan.form("/edit/plan/daily/add").filled(**wrong))},
    )
    assert answer.status_code == 422
    for name in ("at", "zones", "for", "strokes"):
        assert f'id="{name}-wrong"' in answer.text, name
        assert '-wrong" aria-invalid="true"' in answer.text
    assert 'id="says-wrong"' not in answer.text
    assert 'value="8 o&#39;clock"' in answer.text
    assert 'value="Oops"' in answer.text
    assert edits(daemon) == []
    assert "preview" not in daemon.heard


def test_a_fault_that_is_of_no_field_stands_at_the_top(keeper):
    said = keeper.sends(keeper.opens("/edit/plan/daily"), "/edit/plan/daily/delete", status=422)
    assert '[week] mon = "daily": there is no plan "daily"' in said.words


def test_a_ring_that_another_makes_too_long_is_told_at_its_time(keeper):
    plan = keeper.opens("/edit/plan/daily")
    said = keeper.sends(
        plan, "/edit/plan/daily/add", status=422, at="08:30", zones=["north"], **{"for": "20"}
    )
    assert "longest" in said.words


def test_a_new_plan_is_made_as_another_is_and_an_unused_one_goes_again(keeper, now_text):
    shown = keeper.sends(keeper.opens("/edit/plan"), "/edit/plan", name="fair", like="short")
    keeper.sends(shown, "/edit/save")
    assert "[plans.fair]\nrings = [{ at" in now_text()
    gone = keeper.sends(keeper.opens("/edit/plan/fair"), "/edit/plan/fair/delete")
    keeper.sends(gone, "/edit/save")
    assert now_text() == HOUSE


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("", "expected small letters"),
        ("none", "expected small letters"),
        ("A b", "expected small"),
        ("a" * 41, "at most 40"),
        ("daily", "there is a plan daily already"),
    ],
)
def test_a_plan_needs_a_name_of_its_own(keeper, name, why):
    said = keeper.sends(keeper.opens("/edit/plan"), "/edit/plan", status=422, name=name)
    assert why in said.words


# ── week, calendar, quiet rows ───────────────────────────────────────────────────────────────────


def test_a_weekday_gets_another_plan(keeper, now_text):
    shown = keeper.sends(keeper.opens("/edit/week"), "/edit/week", wed="short", sun="")
    assert "Wed: daily → short; Sun: daily → no plan" in shown.words
    keeper.sends(shown, "/edit/save")
    assert 'wed = "short"' in now_text()
    assert "sun =" not in now_text()


def test_a_week_that_stays_as_it_is_needs_no_saving(keeper, daemon):
    said = keeper.sends(keeper.opens("/edit/week"), "/edit/week")
    assert "says so already: nothing is to be done" in said.words
    assert edits(daemon) == []


def test_an_entry_for_the_same_date_takes_the_place_of_the_first(keeper, now_text):
    page = keeper.opens("/edit/calendar")
    shown = keeper.sends(page, "/edit/calendar/add", on="2030-01-01", plan="short", says="Fair")
    assert "an entry for Tue 1 Jan 2030 is added, instead of none (New year)" in shown.words
    keeper.sends(shown, "/edit/save")
    assert now_text() == HOUSE.replace('"none"', '"short"').replace('"New year"', '"Fair"')


def test_an_entry_is_changed_and_removed(keeper, now_text):
    entry = keeper.opens("/edit/calendar/0")
    shown = keeper.sends(entry, "/edit/calendar/0", lift_quiet=["yes"])
    keeper.sends(shown, "/edit/save")
    assert "lift_quiet = true" in now_text()
    gone = keeper.sends(keeper.opens("/edit/calendar"), "/edit/calendar/remove", entry=["0"])
    keeper.sends(gone, "/edit/save")
    assert "[[calendar]]" not in now_text()


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"on": ""}, "on"),
        ({"on": "2030-02-30"}, "on"),
        ({"from": "2030-02-03", "on": ""}, "from"),
        ({"on": "", "from": "2030-02-03", "until": "2030-02-01"}, "until"),
        ({"on": "2030-02-01", "says": "x" * 300}, "says"),
    ],
)
def test_a_date_that_makes_no_sense_is_told_at_its_field(keeper, changes, field):
    form = keeper.opens("/edit/calendar").form("/edit/calendar/add")
    answer = keeper.client.post("/edit/calendar/add", data=dict(form.filled(**changes)))
    assert answer.status_code == 422
    assert f'id="{field}-wrong"' in answer.text


def test_a_zone_is_kept_quiet_on_half_days_that_are_ticked(keeper, now_text):
    page = keeper.opens("/edit/quiet")
    shown = keeper.sends(
        page, "/edit/quiet", **{"quiet-north": ["sat day", "sat night", "fri night"]}
    )
    assert "north: fri night, sat" in shown.words
    keeper.sends(shown, "/edit/save")
    quiet = 'south = ["sun night"]  # the caretaker sleeps\nnorth = ["fri night", "sat"]\n'
    assert quiet in now_text()


# ── safety ───────────────────────────────────────────────────────────────────────────────────────


def test_what_was_not_shown_is_not_saved(keeper, daemon):
    for edit in ("", "made.up", "x" * 10_000):
        mark, _ = keeper.mark()
        answer = keeper.client.post("/edit/save", data={"csrf": mark, "edit": edit})
        assert answer.status_code == 403
        assert "was not shown here" in answer.text
    assert edits(daemon) == []


def test_files_that_were_changed_meanwhile_are_not_written_over(keeper, daemon, now_text):
    shown = keeper.sends(keeper.opens("/edit/week"), "/edit/week", wed="short")
    by_hand = HOUSE.replace("# loud", "# very loud")
    daemon.path.write_text(by_hand)
    said = keeper.sends(shown, "/edit/save", status=409)
    assert "The files were changed since this edit was begun" in said.words
    assert now_text() == by_hand


def test_files_changed_by_hand_and_not_yet_taken_up_are_not_edited(keeper, daemon):
    page = keeper.opens("/edit/week")
    daemon.path.write_text(HOUSE.replace("# loud", "# very loud"))
    said = keeper.sends(page, "/edit/week", status=409, wed="short")
    assert "Let them be taken up first" in said.words


def test_a_form_of_files_that_are_gone_is_begun_again(keeper):
    old = keeper.opens("/edit/plan/daily")
    keeper.sends(keeper.sends(keeper.opens("/edit/week"), "/edit/week", wed="short"), "/edit/save")
    said = keeper.sends(old, "/edit/plan/daily/remove", status=409, ring=["0"])
    assert "begin again from them" in said.words


@pytest.mark.parametrize(
    "address",
    ["/edit/plan/nobody", "/edit/plan/daily/ring/2", f"/edit/plan/daily/ring/{'9' * 5000}"],
)
def test_what_is_not_there_is_said_not_to_be(keeper, address):
    keeper.opens(address, status=404)


def test_without_a_daemon_the_page_says_why_nothing_can_be_changed(keeper, daemon):
    daemon.close()
    said = keeper.opens("/edit/week", status=503)
    assert "The daemon writes the keeper’s file, and it does not answer." in said.words


@pytest.mark.parametrize("name", ["bo", "cy"])
def test_editing_is_for_those_who_may_edit(visit, name, daemon):
    other = Keeper(visit, name)
    for address in ("/edit", "/edit/week", "/edit/plan/daily", "/edit/quiet", "/edit/calendar"):
        other.opens(address, status=403)
        assert visit.post(address, data={"mon": "short"}).status_code in (403, 405)
    assert "Change the timetable" not in other.opens("/timetable").words
    assert "files" in daemon.heard, "the timetable was shown"
    assert "preview" not in daemon.heard


def test_nobody_sees_anything_without_signing_in(visit):
    for address in ("/edit", "/timetable", "/logbook", "/rehearse"):
        answer = visit.get(address, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, f"/sign-in?to={address}")


def test_an_edit_is_saved_once_however_often_it_is_sent(keeper, daemon):
    shown = keeper.sends(keeper.opens("/edit/week"), "/edit/week", wed="short")
    keeper.sends(shown, "/edit/save")
    assert "sent before" in keeper.sends(shown, "/edit/save", status=409).words
    assert edits(daemon) == ["edit"]


def test_the_logbook_tells_in_whose_name_an_edit_was_made(keeper, daemon):
    keeper.sends(keeper.sends(keeper.opens("/edit/week"), "/edit/week", wed="short"), "/edit/save")
    assert daemon.notes[0][0] == "ada"


def test_more_times_than_one_form_may_add_are_told_and_none_is_left_out(keeper):
    times = ", ".join(f"{number // 60:02d}:{number % 60:02d}" for number in range(51))
    page = keeper.opens("/edit/plan/daily")
    said = keeper.sends(
        page, "/edit/plan/daily/add", 422, at=times, zones=["north"], **{"for": "1"}
    )
    assert "51 times; expected at most 50 at once." in said.words


def test_many_lines_that_change_are_cut_with_a_count(keeper, daemon):
    keeper.sends(keeper.sends(keeper.opens("/edit/week"), "/edit/week", wed="short"), "/edit/save")
    daemon.path.write_text(daemon.path.read_text() + "# a line\n" * 1_000)
    daemon.reload()
    shown = keeper.sends(keeper.opens("/edit"), "/edit/undo")
    assert "lines more" in shown.words


def test_line_ends_and_a_mark_at_the_beginning_stay_as_they_are(keeper, daemon):
    before = ("\ufeff" + HOUSE.replace("\n", "\r\n")).encode()
    daemon.path.write_bytes(before)
    daemon.reload()
    shown = keeper.sends(keeper.opens("/edit/week"), "/edit/week", wed="short")
    keeper.sends(shown, "/edit/save")
    assert daemon.path.read_bytes() == before.replace(b'wed = "daily"', b'wed = "short"')
    keeper.sends(keeper.sends(keeper.opens("/edit"), "/edit/undo"), "/edit/save")
    assert daemon.path.read_bytes() == before
