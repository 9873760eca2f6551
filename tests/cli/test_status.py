"""`understudy status`: well or not, what to settle, what comes; and when the daemon is down."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from desks import MONO, SECOND, clock_words, moment, settled, small_building, small_picture
from freezegun import freeze_time
from houses import SMALL

from controller.cli import asking
from controller.cli.status import lasting_part
from controller.cli.status_words import status_lines
from controller.engine.records import FaultRow
from controller.engine.state import FAR
from controller.service.last_state import keep_last_state
from controller.service.order_wire import SOCKET
from controller.service.picture import state_picture
from controller.service.state_words import headline

SCRIPT = Path(sys.executable).with_name("understudy")
BUILDING = small_building(SMALL)


def pictured(known, by="kernel", **moment_words):
    now = moment(BUILDING, **moment_words)
    return state_picture(BUILDING, known, now, clock_words(now, by))


def lasting(name, says, until=0):
    since = moment(BUILDING).utc - 60 * SECOND
    return {name: FaultRow(name, says, since, until, False)}


def words(picture) -> str:
    return " ".join(" ".join(status_lines(picture)).split())


def test_where_all_is_well_the_first_line_says_so_and_the_rest_says_what_is(understudy, daemon):
    said = understudy("status")
    assert said.code == 0
    assert said.out.splitlines()[:12] == [
        "All is well.",
        "Elm House, Wed 2026-11-25 10:30:10, America/Halifax; clock right by the kernel's",
        "word.",
        "",
        "zones",
        "  north  North wing  silent",
        "  south              silent",
        "",
        "lines of dials",
        "  main  Classrooms  shows 10:30, right; last impulse 10:30:00",
        "",
        "supply",
    ]
    assert "Wed 2026-11-25 12:00:00 in 1 h 29 min north, south 2.5 s Lunch" in said.words
    assert "to settle" not in said.out


def test_nothing_is_wider_than_80_columns():
    faults = lasting("lines.main+ welded", "its contact does not open: the line stands " * 4)
    picture = pictured(settled(BUILDING, moment(BUILDING))._replace(faults=faults))
    assert max(map(len, status_lines(picture))) <= 80


def test_with_json_the_picture_is_printed_as_it_is(understudy, daemon):
    assert json.loads(understudy("status", "--json").out) == daemon.desk.picture


def well(**more):
    return settled(BUILDING, moment(BUILDING))._replace(**more)


@pytest.mark.parametrize(
    ("picture", "first"),
    [
        (pictured(well()), "All is well."),
        (
            pictured(settled(BUILDING, moment(BUILDING), held=True)),
            "Running; 1 thing to settle, see below.",
        ),
        (
            pictured(well(), "nobody", trusted=False),
            "NOT WELL: the clock is not trusted.",
        ),
        (
            pictured(well(supply_lost=((MONO, FAR),))),
            "NOT WELL: the supply is away.",
        ),
        (pictured(well(storing=False)), "NOT WELL: the store cannot be written."),
        (pictured(well(hand=None)), "NOT WELL: nothing holds the relays at present."),
        (
            pictured(well(faults=lasting("store", "it is full"), storing=False)),
            "NOT WELL: store: it is full.",
        ),
    ],
    ids=["well", "held", "clock", "supply", "store", "hand", "fault"],
)
def test_the_first_line_says_whether_all_is_well_and_if_not_why(picture, first):
    assert headline(picture) == first


def test_what_is_to_be_settled_is_said_with_the_command_that_settles_it():
    told = words(pictured(settled(BUILDING, moment(BUILDING), held=True)))
    assert "to settle main: understudy lines main go, or set HH:MM" in told


def test_a_clock_that_is_not_trusted_is_settled_once_and_not_for_each_line():
    told = words(pictured(well(), "nobody", trusted=False))
    assert told.count("understudy trust-clock") == 1
    assert "clock NOT TRUSTED" in told


def test_faults_say_since_when_and_those_that_ended_ask_to_be_acknowledged():
    until = moment(BUILDING).utc
    faults = lasting("store", "it is full") | lasting("supply", "it was away", until)
    told = words(pictured(well(faults=faults)))
    assert "store it is full since 10:29:10" in told
    assert "supply it was away 10:29:10 to 10:30:10" in told
    assert "supply: it has ended; seen? understudy acknowledge" in told


def test_dates_with_a_plan_of_their_own_are_listed():
    told = words(pictured(well(follow=(("2026-11-27", "none"),))))
    assert "dates with a plan of their own Fri 2026-11-27 none" in told


# ── followed ─────────────────────────────────────────────────────────────────────────────────────


def test_followed_it_is_printed_again_when_something_is_otherwise(daemon):
    with subprocess.Popen(
        [SCRIPT, "status", "--follow"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as follows:
        assert follows.stdout is not None
        assert follows.stdout.readline() == "All is well.\n"
        daemon.shows({**daemon.desk.picture, "well": False, "storing": False})
        while (line := follows.stdout.readline()) and not line.startswith("NOT WELL"):
            assert line != "All is well.\n"
        assert line == "NOT WELL: the store cannot be written.\n"
        daemon.close()
        _, told = follows.communicate(timeout=10)
        assert follows.returncode == 1  # the daemon has gone, and left no state
        assert "went away" in told


def test_followed_as_json_each_state_is_one_line(daemon):
    with subprocess.Popen(
        [SCRIPT, "status", "--follow", "--json"], stdout=subprocess.PIPE, text=True
    ) as follows:
        assert follows.stdout is not None
        assert json.loads(follows.stdout.readline()) == daemon.desk.picture
        follows.terminate()


def test_that_time_goes_by_alone_is_nothing_new():
    picture = pictured(well())
    later = {**picture, "at": "2026-11-25T10:30:11-04:00", "at_utc": picture["at_utc"] + SECOND}
    assert lasting_part(later) == lasting_part(picture)
    assert lasting_part({**later, "storing": False}) != lasting_part(picture)


# ── no daemon ────────────────────────────────────────────────────────────────────────────────────


def test_where_no_daemon_answers_the_last_state_is_shown_with_its_age_and_exit_code_3(
    understudy, runtime, state_folder
):
    at = datetime(2026, 11, 25, 14, 30, 10, tzinfo=UTC)
    with freeze_time(at):
        keep_last_state(state_folder, small_picture(SMALL))
    with freeze_time(at + timedelta(minutes=12, seconds=5)):
        said = understudy("status")
        as_json = understudy("status", "--json")
    assert said.code == 3
    first, second, *_ = said.out.splitlines()
    assert first == ("The daemon is DOWN. This was its state 12 min ago (Wed 2026-11-25 10:30:10).")
    assert second.startswith("Elm House, Wed 2026-11-25 10:30:10")
    assert "All is well" not in said.out
    assert said.out.endswith("Nothing rings and no dial moves until it runs again.\n")
    assert "First class" not in said.out
    assert "Nobody answers" in said.err
    assert as_json.code == 3
    assert json.loads(as_json.out) == small_picture(SMALL)
    assert "DOWN" in as_json.err


def test_the_state_folder_may_be_named(understudy, runtime, tmp_path):
    keep_last_state(tmp_path, small_picture(SMALL))
    assert understudy("status", "--state", tmp_path).code == 3


@pytest.mark.parametrize(
    "left", [None, b"", b"{", b"[]", b'{"at_utc": "x", "state": {}}', b"[" * 100_000, b"\xff"]
)
def test_where_no_daemon_answers_nor_left_a_state_that_is_whole_the_exit_code_is_1(
    understudy, runtime, state_folder, left
):
    if left is not None:
        (state_folder / "last-state.json").write_bytes(left)
    said = understudy("status")
    assert said.code == 1
    assert said.out == ""
    assert "Nobody answers" in said.err
    assert "Nor did one leave its state" in said.err


def test_a_last_state_of_another_version_is_not_shown_in_words_and_is_no_fault(
    understudy, runtime, state_folder
):
    (state_folder / "last-state.json").write_text('{"at_utc": 5, "state": {"at": "soon"}}')
    said = understudy("status")
    assert said.code == 3
    assert said.out.startswith("The daemon is DOWN.")
    assert "with --json" in said.out


def test_a_daemon_that_does_not_answer_is_not_said_to_be_down(
    understudy, runtime, state_folder, monkeypatch
):
    keep_last_state(state_folder, small_picture(SMALL))
    monkeypatch.setattr(asking, "PATIENT_SECONDS", 0.1)
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as hangs:
        hangs.bind(str(runtime / SOCKET))
        hangs.listen()
        said = understudy("status")
    assert said.code == 1
    assert said.out == ""
    assert "has not answered in time" in said.err
