"""`understudy rehearse`: JSON Lines, and the table for people."""

from __future__ import annotations

import json

import pytest
from houses import CROWDED, SMALL

DAY = ("--from", "2026-11-25", "--until", "2026-11-26")
MORNING = ("--from", "2026-11-25T08:29:30", "--until", "2026-11-25T08:31:30")


def records(said):
    assert said.code == 0, said.err
    return [json.loads(line) for line in said.out.splitlines()]


def test_with_json_each_record_is_one_line_and_the_end_record_comes_last(understudy, small):
    said = understudy("rehearse", small, *MORNING, "--json")
    assert said.out.splitlines() == [
        '{"at":"2026-11-25T08:30:00-04:00","event":"impulse","line":"main","polarity":"+",'
        '"shows":"08:30"}',
        '{"at":"2026-11-25T08:30:00-04:00","event":"ring","zone":"north",'
        '"due":"2026-11-25T08:30:00-04:00","seconds":5.0,"says":"First class"}',
        '{"at":"2026-11-25T08:31:00-04:00","event":"impulse","line":"main","polarity":"-",'
        '"shows":"08:31"}',
        '{"at":"2026-11-25T08:31:30-04:00","event":"end","rings":1,"impulses":2,"missed":0,'
        '"lines":{"main":{"shows":"08:31","right":true,"doubtful":false}}}',
    ]


def test_until_is_exclusive_and_a_bare_date_is_its_midnight(understudy, small):
    all_day = records(understudy("rehearse", small, *DAY, "--json"))
    assert all_day[0]["at"] == "2026-11-25T00:01:00-04:00"
    assert all_day[-2]["at"] == "2026-11-25T23:59:00-04:00"
    assert all_day[-1]["at"] == "2026-11-26T00:00:00-04:00"


def test_only_rings_leaves_impulses_out_and_the_end_record_whole(understudy, small):
    rings = records(understudy("rehearse", small, *DAY, "--json", "--only", "rings"))
    assert [one["event"] for one in rings] == ["ring", "ring", "ring", "end"]
    assert rings[-1]["impulses"] == 1439


def test_only_impulses_leaves_rings_out(understudy, small):
    impulses = records(understudy("rehearse", small, *MORNING, "--json", "--only", "impulses"))
    assert [one["event"] for one in impulses] == ["impulse", "impulse", "end"]
    assert impulses[-1]["rings"] == 1


def test_only_is_for_rings_or_impulses(understudy, small):
    said = understudy("rehearse", small, *DAY, "--only", "bells")
    assert said.code == 2
    assert "rings" in said.err
    assert "impulses" in said.err


def test_dials_begin_where_they_are_said_to_stand(understudy, small):
    said = understudy(
        "rehearse", small, *MORNING, "--json", "--dials", "main=08:28,+", "--only", "impulses"
    )
    first = records(said)[0]
    assert first["polarity"] == "-"
    assert first["shows"] == "08:29"
    assert first["at"] == "2026-11-25T08:29:30-04:00"


def test_a_12_hour_face_may_be_read_either_way(understudy, small):
    for written in ("main=08:29", "main=20:29"):
        said = understudy("rehearse", small, *MORNING, "--json", "--dials", written)
        assert records(said)[0]["shows"] == "08:30"


@pytest.mark.parametrize(
    ("written", "wrong"),
    [
        ("main", "LINE=HH:MM"),
        ("main=8:30", "LINE=HH:MM"),
        ("main=24:00", "hour from 00 to 23"),
        ("main=08:30:30", "every 60s"),
        ("mian=08:30", 'did you mean "main"?'),
    ],
)
def test_dials_that_make_no_sense_are_refused_with_what_was_expected(
    understudy, small, written, wrong
):
    said = understudy("rehearse", small, *DAY, "--dials", written)
    assert said.code == 2
    assert "--dials" in said.err
    assert wrong in said.err


def test_a_line_is_set_once_and_a_single_line_has_no_polarity(understudy, house):
    path = house(SMALL + '[lines.tower]\ndrive = "single"\nrelays = 21\n')
    twice = understudy("rehearse", path, *DAY, "--dials", "main=08:30", "--dials", "main=08:31")
    assert twice.code == 2
    assert "given twice" in twice.err
    polarity = understudy("rehearse", path, *DAY, "--dials", "tower=08:30,+")
    assert polarity.code == 2
    assert "no polarity" in polarity.err


def test_a_cut_takes_the_power_for_so_long_and_the_boot_after_it(understudy, small):
    said = understudy(
        *("rehearse", small, *MORNING, "--json"),
        *("--cut", "2026-11-25T08:30:00.5+10s", "--boot", "5s"),
    )
    found = records(said)
    assert found[0]["cut"] is True
    assert {"again": True, "shows": "08:30"}.items() <= found[2].items()
    assert found[2]["at"].startswith("2026-11-25T08:30:1")
    assert found[1] == {
        "at": "2026-11-25T08:30:00-04:00",
        "event": "ring",
        "zone": "north",
        "due": "2026-11-25T08:30:00-04:00",
        "seconds": 0.5,
        "says": "First class",
        "cut": True,
    }


@pytest.mark.parametrize(
    ("step", "at", "clock"),
    [
        ("2026-11-25T08:29:40+10s", "2026-11-25T08:29:50-04:00", "2026-11-25T08:30:00-04:00"),
        ("2026-11-25T08:29:40-10s", "2026-11-25T08:30:10-04:00", "2026-11-25T08:30:00-04:00"),
    ],
)
def test_a_step_moves_the_clock_and_is_told_from_the_dashes_of_a_date(
    understudy, small, step, at, clock
):
    found = records(
        understudy("rehearse", small, *MORNING, "--json", "--only", "rings", "--step", step)
    )
    assert found[0]["at"] == at
    assert found[0]["clock"] == clock


def test_a_step_may_be_given_by_a_bare_date(understudy, small):
    found = records(
        understudy(
            *("rehearse", small, *DAY, "--json", "--only", "rings"), *("--step", "2026-11-25-2m")
        )
    )
    assert found[0]["at"] == "2026-11-25T08:32:00-04:00"


@pytest.mark.parametrize(
    ("option", "written", "wrong"),
    [
        ("--cut", "2026-11-25T10:00", "LOCAL+DURATION"),
        ("--cut", "2026-11-25T10:00-2m", "LOCAL+DURATION"),
        ("--cut", "2026-11-25T10:00+0s", "longer than nothing"),
        ("--cut", "2026-11-25T10:00+2x", "no duration"),
        ("--cut", "2026-11-24T10:00+2m", "between --from and --until"),
        ("--cut", "soon+2m", "no local date or time"),
        ("--cut", "2026-11-25T10:00+9999999d", "too long"),
        ("--step", "2026-11-25T10:00", "LOCAL-DURATION"),
        ("--step", "2026-11-26+2m", "between --from and --until"),
        ("--boot", "a while", "no duration"),
        ("--boot", "2d", "too long"),
        ("--from", "25 November", "ISO 8601"),
        ("--from", "2026-11-25T08:30+01:00", "without"),
        ("--until", "2026-11-24", "not after --from"),
        ("--until", "2047-11-25", "20 years"),
    ],
)
def test_arguments_that_make_no_sense_are_refused_with_what_was_expected(
    understudy, small, option, written, wrong
):
    said = understudy("rehearse", small, *DAY, option, written)
    assert said.code == 2
    assert option in said.err
    assert wrong in said.err
    assert said.out == ""


def test_a_missing_local_time_is_read_with_the_offset_before_the_gap(understudy, small):
    # RFC 5545 §3.3.5; Halifax, 2027-03-14: 02:00 to 03:00 do not occur.
    window = ("--from", "2027-03-14T02:30", "--until", "2027-03-14T03:32")
    first = records(understudy("rehearse", small, *window, "--json"))[0]
    assert first["at"] == "2027-03-14T03:31:00-03:00"


# ── for people ───────────────────────────────────────────────────────────────────────────────────


def test_the_table_has_a_row_a_date_with_plan_soundings_impulses_and_remarks(understudy, small):
    said = understudy("rehearse", small, "--from", "2026-12-18", "--until", "2026-12-20")
    assert said.code == 0
    assert said.err == ""
    assert "Fri 2026-12-18 regular north 2, south 1 main 1439" in said.words
    assert "Sat 2026-12-19 none (calendar: Winter" in said.words
    assert "main Classrooms 11:59 right" in said.words
    assert said.out.endswith("3 soundings, 2879 impulses, 0 missed.\n")


def test_clock_changes_cuts_and_steps_are_remarked_on_their_date(understudy, small):
    said = understudy(
        *("rehearse", small, "--from", "2027-03-13", "--until", "2027-03-15"),
        *("--cut", "2027-03-13T10:00+2m", "--step", "2027-03-14T12:00-30s"),
    )
    saturday, sunday = said.out.split("Sun 2027-03-14")
    assert "no power from 10:00:00 for 2m" in " ".join(
        word for line in saturday.splitlines() for word in line[44:].split()
    )
    remarks = " ".join(word for line in sunday.splitlines() for word in line.split())
    assert "clocks go on" in remarks
    assert "clock stepped" in remarks


def test_the_missed_are_listed_with_why(understudy, house):
    said = understudy("rehearse", house(CROWDED), "--from", "2026-12-01", "--until", "2026-12-02")
    assert (
        "Missed Tue 2026-12-01 11:00:01 west the supply had no current to spare within grace"
        in said.words
    )


def test_dials_that_end_wrong_say_what_is_right(understudy, small):
    said = understudy("rehearse", small, *MORNING, "--dials", "main=02:00")
    assert "wrong: it is 08:31" in said.words


def test_the_table_fits_in_80_columns(understudy, house):
    lines = understudy(
        *("rehearse", house(CROWDED), "--from", "2026-11-30", "--until", "2026-12-03"),
        *("--cut", "2026-11-30T08:00:02+2m"),
    ).out.splitlines()
    assert max(map(len, lines)) <= 80
