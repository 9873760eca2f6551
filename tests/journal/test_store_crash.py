"""What a commit acknowledged outlasts the death of the process: real processes, real files."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from journal_records import impulse, note, stamp

from controller.engine.records import LineRow, NoteRow, Stamp
from controller.journal.store import ROOM_BYTES, Store

# Commits an impulse and a note a turn, and says its number once it is acknowledged.
COMMITTER = """
import sys
from pathlib import Path
from journal_records import impulse, note, stamp
from controller.journal.store import Store
store = Store(Path(sys.argv[1]))
for number in range(int(sys.argv[2]), 1_000_000):
    store.commit([stamp(number), impulse(number), note(number)])
    print(number, flush=True)
    store.fold()
"""


def killed_after(path: Path, first: int, commits: int) -> int:
    """Let a process commit from `first` on, kill it in the midst; the last number it said."""
    child = subprocess.Popen(
        [sys.executable, "-c", COMMITTER, str(path), str(first)],
        stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )
    assert child.stdout is not None
    for _ in range(commits):
        assert child.stdout.readline()
    child.send_signal(signal.SIGKILL)
    said = child.stdout.read().split()  # what it said before the signal reached it
    assert child.wait() == -signal.SIGKILL
    return int(said[-1]) if said else first + commits - 1


# 450 commits: the log was folded and begun anew in between.
@pytest.mark.parametrize("commits", [1, 17, 450])
def test_every_acknowledged_record_is_there_after_a_kill_in_the_midst_of_commits(
    tmp_path: Path, commits: int
):
    path = tmp_path / "store.db"
    last = killed_after(path, 1, commits)
    store = Store(path)
    found = {type(record): record for record in store.load()}
    numbers = [int(entry.utc) for entry in store.logbook(0, 2**62)]
    store.close()
    newest = found[Stamp].next_play
    assert newest in (last, last + 1)  # the one in progress may be there, but whole
    assert found == {Stamp: stamp(newest), LineRow: impulse(newest), NoteRow: note(newest)}
    assert len(numbers) == newest


def test_a_second_unclean_end_after_the_first_loses_nothing_either(tmp_path: Path):
    path = tmp_path / "store.db"
    first = killed_after(path, 1, 20)
    second = killed_after(path, first + 2, 20)
    for _ in range(2):
        store = Store(path)
        found = {type(record): record for record in store.load()}
        assert found[Stamp].next_play in (second, second + 1)
        assert found[LineRow] == impulse(found[Stamp].next_play)
        assert store.room_ready
        store.close()


def test_a_log_left_by_an_unclean_end_keeps_its_room(tmp_path: Path):
    path = tmp_path / "store.db"
    killed_after(path, 1, 3)
    assert path.with_name("store.db-wal").stat().st_size == ROOM_BYTES
