"""What an undo puts back: read from the versions that were kept, for nothing else is written down.

The versions of a file and what it holds now are all its texts in their order. Where a text follows
that was there before the last one, that was an undo (or came to the same): neither counts any more.
So an undo after an undo goes one step further back; every text stays among the versions, and what
an undo took away can be found there.
"""

from __future__ import annotations

from collections.abc import Iterable
from hashlib import sha256
from pathlib import Path
from typing import NamedTuple

from controller.building.faults import Faults
from controller.building.sheets import sources
from controller.editing.keeper_file import EditRefused, versions_of

VERSIONS = "versions"  # folder of the keeper's earlier files, in the state folder


class Earlier(NamedTuple):
    """A file as it was before its last edit."""

    file: str
    text: str
    edited_utc: int  # when that edit was made, ns


def versions_folder(state: Path, path: Path) -> Path:
    """Where the earlier files of the building at `path` are kept: beside no other building's."""
    place = path.resolve()
    return state / VERSIONS / f"{place.name}-{sha256(bytes(place)).hexdigest()[:8]}"


def earlier(path: Path, versions: Path) -> Earlier:
    """What the last edit of a building's files that was not taken back replaced.

    Raises `Faults` where the files cannot be read, and `EditRefused` where nothing is kept of any.
    """
    files, unreadable = sources(path)
    if unreadable:
        raise Faults(unreadable)
    texts = {Path(source.file).name: _text(source.content) for source in files}
    found = [one for name in texts if (one := _before_last(name, texts[name], versions))]
    if not found:
        raise EditRefused(
            f"Nothing is to be undone: of {' and '.join(texts)} no version before this one is kept."
        )
    return max(found, key=lambda one: one.edited_utc)


def _before_last(file: str, text: str, versions: Path) -> Earlier | None:
    kept = list(reversed(versions_of(versions, file)))
    held = [_text(version.file.read_bytes()) for version in kept]
    # Each text, and when it was put there: that is when the one before it was kept.
    since = [0, *(version.utc for version in kept)]
    standing = _standing(zip([*held, text], since, strict=True))
    if len(standing) < 2:
        return None
    (before, _), (_, at) = standing[-2:]
    return Earlier(file, before, at)


def _standing(texts: Iterable[tuple[str, int]]) -> list[tuple[str, int]]:
    """The texts without those that were taken back."""
    standing: list[tuple[str, int]] = []
    for text, at in texts:
        if standing and standing[-1][0] == text:
            continue
        if len(standing) > 1 and standing[-2][0] == text:
            standing.pop()
        else:
            standing.append((text, at))
    return standing


def _text(content: bytes) -> str:
    return content.decode(errors="replace")  # what is no text is refused when it is put back
