"""Telling a fault onwards: the program is told, and whatever it does, nobody waits for it."""

from __future__ import annotations

import os
import queue
import signal
import time
from pathlib import Path

import pytest

from controller.service import teller as teller_module
from controller.service.teller import MOST_WAITING, Teller

PATIENT_SECONDS = 30.0


@pytest.fixture
def said():
    return queue.Queue()


@pytest.fixture
def telling(said):
    """Makes tellers whose program is a little script of /bin/sh; its arguments are $1, $2 …"""
    made: list[Teller] = []

    def teller(script: str, *arguments: object, most_seconds: float = PATIENT_SECONDS) -> Teller:
        command = ("/bin/sh", "-c", script, "tell-keeper", *map(str, arguments))
        made.append(Teller(command, "Elm House", said.put, most_seconds))
        return made[-1]

    yield teller
    for one in made:
        one.close(1.0)


def everything(said) -> list[str]:
    return [said.get_nowait() for _ in range(said.qsize())]


def pid_in(file: Path) -> int:
    """The process whose number a script puts there."""
    until = time.monotonic() + PATIENT_SECONDS
    while time.monotonic() < until:
        if file.exists() and (text := file.read_text()).endswith("\n"):
            return int(text)
        time.sleep(0.005)
    raise AssertionError(f"nobody wrote {file}")


def runs(pid: int) -> bool:
    """Whether a process is more than a dead one that nobody has reaped."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except (FileNotFoundError, ProcessLookupError):
        return False


def soon_gone(pid: int) -> bool:
    until = time.monotonic() + PATIENT_SECONDS
    while runs(pid) and time.monotonic() < until:
        time.sleep(0.005)
    return not runs(pid)


# ── what it is told ──────────────────────────────────────────────────────────────────────────────


def test_the_program_has_the_words_on_its_input_and_the_rest_around_it(telling, said, tmp_path):
    out = tmp_path / "out"
    script = (
        'cat >>"$1"; echo "$UNDERSTUDY_FAULT|$UNDERSTUDY_CHANGE|$UNDERSTUDY_BUILDING|$2" >>"$1"'
    )
    teller = telling(script, out, "--urgent $HOME *")
    teller.tell("store", "begins", "Not stored: the disk is full → make room.")
    teller.tell("lines.main+ welded", "ends", "")
    teller.close(PATIENT_SECONDS)
    assert out.read_text(encoding="utf-8").splitlines() == [
        "Not stored: the disk is full → make room.",
        "store|begins|Elm House|--urgent $HOME *",
        "",
        "lines.main+ welded|ends|Elm House|--urgent $HOME *",
    ]
    assert everything(said) == [], "what went well is not talked about"


def test_one_at_a_time_in_their_order(telling, tmp_path):
    out = tmp_path / "out"
    teller = telling('echo "$UNDERSTUDY_FAULT in" >>"$1"; sleep 0.02; echo out >>"$1"', out)
    for number in range(5):
        teller.tell(f"fault{number}", "begins", "")
    teller.close(PATIENT_SECONDS)
    expected = [line for number in range(5) for line in (f"fault{number} in", "out")]
    assert out.read_text().splitlines() == expected


def test_long_words_are_cut_and_letters_that_are_none_do_no_harm(telling, said, tmp_path):
    teller = telling('cat >"$1"', tmp_path / "out")
    teller.tell("file", "begins", "\ud800" + "x" * 100_000)
    teller.close(PATIENT_SECONDS)
    assert (tmp_path / "out").read_text() == "?" + "x" * 3_999 + "\n"
    assert everything(said) == []


def test_it_inherits_no_open_file_and_nothing_that_is_between_systemd_and_the_daemon(
    telling, tmp_path, monkeypatch
):
    monkeypatch.setenv("NOTIFY_SOCKET", "/run/notify")
    monkeypatch.setenv("WATCHDOG_USEC", "3000000")
    with open(tmp_path / "secret", "w") as secret:
        os.set_inheritable(secret.fileno(), True)
        teller = telling('ls -l /proc/self/fd >"$1"; env >"$2"', tmp_path / "a", tmp_path / "b")
        teller.tell("store", "begins", "")
        teller.close(PATIENT_SECONDS)
    files = (tmp_path / "a").read_text()
    assert "secret" not in files
    assert [line.split()[8] for line in files.splitlines()[1:]] == ["0", "1", "2", "3"]  # 3 is ls's
    environment = (tmp_path / "b").read_text()
    assert "UNDERSTUDY_FAULT=store" in environment
    assert "NOTIFY_SOCKET" not in environment
    assert "WATCHDOG" not in environment


# ── what it may do ───────────────────────────────────────────────────────────────────────────────


def test_one_that_does_not_read_its_input_is_as_good(telling, said, tmp_path):
    teller = telling('exec <&-; echo "$UNDERSTUDY_FAULT" >>"$1"', tmp_path / "out")
    for name in ("store", "clock"):
        teller.tell(name, "begins", "x" * 4_000)
    teller.close(PATIENT_SECONDS)
    assert (tmp_path / "out").read_text() == "store\nclock\n"
    assert everything(said) == []


def test_of_one_that_fails_the_last_words_are_said(telling, said):
    teller = telling('echo "no route\nto the \033[31mkeeper"; echo "five hundred" >&2; exit 3')
    teller.tell("store", "begins", "")
    assert said.get(timeout=PATIENT_SECONDS) == (
        "/bin/sh, told of the fault store, failed (exit code 3): "
        "no route to the ·[31mkeeper five hundred"
    )


def test_of_one_that_says_much_only_the_end_is_said(telling, said):
    teller = telling("head -c 300000 /dev/zero | tr '\\0' x; echo; echo at last; exit 1")
    teller.tell("store", "begins", "")
    words = said.get(timeout=PATIENT_SECONDS).partition("exit code 1): ")[2]
    assert words == "x" * (500 - len(" at last")) + " at last"


def test_one_that_is_killed_or_says_nothing_is_said_too(telling, said):
    teller = telling('[ "$UNDERSTUDY_FAULT" = clock ] && exit 1; kill -9 $$')
    teller.tell("store", "begins", "")
    teller.tell("clock", "begins", "")
    teller.close(PATIENT_SECONDS)
    assert everything(said) == [
        "/bin/sh, told of the fault store, failed (signal 9).",
        "/bin/sh, told of the fault clock, failed (exit code 1).",
    ]


def test_one_that_hangs_is_ended_and_the_next_is_told(telling, said, tmp_path):
    script = 'echo $$ >"$1-$UNDERSTUDY_CHANGE"; [ $UNDERSTUDY_CHANGE = ends ] || sleep 1000'
    teller = telling(script, tmp_path / "pid", most_seconds=0.3)
    teller.tell("store", "begins", "")
    teller.tell("store", "ends", "")
    words = said.get(timeout=PATIENT_SECONDS)
    assert words == "/bin/sh, told of the fault store, did not end within 0.3 s and was ended."
    assert soon_gone(pid_in(tmp_path / "pid-begins"))
    assert pid_in(tmp_path / "pid-ends")


def test_one_that_ignores_being_asked_is_killed(telling, said, tmp_path, monkeypatch):
    monkeypatch.setattr(teller_module, "_TO_END_SECONDS", 0.2)
    script = 'trap "" TERM; echo asked in vain; echo $$ >"$1"; while :; do sleep 1; done'
    teller = telling(script, tmp_path / "pid", most_seconds=0.3)
    teller.tell("store", "begins", "")
    assert said.get(timeout=PATIENT_SECONDS).endswith("0.3 s and was ended: asked in vain")
    assert soon_gone(pid_in(tmp_path / "pid"))


def test_one_that_puts_things_away_when_asked_has_the_time_to(telling, said, tmp_path):
    script = 'trap "echo tidy >$1; exit" TERM; echo $$ >"$2"; while :; do sleep 0.05; done'
    teller = telling(script, tmp_path / "tidy", tmp_path / "pid", most_seconds=0.5)
    teller.tell("store", "begins", "")
    assert "was ended" in said.get(timeout=PATIENT_SECONDS)
    assert (tmp_path / "tidy").read_text() == "tidy\n"


def test_what_it_started_is_ended_with_it(telling, said, tmp_path):
    teller = telling('sleep 1000 & echo $! >"$1"; wait', tmp_path / "pid", most_seconds=0.3)
    teller.tell("store", "begins", "")
    assert "was ended" in said.get(timeout=PATIENT_SECONDS)
    assert soon_gone(pid_in(tmp_path / "pid"))


def test_what_it_leaves_at_work_has_the_same_time_and_no_more(telling, said, tmp_path):
    """One that ends at once and leaves the sending to another is no failure if that is quick."""
    script = '(sleep 0.2; echo sent >"$1") & exit 0'
    telling(script, tmp_path / "sent").tell("store", "begins", "")
    until = time.monotonic() + PATIENT_SECONDS
    while not (tmp_path / "sent").exists() and time.monotonic() < until:
        time.sleep(0.005)
    assert (tmp_path / "sent").exists()
    slow = telling('sleep 1000 & echo $! >"$1"; exit 0', tmp_path / "pid", most_seconds=0.3)
    slow.tell("clock", "begins", "")
    assert "told of the fault clock, did not end within 0.3 s" in said.get(timeout=PATIENT_SECONDS)
    assert soon_gone(pid_in(tmp_path / "pid"))
    assert everything(said) == []


def test_what_it_leaves_behind_out_of_hearing_is_ended_with_it(telling, said, tmp_path):
    teller = telling('sleep 1000 >/dev/null 2>&1 & echo $! >"$1"', tmp_path / "pid")
    teller.tell("store", "begins", "")
    teller.close(PATIENT_SECONDS)
    assert soon_gone(pid_in(tmp_path / "pid"))
    assert everything(said) == []


def test_a_flood_of_words_is_read_and_dropped(telling, said):
    teller = telling("exec yes", most_seconds=0.4)
    teller.tell("store", "begins", "")
    words = said.get(timeout=PATIENT_SECONDS)
    assert words.partition("was ended: ")[2] == ("y " * 250).strip()


# ── where it cannot be run, or not so fast ───────────────────────────────────────────────────────


def test_a_program_that_is_not_there_is_said_once_a_fault(said, tmp_path):
    teller = Teller((str(tmp_path / "gone"),), "Elm House", said.put)
    for name, change in (("store", "begins"), ("store", "ends"), ("clock", "begins")):
        teller.tell(name, change, "")
    teller.close(PATIENT_SECONDS)
    where = f"{tmp_path / 'gone'} cannot be run: No such file or directory."
    assert everything(said) == [
        f"Nobody is told of the fault store: {where}",
        f"Nobody is told of the fault clock: {where}",
    ]


def test_once_it_could_be_run_again_it_is_said_anew(said, tmp_path):
    program = tmp_path / "tell-keeper"
    ran = tmp_path / "ran"
    teller = Teller((str(program), str(ran)), "Elm House", said.put)
    teller.tell("store", "begins", "")
    assert "No such file" in said.get(timeout=PATIENT_SECONDS)
    program.symlink_to("/usr/bin/touch")
    teller.tell("store", "ends", "")
    until = time.monotonic() + PATIENT_SECONDS
    while not ran.exists() and time.monotonic() < until:
        time.sleep(0.005)
    program.unlink()
    teller.tell("store", "begins", "")
    assert "No such file" in said.get(timeout=PATIENT_SECONDS)
    teller.close(1.0)


@pytest.mark.parametrize(
    ("content", "mode", "why"),
    [(b"", 0o644, "Permission denied"), (b"\x7fELF", 0o755, "Exec format error")],
)
def test_a_file_that_is_no_program_is_said(said, tmp_path, content, mode, why):
    program = tmp_path / "tell-keeper"
    program.write_bytes(content)
    program.chmod(mode)
    teller = Teller((str(program),), "Elm House", said.put)
    teller.tell("store", "begins", "")
    assert said.get(timeout=PATIENT_SECONDS).endswith(f"cannot be run: {why}.")
    teller.close(1.0)


def test_a_name_that_no_environment_can_hold_is_said_and_the_next_is_told(telling, said, tmp_path):
    teller = telling('touch "$1"', tmp_path / "told")
    teller.tell("st\0re", "begins", "")
    teller.tell("clock", "begins", "")
    teller.close(PATIENT_SECONDS)
    assert len(everything(said)) == 1
    assert (tmp_path / "told").exists()


def test_beyond_so_many_that_wait_they_are_dropped_and_that_is_said(telling, said, tmp_path):
    out, go = tmp_path / "out", tmp_path / "go"
    script = (
        'echo $$ >"$3"; while [ ! -e "$2" ]; do sleep 0.02; done; echo $UNDERSTUDY_FAULT >>"$1"'
    )
    teller = telling(script, out, go, tmp_path / "pid")
    teller.tell("first", "begins", "")
    pid_in(tmp_path / "pid")  # it is told by now, and waits for nobody's place
    began = time.monotonic()
    for number in range(MOST_WAITING + 7):
        teller.tell(f"fault{number}", "begins", "")
    assert time.monotonic() - began < 1.0, "nobody waits for a program that hangs"
    go.touch()
    teller.close(PATIENT_SECONDS)
    assert out.read_text().split() == ["first", *(f"fault{n}" for n in range(32))]
    assert everything(said) == [
        "/bin/sh was not told that 7 faults began or ended: it takes too long."
    ]


# ── the end ──────────────────────────────────────────────────────────────────────────────────────


def test_at_the_end_what_hangs_is_killed_and_what_waits_is_dropped_in_the_time_given(
    telling, said, tmp_path
):
    teller = telling('trap "" TERM; echo $$ >"$1"; while :; do sleep 1; done', tmp_path / "pid")
    for name in ("store", "clock", "supply"):
        teller.tell(name, "begins", "")
    pid = pid_in(tmp_path / "pid")
    began = time.monotonic()
    teller.close(1.2)
    assert time.monotonic() - began < 5.0
    assert soon_gone(pid)
    assert everything(said) == [
        "/bin/sh, told of the fault store, was ended early: the daemon ends, or tells another.",
        "/bin/sh was not told that 2 faults began or ended: it takes too long.",
    ]


def test_after_the_end_nothing_is_told_and_nobody_waits(telling, said, tmp_path):
    teller = telling('touch "$1"', tmp_path / "told")
    teller.close(PATIENT_SECONDS)
    teller.tell("store", "begins", "")
    teller.close(0.0)
    assert not (tmp_path / "told").exists()
    assert everything(said) == []


def test_its_signals_are_as_any_program_expects_them(telling, said, tmp_path):
    """Python ignores SIGPIPE; a program that it starts should not (signal(7), subprocess)."""
    teller = telling('grep SigIgn /proc/$$/status | cut -f2 >"$1"', tmp_path / "out")
    teller.tell("store", "begins", "")
    teller.close(PATIENT_SECONDS)
    ignored = int((tmp_path / "out").read_text(), 16)
    assert not ignored & 1 << (signal.SIGPIPE - 1)
    assert everything(said) == []
