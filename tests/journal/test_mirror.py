"""What is decided and not stored is held in the runtime folder, whatever it is."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from journal_records import BOOT, RECORDS, impulse, sounding, stamp

from controller.journal.faults import StoreFault
from controller.journal.mirror import Mirror


@given(records=st.lists(RECORDS, max_size=8))
def test_it_gives_back_every_record_as_it_was(tmp_path_factory, records):
    mirror = Mirror(tmp_path_factory.mktemp("m") / "unstored.json", BOOT)
    mirror.write(records)
    assert mirror.read() == records


def test_there_is_nothing_in_it_before_and_after(tmp_path: Path):
    mirror = Mirror(tmp_path / "unstored.json", BOOT)
    assert mirror.read() == []
    mirror.write([stamp(1), sounding(1), impulse(2)])
    mirror.clear()
    assert mirror.read() == []
    mirror.clear()


def test_another_run_of_the_machine_does_not_believe_it(tmp_path: Path):
    Mirror(tmp_path / "unstored.json", "another boot").write([sounding(1)])
    assert Mirror(tmp_path / "unstored.json", BOOT).read() == []


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "7", '{"boot": "BOOT"}', '{"boot": "BOOT", "records": [["Nobody", 1]]}',
     '{"boot": "BOOT", "records": [["Stamp", 1]]}', '{"boot": "BOOT", "records": 7}'],
)  # fmt: skip
def test_a_damaged_one_is_not_believed_and_says_so(tmp_path: Path, text: str):
    (tmp_path / "unstored.json").write_text(text.replace("BOOT", BOOT))
    with pytest.raises(StoreFault, match="it is not used"):
        Mirror(tmp_path / "unstored.json", BOOT).read()


def test_where_it_cannot_be_written_it_says_so(tmp_path: Path):
    with pytest.raises(StoreFault, match="No such file"):
        Mirror(tmp_path / "no such folder" / "unstored.json", BOOT).write([sounding(1)])
