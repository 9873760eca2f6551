"""The installer on Debian 12 and Debian 13: a folder of wheels, no network, the real systemd."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from debian_machine import Machine, debian_root, machine
from installing_kit import TIMETABLE, Kit, copy_source, download

pytestmark = pytest.mark.roots

# What is the same on either Debian is tried on one of them: an installation takes its time.
on_12 = pytest.mark.parametrize("kit", ["bookworm"], indirect=True)
on_13 = pytest.mark.parametrize("kit", ["trixie"], indirect=True)
KEEPER = "/etc/understudy/building/keeper/20-timetable.toml"


def is_active(at: Machine) -> bool:
    return at.run("systemctl", "is-active", "understudy", check=False).returncode == 0


def environment(at: Machine) -> str:
    return at.run("readlink", "/opt/understudy/current").stdout.strip()


def changed_source(kit: Kit, folder: Path) -> Path:
    """The next version, under /brought/next."""
    there = copy_source(folder).rename(folder / "next")
    project = there / "pyproject.toml"
    text = project.read_text()
    assert 'version = "0.1.0"' in text
    project.write_text(text.replace('version = "0.1.0"', 'version = "0.1.1"'))
    return there


def test_what_is_brought_in_a_folder_is_installed_without_a_network(kit, bare) -> None:
    with bare() as new:
        assert new.run("ls", "/sys/class/net").stdout.split() == ["lo"]
        said = kit.install(new)
        assert "There is no building yet" in said
        assert "a building's file" in new.run("understudy", "check", "--help").stdout
        assert new.run("understudy", "check", "/brought/building").returncode == 0
        assert not is_active(new)  # and no start that must fail
        assert new.shown("ConditionResult")["ConditionResult"] == "no"


@on_12
def test_a_plain_debian_is_refused_and_nothing_is_put_there(kit, bare) -> None:
    with bare() as new:
        refused = new.run("/brought/understudy/systemd/install", check=False)
        assert refused.returncode == 1
        assert "but not Raspberry Pi OS" in refused.stderr
        assert not new.file("/opt/understudy").exists()
        assert not new.file("/etc/understudy").exists()


@on_12
def test_where_a_wheel_is_missing_nothing_is_left_behind(kit, bare, tmp_path) -> None:
    few = tmp_path / "few"
    shutil.copytree(kit.wheels, few)
    next(few.glob("tomli-*")).unlink()
    with bare(few) as new:
        words = ["--any-debian", "--from", "/brought/few"]
        refused = new.run("/brought/understudy/systemd/install", *words, check=False)
        assert refused.returncode == 1
        assert "tomli" in refused.stderr
        assert "packages are missing or not as they are pinned" in refused.stderr
        assert list(new.file("/opt/understudy").iterdir()) == []
        assert not new.file("/usr/local/bin/understudy").exists()


@on_12
def test_a_wheel_that_is_not_the_pinned_one_is_not_taken(kit, bare, tmp_path) -> None:
    forged = tmp_path / "forged"
    shutil.copytree(kit.wheels, forged)
    with next(forged.glob("rich-*")).open("ab") as wheel:
        wheel.write(b"\0")
    with bare(forged) as new:
        words = ["--any-debian", "--from", "/brought/forged"]
        refused = new.run("/brought/understudy/systemd/install", *words, check=False)
        assert refused.returncode == 1
        assert list(new.file("/opt/understudy").iterdir()) == []


@on_12
def test_an_installer_with_a_closed_umask_leaves_nothing_that_the_daemon_cannot_read(
    kit, bare
) -> None:
    with bare() as new:
        words = f"--any-debian --from /brought/{kit.wheels.name}"
        new.run("sh", "-c", f"umask 077; /brought/understudy/systemd/install {words}")
        closed = new.run("find", "/opt/understudy", "-type", "f", "!", "-perm", "-004").stdout
        assert closed == ""


def test_given_again_it_changes_nothing_and_lets_the_daemon_run(kit, at_work) -> None:
    before = at_work.shown("MainPID", "NRestarts")
    said = kit.install(at_work)
    assert "The daemon runs already, and nothing has changed." in said
    assert "Put in place" not in said
    assert at_work.shown("MainPID", "NRestarts") == before


@on_12
def test_another_building_is_not_written_over(kit, at_work, tmp_path) -> None:
    at_work.file("/root/other").mkdir()
    for name in ("10-wiring.toml", "20-timetable.toml"):
        shutil.copy(kit.building / name, at_work.file("/root/other"))
    with at_work.file("/root/other/20-timetable.toml").open("a") as file:
        file.write("# changed\n")
    words = ["--any-debian", "--building", "/root/other"]
    refused = at_work.run("/brought/understudy/systemd/install", *words, check=False)
    assert refused.returncode == 1
    assert "has another 20-timetable.toml already" in refused.stderr
    assert at_work.file(KEEPER).read_text() == TIMETABLE


def test_an_upgrade_runs_the_new_version_and_keeps_the_keeper_s_file(
    kit, installed, tmp_path
) -> None:
    with installed(changed_source(kit, tmp_path)) as at:
        at.until("systemctl", "is-active", "understudy")
        old, process = environment(at), at.shown("MainPID")
        text = TIMETABLE + "# a note of the keeper's, with a tab\t\r\n"
        at.file(KEEPER).write_bytes(text.encode())
        was = at.run("stat", "-c", "%u %g %a %Y %i", KEEPER).stdout
        kit.install(at, source="next")
        assert environment(at).startswith("/opt/understudy/0.1.1-")
        assert is_active(at)
        assert at.shown("MainPID") != process
        assert at.file(KEEPER).read_bytes() == text.encode()
        assert at.run("stat", "-c", "%u %g %a %Y %i", KEEPER).stdout == was
        assert not at.file(old).exists()


@on_13
def test_a_new_version_that_does_not_start_makes_room_for_the_old_one(
    kit, installed, tmp_path
) -> None:
    new = changed_source(kit, tmp_path)
    (new / "controller/cli/run.py").write_text("raise SystemExit(1)\n")
    with installed(new) as at:
        at.until("systemctl", "is-active", "understudy")
        old = environment(at)
        words = ["--any-debian", "--from", f"/brought/{kit.wheels.name}"]
        failed = at.run("/brought/next/systemd/install", *words, check=False)
        assert failed.returncode == 1
        assert f"the daemon did not start; {old} is in its place again" in failed.stderr
        assert environment(at) == old
        at.until("systemctl", "is-active", "understudy")


@on_12
def test_a_file_with_faults_stops_an_upgrade_before_anything_changes(
    kit, installed, tmp_path
) -> None:
    with installed(changed_source(kit, tmp_path)) as at:
        at.until("systemctl", "is-active", "understudy")
        old, process = environment(at), at.shown("MainPID")
        with at.file(KEEPER).open("a") as file:
            file.write('tue = "no-such-plan"\n')
        words = ["--any-debian", "--from", f"/brought/{kit.wheels.name}"]
        refused = at.run("/brought/next/systemd/install", *words, check=False)
        assert refused.returncode == 1
        assert "no-such-plan" in refused.stderr
        assert "Mend them first; nothing was changed." in refused.stderr
        assert environment(at) == old
        assert [one.name for one in at.file("/opt/understudy").iterdir() if one.is_dir()] in (
            [Path(old).name],
            [Path(old).name, "current"],
            ["current", Path(old).name],
        )
        assert at.shown("MainPID") == process


def test_removed_it_is_gone_and_the_keeper_s_files_and_the_store_are_left(kit, at_work) -> None:
    at_work.until("test", "-e", "/var/lib/understudy/store.sqlite")
    said = at_work.run("/brought/understudy/systemd/install", "--remove").stdout
    assert "The daemon is stopped." in said
    assert "Open: GPIO17, GPIO22 and GPIO23" in said
    for left in ("/etc/understudy/building", "/var/lib/understudy"):
        assert f"Left as it is: {left}" in said
    assert at_work.file(KEEPER).read_text() == TIMETABLE
    assert at_work.file("/var/lib/understudy/store.sqlite").exists()
    for gone in ("/opt/understudy", "/usr/local/bin/understudy", "/run/understudy"):
        assert not at_work.file(gone).exists(), gone
    traces = at_work.run("find", "/usr/local/lib", "-iname", "*understudy*").stdout
    assert traces == ""
    assert at_work.run("systemctl", "cat", "understudy", check=False).returncode != 0
    again = at_work.run("/brought/understudy/systemd/install", "--remove").stdout
    assert "Nothing of Understudy is installed here." in again
    kit.install(at_work)  # and back: what was left is taken up
    at_work.until("systemctl", "is-active", "understudy")


def test_the_32_bit_way_uses_the_distribution_s_compiled_packages(tmp_path) -> None:
    """On this machine's architecture: only the name of it is 32-bit ARM's."""
    source, wheels = copy_source(tmp_path), download("armhf-cp313", tmp_path / "wheels")
    with machine([debian_root("trixie")], tmp_path / "machine", [source, wheels]) as new:
        dpkg = new.file("/usr/local/bin/dpkg")
        dpkg.write_text('#!/bin/sh\n[ "$1" = --print-architecture ] && echo armhf\n')
        dpkg.chmod(0o755)
        new.file("/etc/rpi-issue").write_text("Raspberry Pi reference\n")
        new.file("/etc/os-release").unlink()
        new.file("/etc/os-release").write_text('ID=raspbian\nVERSION_ID="13"\n')
        said = new.run("/brought/understudy/systemd/install", "--from", "/brought/wheels").stdout
        assert "This machine takes lock-armhf-cp313.txt." in said
        python = "/opt/understudy/current/bin/python"
        where = "import gpiod, pydantic, tomli; print(*(one.__file__ for one in "
        came = new.run(python, "-c", f"{where}(gpiod, pydantic, tomli)))").stdout.split()
        assert came[0].startswith("/usr/lib/python3/dist-packages/gpiod")
        assert came[1].startswith("/usr/lib/python3/dist-packages/pydantic")
        assert came[2].startswith("/opt/understudy/")
        new.run(python, "-c", "from controller.circuits.chip import need_gpiod; need_gpiod()")
        dpkg.unlink()
        new.run("dpkg", "--purge", "--force-depends", "python3-libgpiod")
        dpkg.write_text('#!/bin/sh\n[ "$1" = --print-architecture ] && echo armhf\n')
        dpkg.chmod(0o755)
        words = ["--from", "/brought/wheels"]
        refused = new.run("/brought/understudy/systemd/install", *words, check=False)
        assert refused.returncode == 1
        assert "packages of the system are missing: python3-libgpiod" in refused.stderr
