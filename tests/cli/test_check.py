"""`understudy check`: every fault, or what the file comes to."""

from __future__ import annotations

from pathlib import Path

import pytest
from houses import BROKEN, CROWDED, RINGLESS, SMALL, THIN, instead

AT = ("--at", "2026-11-25T08:00")


def section(out: str, heading: str) -> str:
    """What is below a heading, up to the empty line; "" where the section is left out."""
    return next((part for part in out.split("\n\n") if part.startswith(heading)), "")


def words(text: str) -> str:
    return " ".join(text.split())


def test_a_file_without_fault_is_summed_up_and_ends_with_0(understudy, small):
    said = understudy("check", small, *AT)
    assert said.code == 0
    assert said.err == ""
    assert "Elm House" in said.out
    assert "America/Halifax" in said.out
    assert "the dials leave 1.95 A for bells" in said.words
    assert "north North wing 4 bells, 1 A 10 soundings" in said.words
    assert "south 2 bells, 1 A 6 soundings" in said.words
    assert "main Classrooms alternating, every 60s 5 dials, 0.05 A" in said.words
    assert said.out.endswith(f"No fault in {small}.\n")


def test_every_fault_is_named_in_one_go_on_standard_error_and_ends_with_2(understudy, house):
    said = understudy("check", house(BROKEN))
    assert said.code == 2
    assert said.out == ""
    assert "Mars/Olympus" in said.err
    assert "99" in said.err
    assert "2 faults" in said.err


def test_a_file_that_is_not_there_is_a_bad_file(understudy, tmp_path):
    said = understudy("check", tmp_path / "nowhere.toml")
    assert said.code == 2
    assert "nowhere.toml" in said.err


def test_all_that_is_said_fits_in_80_columns(understudy, small, house):
    for path in (small, house(CROWDED)):
        lines = understudy("check", path, *AT).out.splitlines()
        assert max(len(line) for line in lines if str(path) not in line) <= 80


def test_the_next_soundings_are_listed(understudy, small):
    next_ones = words(section(understudy("check", small, *AT).out, "Next soundings"))
    assert "Wed 2026-11-25 08:30:00 in 30 min north 5s First class" in next_ones


def test_plans_in_use_are_listed_with_their_dates_and_the_unused_named(understudy, small, house):
    plans = words(section(understudy("check", small, *AT).out, "Plans"))
    assert "regular Mon, Tue, Wed, Thu, Fri, Sat 330 days" in plans
    assert "none calendar 16 days, first Sat 2026-12-19 (Winter break)" in plans
    plans = section(understudy("check", house(CROWDED), *AT).out, "Plans")
    assert "Not used in that time: spare." in plans


def test_merges_over_longest_and_over_a_minute_are_listed_once_for_all_their_days(
    understudy, house
):
    limits = words(section(understudy("check", house(CROWDED), *AT).out, "Cut short"))
    assert "merging: 57 days, first Mon 2026-11-30" in limits
    assert "08:00:00 hall ends after 10s (longest)" in limits
    assert "08:00:12 hall is not rung (longest)" in limits
    # 10 s and 9 s: what was closed at 09:00 leaves 3 s of the 12 s a minute.
    assert "09:00:20 hall ends after 3s (a-minute)" in limits


def test_waits_for_the_supply_are_listed_with_how_long(understudy, house):
    waits = words(section(understudy("check", house(CROWDED), *AT).out, "Waiting"))
    assert "waiting: 57 days, first Tue 2026-12-01 10:00:00 west waits 4s" in waits
    assert "11:00:01" not in waits


def test_a_ring_that_the_supply_never_has_room_for_within_grace_is_listed(understudy, house):
    never = words(section(understudy("check", house(CROWDED), *AT).out, "Never rung"))
    assert "11:00:01 west cannot begin within 30s" in never


def test_a_wait_across_midnight_belongs_to_the_date_of_its_ring(understudy, house):
    text = (
        CROWDED
        + """wed = "after"
[plans.before]
rings = [{ at = "23:59:50", zones = ["east"], for = "35s" }]
[plans.after]
rings = [{ at = "00:00", zones = ["west"], for = "4s" }]
"""
    )
    text = text.replace('tue = "waiting"', 'tue = "before"')
    waits = words(section(understudy("check", house(text), *AT).out, "Waiting"))
    assert waits.endswith("after: 58 days, first Wed 2026-11-25 00:00:00 west waits 25s")


def test_rings_that_a_clock_change_moves_are_listed_with_what_they_are_read_as(understudy, house):
    # Oslo, 2027: clocks go on at 02:00 on 28 March, back at 03:00 on 31 October.
    moved = words(section(understudy("check", house(CROWDED), *AT).out, "Moved"))
    assert "Sun 2027-03-28 02:30:00 hall does not occur; rings at 03:30:00" in moved
    assert "Sun 2027-10-31 02:30:00 hall occurs twice; rings the first time" in moved
    assert "01:59:00" not in moved


def test_rings_silenced_by_quiet_rows_are_counted_by_zone_with_examples(understudy, small):
    silenced = words(section(understudy("check", small, *AT).out, "Silenced"))
    assert "north 2 rings Sat 2026-11-28 08:30, Sat 2026-11-28 12:00" in silenced
    assert "south" not in silenced


def test_sections_with_nothing_to_say_are_left_out(understudy, house):
    said = understudy("check", house(RINGLESS))
    assert said.code == 0
    for heading in ("Lines", "Next", "Cut", "Waiting", "Never", "Moved", "Silenced"):
        assert section(said.out, heading) == ""


def test_an_unlimited_supply_is_said(understudy, house):
    assert "taken as unlimited" in understudy("check", house(instead("amps = 2.0\n", ""))).words


def test_a_supply_that_nobody_senses_is_said(understudy, house):
    said = understudy("check", house(instead("sense = 26\n", "")))
    assert "nobody sees the 24 V fail" in said.words


def test_a_pin_whose_pull_tends_to_close_its_relay_is_said(understudy, house):
    said = understudy("check", house(instead("relay = 18", "relay = 5")))
    assert "GPIO 5 is pulled up from power-on" in said.words


def test_versions_of_zone_data_and_holidays_are_shown(understudy, small, house):
    assert "zone data 20" in understudy("check", small).out
    assert "holidays library" not in understudy("check", small).out
    with_holidays = SMALL + '[holidays]\ncountry = "CA"\nsubdivision = "NS"\n'
    said = understudy("check", house(with_holidays), *AT)
    assert "public holidays of CA-NS by the holidays library 0." in said.out
    assert "none public holidays" in said.words


@pytest.mark.parametrize("at", ["yesterday", "2026-11-31", "2026-11-25T08:00Z", "1969-01-01"])
def test_an_at_that_is_no_local_time_of_ours_is_refused(understudy, small, at):
    said = understudy("check", small, "--at", at)
    assert said.code == 2
    assert "--at" in said.err
    assert at in said.err


def test_what_cannot_work_electrically_is_said_with_what_to_change(understudy):
    said = understudy("check", Path(__file__).parents[2] / "config/marrow-lane", *AT)
    electrics = words(section(said.out, "Electrics"))
    assert "zones.yard: 2 bells, 1.2 A, at the end of 140 m of 1 mm²" in electrics
    assert "Take 2.5 mm² or thicker" in electrics


def test_a_line_that_will_not_work_is_refused_in_words_that_tell_what_to_change(understudy, house):
    said = understudy("check", house(THIN), *AT)
    assert "Traceback" not in said.err
    # by hand: 21.0 V − 0.48 A × 2 × 400 m × 36.0 Ω/km (IEC 60228) × 1.0786 (40 °C) = 6.09 V
    electrics = words(section(said.out, "Electrics"))
    assert electrics == (
        "Electrics · lines.attic: 40 dials, 0.48 A, at the end of 400 m of 0.5 mm²: where the "
        "supply is down to 21 V, the last has 6.09 V and needs 18 V. Take 4 mm² or thicker, or a "
        "supply no farther than 80 m of cable away, or no more than 8 dials on this run."
    )
    last = said.words[said.words.rindex("No fault in") :]
    assert last.endswith("but not all of it will work: see Electrics, lines.attic.")
    # The daemon runs it, for the rest of a house works: it is no fault of the file.
    assert said.code == 0


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ('"0.5 mm2"', '"4 mm2"'),
        ("run_metres = 400", "run_metres = 80"),
        ("dials = 40", "dials = 8"),
    ],
)
def test_each_change_that_it_tells_makes_the_line_work(understudy, house, was, now):
    assert THIN.count(was) == 1
    said = understudy("check", house(THIN.replace(was, now)), *AT)
    assert section(said.out, "Electrics") == ""
    assert "No fault in" in said.out
    assert "not all of it will work" not in said.words
