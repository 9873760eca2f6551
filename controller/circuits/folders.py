"""Where the processes meet, and where the store lives.

The runtime folder holds sockets and what need not outlast a boot, the state folder what must.
systemd gives RUNTIME_DIRECTORY and STATE_DIRECTORY (systemd.exec(5), which may hold several, with
colons between); without it, the folders of the XDG Base Directory Specification.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path


def runtime_folder() -> Path:
    """UNDERSTUDY_RUNTIME, else RUNTIME_DIRECTORY, else XDG's, else one in /tmp for this user."""
    if given := os.environ.get("UNDERSTUDY_RUNTIME") or _first("RUNTIME_DIRECTORY"):
        return Path(given)
    if session := os.environ.get("XDG_RUNTIME_DIR"):
        return Path(session, "understudy")
    return Path(f"/tmp/understudy-{os.getuid()}")


def state_folder() -> Path:
    """UNDERSTUDY_STATE, else STATE_DIRECTORY, else XDG's."""
    if given := os.environ.get("UNDERSTUDY_STATE") or _first("STATE_DIRECTORY"):
        return Path(given)
    home = os.environ.get("XDG_STATE_HOME")
    return Path(home, "understudy") if home else Path.home() / ".local/state/understudy"


def fake_folder(path: Path) -> Path:
    """Where a building on a fake board has its sockets and its store: beside no real one's."""
    return runtime_folder() / f"fake-{path.resolve().stem}"


def fake_state_folder(runtime: Path) -> Path:
    """Where the store of a building on a fake board lives: beside its sockets."""
    return runtime / "state"


def kept_folder(runtime: Path) -> Path:
    """Where the store of the daemon of a runtime folder lives, as far as that can be told."""
    beside = fake_state_folder(runtime)
    return beside if beside.is_dir() else state_folder()


def make_folder(folder: Path) -> Path:
    """See that `folder` is there, and this user's own where anybody could have made it.

    Raise `OSError`: where it cannot be made, or where it lies in a folder that all may write to and
    belongs to somebody else (who could then give orders in our name).
    """
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    owner = folder.lstat().st_uid  # of a link itself, not of what it points to
    if owner != os.getuid() and folder.parent.stat().st_mode & stat.S_IWOTH:
        raise PermissionError(
            f"{folder}: belongs to another user (uid {owner}); "
            "name another folder in UNDERSTUDY_RUNTIME"
        )
    return folder


def _first(variable: str) -> str:
    return os.environ.get(variable, "").split(":")[0]
