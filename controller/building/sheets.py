"""From a path to the tables of its files: what is found, parsed, and put together."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import tomli

from controller.building.faults import Fault, key_written

MOST_BYTES = 1 << 20  # of one file
MOST_FILES = 100
SPREAD = ("zones", "lines", "returns", "panel", "plans")  # may be spread over files, entry by entry
_TWICE = re.compile(r"Cannot declare \((.*?),?\) twice")


class Source(NamedTuple):
    """One file: its name as in messages, and its bytes."""

    file: str
    content: bytes


class Written(NamedTuple):
    """A table as it stands in its file, not yet judged."""

    file: str
    raw: Any


class Sheets(NamedTuple):
    """All tables of all files."""

    path: str  # for what is missing and so has no file
    tables: dict[str, Written]
    spread: dict[str, dict[str, Written]]
    whole: bool  # False where a file could not be read: then no table is known to be missing


def sources(path: Path) -> tuple[list[Source], list[Fault]]:
    """The file, or the folder's *.toml in the order of their names."""
    try:
        files = _files(path)
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        return [], [_unreadable(path, error)]
    if not files:
        return [], [Fault(str(path), "", "", None, "this folder has no file that ends in .toml")]
    if len(files) > MOST_FILES:
        words = f"this folder has {len(files)} files; expected at most {MOST_FILES}"
        return [], [Fault(str(path), "", "", None, words)]
    found: list[Source] = []
    faults: list[Fault] = []
    for file in files:
        try:
            found.append(Source(str(file), _content(file)))
        except (OSError, ValueError) as error:
            faults.append(_unreadable(file, error))
    return found, faults


def _files(path: Path) -> list[Path]:
    if not path.is_dir():
        return [path]
    return sorted(
        file
        for file in path.iterdir()
        if file.name.endswith(".toml") and not file.name.startswith(".")  # hidden: editors' own
    )


def _content(file: Path) -> bytes:
    """The file's bytes, no more than show that there are too many."""
    if not file.is_file() and file.exists():
        raise OSError(0, "it is not a plain file")
    with file.open("rb") as stream:
        return stream.read(MOST_BYTES + 1)


def _unreadable(path: Path, error: OSError | ValueError) -> Fault:
    if isinstance(error, FileNotFoundError):
        words = "there is no such file or folder"
    elif isinstance(error, PermissionError):
        words = "it may not be read by this user; change its owner or its mode"
    else:
        words = f"it cannot be read: {getattr(error, 'strerror', None) or error}"
    return Fault(str(path), "", "", None, words)


def put_together(path: str, files: Iterable[Source]) -> tuple[Sheets, list[Fault]]:
    """Parse the files and put their tables together; no table may be in two of them."""
    sheets = Sheets(path, {}, {name: {} for name in SPREAD}, True)
    faults: list[Fault] = []
    for source in files:
        try:
            document = _parsed(source)
        except _Unparsable as error:
            faults.append(error.fault)
            sheets = sheets._replace(whole=False)
            continue
        for name, raw in document.items():
            if name in SPREAD and isinstance(raw, Mapping):
                for entry, one in raw.items():
                    label = f"[{name}.{key_written(entry)}]"
                    faults += _laid(sheets.spread[name], entry, label, Written(source.file, one))
            else:
                label = f"[[{name}]]" if isinstance(raw, list) else f"[{key_written(name)}]"
                faults += _laid(sheets.tables, name, label, Written(source.file, raw))
    return sheets, faults


def _laid(tables: dict[str, Written], name: str, label: str, written: Written) -> list[Fault]:
    """Lay a table with the others, unless another file has it already."""
    first = tables.setdefault(name, written)
    if first is written:
        return []
    words = f"is in {first.file} too; expected in one file only"
    return [Fault(written.file, label, "", None, words)]


class _Unparsable(Exception):
    def __init__(self, file: str, words: str) -> None:
        self.fault = Fault(file, "", "", None, words)


def _parsed(source: Source) -> dict[str, Any]:
    """The file as TOML 1.0. `_Unparsable` says why not, and where."""
    if len(source.content) > MOST_BYTES:
        raise _Unparsable(source.file, f"is too large; expected at most {MOST_BYTES >> 20} MiB")
    try:
        text = source.content.decode("utf-8-sig")  # a byte-order mark before it does no harm
    except UnicodeDecodeError as error:
        line = source.content.count(b"\n", 0, error.start) + 1
        words = f"line {line}: is not UTF-8 text; save the file as UTF-8"
        raise _Unparsable(source.file, words) from None
    try:
        return tomli.loads(text)
    except tomli.TOMLDecodeError as error:
        raise _Unparsable(source.file, _syntax(error, text)) from None
    except RecursionError:
        raise _Unparsable(source.file, "has brackets nested too deeply for TOML") from None
    except ValueError:  # the parser lets Python's own limit on digits through
        raise _Unparsable(source.file, "has a number with far too many digits") from None


def _syntax(error: tomli.TOMLDecodeError, text: str) -> str:
    lines = text.splitlines() or [""]
    line = lines[min(error.lineno, len(lines)) - 1].strip()
    quoted = f", in: {line[:60]}" if line and line.isprintable() else ""
    return f"line {error.lineno}, column {error.colno}: not TOML: {_plain(error.msg)}{quoted}"


def _plain(message: str) -> str:
    """The parser's message without its inner notation."""
    twice = _TWICE.fullmatch(message)
    if twice is not None:
        names = [name.strip(" '\"") for name in twice[1].split(",")]
        return f"[{'.'.join(names)}] is there twice"
    return {
        "Cannot overwrite a value": "this key is there twice",
        "Invalid date or datetime": "there is no such date or time",
        "Invalid value": "a value was expected (text stands in quotes)",
    }.get(message, message[:1].lower() + message[1:])
