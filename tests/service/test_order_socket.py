"""The socket file: who may reach it, and that only one daemon has it."""

from __future__ import annotations

import grp
import os
import socket
import stat
import tempfile
from pathlib import Path

import pytest
from order_desk import AS_ROOT, NOBODY, links_as, said_as

from controller.circuits.folders import make_folder
from controller.service.order_socket import listen_at

OWN_GROUP = grp.getgrgid(os.getegid()).gr_name


@pytest.fixture
def outside():
    """A folder that everybody may pass through, as /run is."""
    with tempfile.TemporaryDirectory() as folder:
        os.chmod(folder, 0o755)
        yield Path(folder)


@pytest.fixture
def path(outside):
    return make_folder(outside / "run") / "understudy.sock"


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def other_group() -> grp.struct_group:
    """A group that this user, if not root, is not in; not its own in any case."""
    ours = {os.getegid(), *os.getgroups()}
    return next(group for group in grp.getgrall() if group.gr_gid not in ours)


def test_without_a_group_the_folder_stays_this_users_alone(path):
    with listen_at(path, None):
        assert stat.S_ISSOCK(path.stat().st_mode)
        assert mode(path) == 0o660
        assert mode(path.parent) == 0o700
        assert os.listdir(path.parent) == [path.name], "nothing else is left there"


def test_a_group_may_enter_the_folder_and_speak(path):
    with listen_at(path, OWN_GROUP):
        assert (mode(path), mode(path.parent)) == (0o660, 0o750)
        assert path.stat().st_gid == path.parent.stat().st_gid == os.getegid()


@AS_ROOT
def test_another_group_gets_folder_and_socket(path):
    group = other_group()
    with listen_at(path, group.gr_name):
        assert (mode(path), mode(path.parent)) == (0o660, 0o750)
        assert path.stat().st_gid == path.parent.stat().st_gid == group.gr_gid
        assert path.stat().st_uid == path.parent.stat().st_uid == os.geteuid()


@AS_ROOT
def test_who_is_in_the_group_can_connect_and_nobody_else_can(path):
    group = other_group()
    with listen_at(path, group.gr_name):
        assert links_as(NOBODY, path, 1) == []
        links = links_as(NOBODY, path, 1, groups=(group.gr_gid,))
        assert len(links) == 1
        links[0].close()


def test_the_socket_is_never_wider_than_it_shall_be_whatever_the_umask(path, monkeypatch):
    seen = []

    def watched(name: str) -> None:
        real = getattr(os, name)

        def call(*args, **keys):
            seen.extend(mode(path.parent / file) for file in os.listdir(path.parent))
            return real(*args, **keys)

        monkeypatch.setattr(os, name, call)

    for name in ("chown", "chmod", "rename"):
        watched(name)
    before = os.umask(0)
    try:
        listen_at(path, OWN_GROUP).close()
    finally:
        os.umask(before)
    assert seen == [0o600, 0o600, 0o660], "as made, before its group, before its name"


def test_a_folder_that_others_may_enter_is_left_as_it_is(path):
    os.chmod(path.parent, 0o755)
    with listen_at(path, OWN_GROUP):
        assert (mode(path), mode(path.parent)) == (0o660, 0o755)


def test_a_socket_that_nobody_has_is_replaced(path):
    listen_at(path, None).close()  # as after a kill
    old = path.stat().st_ino
    (path.parent / "understudy.sock.new").touch()
    with listen_at(path, None) as listener, socket.socket(socket.AF_UNIX) as link:
        assert path.stat().st_ino != old
        link.connect(str(path))
        listener.accept()[0].close()
    assert os.listdir(path.parent) == [path.name]


def test_a_socket_that_somebody_has_is_left_to_them(path):
    with listen_at(path, None) as listener:
        was = path.stat().st_ino
        with pytest.raises(FileExistsError, match=f"a daemon runs already: it answers at {path}"):
            listen_at(path, None)
        assert path.stat().st_ino == was
        listener.accept()[0].close()  # the trial


def test_a_daemon_that_is_too_busy_to_answer_still_has_its_socket(path):
    with socket.socket(socket.AF_UNIX) as busy:
        busy.bind(str(path))
        busy.listen(0)
        waiting = []
        while True:
            link = socket.socket(socket.AF_UNIX)
            link.setblocking(False)
            waiting.append(link)
            if link.connect_ex(str(path)):
                break
        with pytest.raises(FileExistsError, match="a daemon runs already"):
            listen_at(path, None)
        for link in waiting:
            link.close()


def test_what_is_no_socket_is_not_taken_away(path):
    path.write_text("somebody's")
    with pytest.raises(FileExistsError, match="is no socket: take it away, or name another folder"):
        listen_at(path, None)
    assert path.read_text() == "somebody's"


@pytest.mark.parametrize(
    ("place", "group", "says"),
    [
        ("nowhere/understudy.sock", None, "no socket can be made at .*: No such file or directory"),
        ("x" * 110, None, "is too long for a socket's address: name a folder with a shorter one"),
        ("understudy.sock", "no-such-group", "there is no group no-such-group on this machine"),
    ],
)
def test_where_no_socket_can_be_made_it_is_said_why(path, place, group, says):
    with pytest.raises(OSError, match=says) as fault:
        listen_at(path.parent / place, group)
    assert "Errno" not in str(fault.value)
    assert mode(path.parent) == 0o700
    assert os.listdir(path.parent) == []


@AS_ROOT
def test_a_user_cannot_give_the_socket_to_a_group_of_others(path):
    os.chown(path.parent, NOBODY, NOBODY)
    group = other_group().gr_name

    def attempt() -> str:
        with pytest.raises(PermissionError) as fault:
            listen_at(path, group)
        return str(fault.value)

    wanted = f"{path.parent} cannot be given to the group {group}: this user is not in it"
    assert said_as(NOBODY, attempt) == wanted
    assert os.listdir(path.parent) == []
