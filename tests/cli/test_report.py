"""`understudy report`: what somebody far away needs, and what could not be had."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from pathlib import Path

import pytest
from desks import small_picture
from houses import SMALL
from stores import NOW, leave, note

from controller.cli.report import LIBRARIES, MOST_LOGBOOK
from controller.service.last_state import keep_last_state
from controller.service.order_server import Reply

ENTRY = {
    "at": NOW.utc,
    "kind": "note",
    "zone": "",
    "written": [],
    "text": "main: hold",
    "how": "",
    "seconds": 0.0,
    "by": "keeper",
    "rings": 0,
}


@pytest.fixture
def reporting(daemon):
    """A daemon that has files and a logbook to give."""
    daemon.desk.replies["files"] = lambda said: Reply(
        True, "", {"files": {"house.toml": SMALL}, "fingerprint": "f1"}
    )
    daemon.desk.replies["logbook"] = lambda said: Reply(
        True, "", {"entries": [] if "before" in said else [ENTRY]}
    )
    return daemon


def members(path: Path) -> dict[str, str]:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name).decode() for name in archive.namelist()}


def test_it_says_what_it_will_contain_before_it_is_written(understudy, reporting, tmp_path):
    path = tmp_path / "report.zip"
    said = understudy("report", path)
    assert said.code == 0
    assert "No passwords are in it; the file names rooms" in said.words
    assert said.words.index("It will contain") < said.words.index("is written.")
    assert max(map(len, said.out.splitlines())) <= 80 + len(str(tmp_path))


def test_it_has_versions_state_files_logbook_and_the_programs_own_fault(
    understudy, reporting, state_folder, tmp_path
):
    (state_folder / "fault.txt").write_text("AssertionError: never")
    path = tmp_path / "report.zip"
    understudy("report", path)
    found = members(path)
    about = json.loads(found["about.json"])
    assert about["lacking"] == {}
    assert set(about["libraries"]) == set(LIBRARIES)
    assert about["libraries"]["typer"][0].isdigit()
    assert about["python"].startswith("3.")
    assert json.loads(found["state.json"])["state"] == reporting.desk.picture
    assert found["files/house.toml"] == SMALL
    header, entry = csv.reader(io.StringIO(found["logbook.csv"]))
    assert entry[header.index("text")] == "main: hold"
    assert found["fault.txt"] == "AssertionError: never"


def test_what_cannot_be_had_is_named_and_the_rest_is_there(understudy, reporting, tmp_path):
    reporting.desk.replies["logbook"] = lambda said: Reply(False, "The store is damaged.")
    path = tmp_path / "report.zip"
    said = understudy("report", path)
    assert said.code == 0
    assert "Not in it: logbook.csv (The store is damaged.)" in said.words
    assert "Not in it: fault.txt (there is none)" in said.words
    found = members(path)
    assert "logbook.csv" not in found
    assert json.loads(found["about.json"])["lacking"]["logbook.csv"] == "The store is damaged."


def test_without_a_daemon_it_has_what_one_left(understudy, runtime, state_folder, small, tmp_path):
    leave(state_folder, small, *(note(number, f"no {number}") for number in range(1, 2500)))
    keep_last_state(state_folder, small_picture(SMALL))
    path = tmp_path / "report.zip"
    assert understudy("report", path).code == 0
    found = members(path)
    state = json.loads(found["state.json"])
    assert state["state"] == small_picture(SMALL)
    assert "Nobody answers" in state["from"]
    assert found["files/building.toml"] == SMALL
    table = list(csv.reader(io.StringIO(found["logbook.csv"])))
    assert len(table) == 1 + MOST_LOGBOOK
    assert table[-1][4] == "no 2499"


def test_without_anything_it_is_a_report_of_that(understudy, runtime, state_folder, tmp_path):
    path = tmp_path / "report.zip"
    said = understudy("report", path)
    assert said.code == 0
    found = members(path)
    assert list(found) == ["about.json"]
    assert set(json.loads(found["about.json"])["lacking"]) == {
        "state.json",
        "logbook.csv",
        "fault.txt",
        "files/",
    }


def test_a_file_with_faults_is_sent_as_it_is(understudy, runtime, state_folder, house, tmp_path):
    broken = house("[zones.north]\nrelay = 99\n")
    path = tmp_path / "report.zip"
    understudy("report", path, broken)
    assert members(path)["files/house.toml"] == broken.read_text()


def test_a_report_overwrites_nothing(understudy, reporting, tmp_path):
    path = tmp_path / "report.zip"
    path.write_text("precious")
    said = understudy("report", path)
    assert said.code == 1
    assert "is not overwritten" in said.err
    assert path.read_text() == "precious"
