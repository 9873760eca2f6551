"""The socket file: who may reach it, and that only one daemon has it."""

from __future__ import annotations

import contextlib
import errno
import grp
import os
import socket
import stat
from collections.abc import Iterator
from pathlib import Path

SOCKET_MODE = 0o660
FOLDER_MODE = 0o750
_MOST_PATH_BYTES = 107  # of a socket's address, without its last NUL (unix(7))
_BACKLOG = 128  # who connects while the server is busy; it is emptied many times a second
_BUSY = (errno.EAGAIN, errno.EINPROGRESS)  # of connect(2): somebody listens, but not just now
_NOBODY = (errno.ECONNREFUSED, errno.ENOENT)


def listen_at(path: Path, group: str | None) -> socket.socket:
    """Listen at `path`, for this user, root and `group`; in the place of a socket that nobody has.

    The folder of `path`, where it is closed to all others, is opened to `group`. One that others
    may enter is left as whoever made it wanted it (RuntimeDirectoryMode= of systemd.exec(5)).
    Raise `OSError` in words: `PermissionError` where this user may not, `FileExistsError` where a
    daemon has the socket already.
    """
    fresh = path.with_name(f"{path.name}.new")
    if len(os.fsencode(fresh)) > _MOST_PATH_BYTES:
        raise OSError(
            f"{path} is too long for a socket's address: name a folder with a shorter one"
        )
    gid = None if group is None else _gid(group)
    with _in_words(path), contextlib.ExitStack() as undo:
        _refuse_if_taken(path)
        if gid is not None:
            _open_folder(path.parent, gid)
        listener = undo.enter_context(socket.socket(socket.AF_UNIX, socket.SOCK_STREAM))
        fresh.unlink(missing_ok=True)
        # The file gets the mode that its socket has, less the umask (Linux; from memory, and held
        # by a test): so it is never wider than this, whatever the umask of this process is.
        os.fchmod(listener.fileno(), 0o600)
        listener.bind(str(fresh))
        undo.callback(fresh.unlink, missing_ok=True)
        if gid is not None:
            _give_to(fresh, gid)
        os.chmod(fresh, SOCKET_MODE)
        listener.listen(_BACKLOG)
        listener.setblocking(False)
        os.rename(fresh, path)  # whoever finds it can connect at once
        undo.pop_all()
    return listener


def _refuse_if_taken(path: Path) -> None:
    try:
        kind = path.lstat().st_mode
    except FileNotFoundError:
        return
    if not stat.S_ISSOCK(kind):
        raise FileExistsError(f"{path} is no socket: take it away, or name another folder")
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as trial:
        trial.setblocking(False)
        problem = trial.connect_ex(str(path))
    if problem == 0 or problem in _BUSY:
        raise FileExistsError(f"a daemon runs already: it answers at {path}")
    if problem not in _NOBODY:
        raise OSError(problem, os.strerror(problem))


def _gid(group: str) -> int:
    try:
        return grp.getgrnam(group).gr_gid
    except KeyError:
        raise OSError(f"there is no group {group} on this machine") from None


def _open_folder(folder: Path, gid: int) -> None:
    """Let a group enter a folder that is closed to all others."""
    is_ = folder.stat()
    if is_.st_mode & 0o007 == 0 and (is_.st_gid, is_.st_mode & 0o777) != (gid, FOLDER_MODE):
        _give_to(folder, gid)
        os.chmod(folder, FOLDER_MODE)


def _give_to(path: Path, gid: int) -> None:
    try:
        os.chown(path, -1, gid)
    except PermissionError:
        group = grp.getgrgid(gid).gr_name
        raise PermissionError(
            f"{path} cannot be given to the group {group}: this user is not in it"
        ) from None


@contextlib.contextmanager
def _in_words(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as fault:
        if fault.errno is None:  # it is in words already
            raise
        raise type(fault)(f"no socket can be made at {path}: {fault.strerror}") from None
