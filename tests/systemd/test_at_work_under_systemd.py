"""The daemon under its own unit and the real systemd, on a fake board that outlives it: times of
design rule 18, who may do what, and what the sandbox leaves.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator

import pytest
from debian_machine import Machine
from installing_kit import SYSTEMD, TIMETABLE

from controller.circuits.fakeboard.client import BoardClient

pytestmark = pytest.mark.roots

KEEPER = "/etc/understudy/building/keeper/20-timetable.toml"
SECOND = 1_000_000_000
SANDBOX_PROBE = """
import ctypes, json, mmap, os, socket
libc = ctypes.CDLL(None, use_errno=True)

def outcome(do):
    try:
        do()
    except OSError as fault:
        return False
    return True

def called(name, *words):
    ctypes.set_errno(0)
    code = getattr(libc, name)(*words)
    if code < 0:
        raise OSError(ctypes.get_errno(), name)

def over(file):
    new = os.path.join(os.path.dirname(file), ".probe")
    with open(new, "w") as stream:
        stream.write(open(file).read())
    os.replace(new, file)

timex = ctypes.create_string_buffer(512)
building = "/etc/understudy/building"
given = {
    "the kernel is asked about its clock": lambda: called("adjtimex", timex),
    "the clock is set": lambda: called("clock_settime", 0, ctypes.create_string_buffer(16)),
    "a scheduling class is asked for": lambda: os.sched_setscheduler(0, os.SCHED_BATCH,
                                                                    os.sched_param(0)),
    "memory is locked": lambda: called("mlock", timex, 512),
    "a C callback is made": lambda: ctypes.CFUNCTYPE(ctypes.c_int)(lambda: 7)(),
    "memory to write and run": lambda: mmap.mmap(-1, 4096, prot=7),
    "a socket on this machine": lambda: socket.socket(socket.AF_UNIX).close(),
    "a socket to elsewhere": lambda: socket.socket(socket.AF_INET).close(),
    "the keeper's file is replaced": lambda: over(building + "/keeper/20-timetable.toml"),
    "the installer's file is replaced": lambda: over(building + "/10-wiring.toml"),
    "the installer's file is written": lambda: open(building + "/10-wiring.toml", "a").close(),
    "the link to the keeper's file is taken away": lambda: os.unlink(
        building + "/20-timetable.toml"),
    "the program is written": lambda: open(
        os.path.realpath("/opt/understudy/current") + "/probe", "w").close(),
    "the store's folder is written": lambda: open(
        os.environ["STATE_DIRECTORY"] + "/probe", "w").close(),
    "the boot is known": lambda: open("/proc/sys/kernel/random/boot_id").close(),
    "the board's clocks are looked at": lambda: os.listdir("/sys/class"),
    "homes are looked at": lambda: os.listdir("/root"),
    "another user's process is seen": lambda: os.listdir("/proc/1"),
    "another namespace": lambda: called("unshare", 0x10000000),
    "a file is given to the own group": lambda: os.chown(
        os.environ["STATE_DIRECTORY"] + "/probe", -1, os.getgid()),
}
print("PROBE" + json.dumps({name: outcome(do) for name, do in given.items()}))
"""


@pytest.fixture
def board(at_work: Machine) -> Iterator[BoardClient]:
    with BoardClient(at_work.file("/run/understudy/board.sock")) as link:
        yield link


def ring(at: Machine, board: BoardClient) -> None:
    """A bell rings for longer than anything here takes."""
    board.follow(board.log()[-1].number if board.log() else 0)
    at.run("understudy", "ring", "north", "--for", "19s")
    board.wait_for(lambda change: (change.what, change.name, change.to) == ("pin", "GPIO17", 1))


def seconds_until_open(board: BoardClient, since: int, patience: float) -> float:
    opened = board.wait_for(
        lambda change: (change.what, change.name, change.to) == ("pin", "GPIO17", 0), patience
    )
    return (opened.mono - since) / SECOND


def processes(at: Machine) -> tuple[str, str]:
    """The daemon's and the hand's, as the machine numbers them."""
    daemon = at.shown("MainPID")["MainPID"]
    return daemon, at.run("pgrep", "-P", daemon, "-f", "controller.circuits.hand").stdout.strip()


def test_it_starts_with_the_machine_and_systemd_knows_that_it_is_ready(at_work) -> None:
    shown = at_work.shown("ActiveState", "SubState", "Type", "NRestarts", "WatchdogUSec", "User")
    assert shown == {
        "ActiveState": "active",
        "SubState": "running",
        "Type": "notify",
        "NRestarts": "0",
        "WatchdogUSec": "3s",
        "User": "understudy",
    }
    assert "running" in at_work.run("systemctl", "is-system-running").stdout


def test_a_killed_daemon_leaves_the_relays_open_within_half_a_second(at_work, board) -> None:
    ring(at_work, board)
    daemon, _ = processes(at_work)
    since = time.monotonic_ns()
    at_work.run("kill", "-KILL", daemon)
    assert seconds_until_open(board, since, 3) < 0.5
    at_work.until("systemctl", "is-active", "understudy", seconds=15)


def test_a_daemon_that_hangs_is_killed_and_the_relays_are_open_within_three_seconds(
    at_work, board
) -> None:
    ring(at_work, board)
    daemon, _ = processes(at_work)
    since = time.monotonic_ns()
    at_work.run("kill", "-STOP", daemon)
    assert seconds_until_open(board, since, 6) < 3.2  # the beat before may be a fifth old or new
    at_work.until("sh", "-c", f"! test -e /proc/{daemon}", seconds=5)
    at_work.until("systemctl", "is-active", "understudy", seconds=15)
    assert "watchdog" in at_work.journal().lower()


def test_a_killed_hand_ends_the_daemon_and_the_relays_are_open_within_two_seconds(
    at_work, board
) -> None:
    ring(at_work, board)
    daemon, hand = processes(at_work)
    since = time.monotonic_ns()
    at_work.run("kill", "-KILL", hand)
    assert seconds_until_open(board, since, 5) < 2
    at_work.until("sh", "-c", f"! test -e /proc/{daemon}", seconds=15)
    at_work.until("systemctl", "is-active", "understudy", seconds=15)


def test_where_daemon_and_hand_hang_both_are_killed_and_release_opens_within_four_seconds(
    at_work, board
) -> None:
    ring(at_work, board)
    daemon, hand = processes(at_work)
    since = time.monotonic_ns()
    at_work.run("kill", "-STOP", hand, daemon)
    assert seconds_until_open(board, since, 8) < 4
    at_work.until("sh", "-c", f"! test -e /proc/{hand}", seconds=5)
    at_work.until("systemctl", "is-active", "understudy", seconds=15)


def test_a_hand_that_hangs_is_killed_and_the_relays_are_open_within_four_seconds(
    at_work, board
) -> None:
    ring(at_work, board)
    daemon, hand = processes(at_work)
    since = time.monotonic_ns()
    at_work.run("kill", "-STOP", hand)
    assert seconds_until_open(board, since, 8) < 4
    at_work.until("sh", "-c", f"! test -e /proc/{daemon}", seconds=15)
    at_work.until("systemctl", "is-active", "understudy", seconds=15)


def test_a_stop_opens_the_relays_and_release_finds_them_so(at_work, board) -> None:
    ring(at_work, board)
    since = time.monotonic_ns()
    at_work.run("systemctl", "stop", "understudy")
    assert seconds_until_open(board, since, 5) < 1
    assert at_work.shown("Result", "ActiveState") == {
        "Result": "success",
        "ActiveState": "inactive",
    }
    assert "Open: GPIO17, GPIO22 and GPIO23" in at_work.journal()


def test_what_the_hand_had_claimed_outlives_the_daemon(at_work) -> None:
    at_work.run("systemctl", "stop", "understudy")
    claim = json.loads(at_work.file("/run/understudy/claimed.json").read_text())
    assert set(claim["outputs"]) == {"17", "22", "23"}


def test_members_of_the_group_give_orders_and_nobody_else_does(at_work) -> None:
    at_work.run("useradd", "--groups", "understudy", "keeper")
    at_work.run("useradd", "guest")
    rung = at_work.run(
        "setpriv",
        "--reuid=keeper",
        "--init-groups",
        "--regid=keeper",
        "understudy",
        "ring",
        "north",
        "--for",
        "1s",
    )
    assert "north rings now" in rung.stdout
    assert "(keeper)" in at_work.journal()
    barred = at_work.run(
        "setpriv",
        "--reuid=guest",
        "--init-groups",
        "--regid=guest",
        "understudy",
        "ring",
        "north",
        check=False,
    )
    assert barred.returncode != 0
    assert "guest" not in at_work.journal()


def test_the_daemon_replaces_the_keeper_s_file_and_root_still_edits_it(at_work) -> None:
    new = TIMETABLE.replace("08:30", "08:35")
    at_work.file("/root/20-timetable.toml").write_text(new)
    at_work.run("understudy", "edit", "file", "/root/20-timetable.toml", "--yes")
    assert at_work.file(KEEPER).read_text() == new
    owner = at_work.run("stat", "-c", "%U %G %a", KEEPER).stdout
    assert owner == "understudy understudy 644\n"
    link = "/etc/understudy/building/20-timetable.toml"
    at_work.run("sh", "-c", f"echo '# by root' >>{link}")
    assert at_work.file(KEEPER).read_text() == f"{new}# by root\n"
    assert at_work.file(link).is_symlink()
    at_work.run("systemctl", "reload", "understudy")
    told = "journalctl -u understudy -o cat | grep -q 'reload (signal)'"
    at_work.until("sh", "-c", told)


def probed(at: Machine) -> tuple[set[str], set[str]]:
    """What a program may do in the sandbox of the daemon's unit, and what not."""
    unit = at.file("/usr/local/lib/systemd/system/understudy.service").read_text()
    other = ("Exec", "Type=", "Notify", "Watchdog", "Restart=", "Condition")
    kept = "\n".join(line for line in unit.splitlines() if not line.startswith(other))
    probe = "Type=oneshot\nExecStart=/opt/understudy/current/bin/python /opt/probe.py"
    at.file("/opt/probe.py").write_text(SANDBOX_PROBE)
    at.file("/etc/systemd/system/probe.service").write_text(
        kept.replace("[Service]", f"[Service]\n{probe}")
    )
    at.run("systemctl", "daemon-reload")
    at.run("systemctl", "start", "probe")
    said = at.run("journalctl", "--unit=probe", "--output=cat").stdout
    found = json.loads(said[said.rindex("PROBE") + 5 :].splitlines()[0])
    return {name for name in found if found[name]}, {name for name in found if not found[name]}


def test_the_sandbox_leaves_pins_sockets_and_store_and_little_else(at_work) -> None:
    may, may_not = probed(at_work)
    assert may == {
        "the kernel is asked about its clock",
        "a scheduling class is asked for",
        "memory is locked",
        "a C callback is made",
        "a socket on this machine",
        "the keeper's file is replaced",
        "the store's folder is written",
        "the boot is known",
        "the board's clocks are looked at",
        "a file is given to the own group",
    }
    assert may_not == {
        "the clock is set",
        "memory to write and run",
        "a socket to elsewhere",
        "the installer's file is replaced",
        "the installer's file is written",
        "the link to the keeper's file is taken away",
        "the program is written",
        "homes are looked at",
        "another user's process is seen",
        "another namespace",
    }


def test_the_drop_in_for_a_command_that_tells_opens_the_network_and_nothing_else(at_work) -> None:
    _, closed = probed(at_work)
    drop_in = "/etc/systemd/system/probe.service.d/tell-network.conf"
    brought = "/brought/understudy/systemd/tell-network.conf"
    at_work.run("install", "-D", "-m", "644", brought, drop_in)
    _, still_closed = probed(at_work)
    assert closed - still_closed == {"a socket to elsewhere"}
    assert at_work.run("systemctl", "show", "probe", "--property=PrivateNetwork").stdout == (
        "PrivateNetwork=no\n"
    )


def test_outside_the_sandbox_too_the_daemon_s_user_cannot_replace_the_installer_s_file(
    at_work,
) -> None:
    as_daemon = ["setpriv", "--reuid=understudy", "--init-groups", "--regid=understudy"]
    building = "/etc/understudy/building"
    for do in (
        f"mv {KEEPER} {building}/10-wiring.toml",
        f"rm {building}/20-timetable.toml",
        f"touch {building}/05-more.toml",
    ):
        assert at_work.run(*as_daemon, "sh", "-c", do, check=False).returncode != 0, do


def test_a_bad_file_is_no_end_and_one_that_is_mended_is_taken_up(at_work) -> None:
    at_work.run("systemctl", "stop", "understudy")
    good = at_work.file(KEEPER).read_text()
    at_work.run("sh", "-c", f"echo broken >>{KEEPER}")
    at_work.run("systemctl", "start", "understudy")  # on the last good copy
    assert "going on with the last good copy" in at_work.journal()
    at_work.run("systemctl", "stop", "understudy")
    at_work.run("rm", "-r", "/var/lib/understudy/last-good")
    at_work.run("systemctl", "start", "--no-block", "understudy")
    at_work.until("sh", "-c", "[ $(systemctl show understudy -P NRestarts) -ge 2 ]")
    at_work.file(KEEPER).write_text(good)
    at_work.until("systemctl", "is-active", "understudy", seconds=15)


@pytest.mark.parametrize("kit", ["bookworm"], indirect=True)
def test_whatever_waits_for_the_clock_holds_the_daemon_up_for_half_a_minute_at_most(
    at_work,
) -> None:
    waits = "systemd-time-wait-sync.service"
    shown = at_work.run("systemctl", "show", waits, "--property=TimeoutStartUSec").stdout
    assert shown == "TimeoutStartUSec=30s\n"
    for_ever = at_work.file(f"/etc/systemd/system/{waits}.d")
    for_ever.mkdir()
    (for_ever / "for-ever.conf").write_text(
        "[Unit]\nConditionVirtualization=\nConditionCapability=\n"
        "[Service]\nExecStart=\nExecStart=/bin/sleep infinity\n"
    )
    at_work.run("systemctl", "stop", "understudy", "time-sync.target")
    at_work.run("systemctl", "daemon-reload")
    began = time.monotonic()
    at_work.run("systemctl", "start", "--no-block", waits)
    at_work.run("systemctl", "start", "understudy")
    assert 25 < time.monotonic() - began < 40


def test_this_systemd_judges_the_sandbox_as_the_readme_says(at_work) -> None:
    said = at_work.run("systemd-analyze", "security", "--no-pager", "understudy").stdout
    level = said.split("Overall exposure level for understudy.service: ")[1].split()[0]
    assert f"**{level}** (of 10" in (SYSTEMD / "README.md").read_text()
