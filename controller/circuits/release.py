"""`understudy release`: opens every relay, whatever became of the daemon and its hand.

The hand writes down what it is about to claim; this opens exactly that, and reads the building's
file only where nothing is written down or it cannot be read. It must work when nothing else does,
and at once, so it imports next to nothing.
"""

from __future__ import annotations

import contextlib
import json
import os
import socket
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import NamedTuple

from controller.circuits.chip import PinsBusy, find_chip, request_lines
from controller.circuits.folders import runtime_folder
from controller.circuits.lines import PinsFault, named

CLAIM = "claimed.json"
_MOST_BYTES = 65_536
_MOST_PINS = 64
_MOST_LINES = 1_024  # of one chip
_PATIENCE_SECONDS = 2.0  # for a hand that is just ending
_PAUSE_SECONDS = 0.02
_ANSWER_SECONDS = 1.0
_USAGE = """\
Usage: understudy release [PATH] [--runtime DIR]

Opens every relay: those that the hand wrote down in the runtime folder before it claimed them,
or, where nothing is written down there, those of the building's file at PATH (a TOML file, or a
folder of them).

  --runtime DIR   the daemon's runtime folder
  --help          this text

It ends with 0 where all are open or there was nothing to open, with 1 where some could not be
opened, with 2 where it was not understood.
"""


class Claim(NamedTuple):
    """What a hand holds, or held: the lines of a chip or of a fake board. One of both is None."""

    chip: Path | None
    board: Path | None
    outputs: Mapping[int, bool]  # pin → inactive level

    @property
    def where(self) -> str:
        return str(self.chip) if self.chip else f"the fake board at {self.board}"


def write_claim(
    runtime: Path, chip: Path | str | None, board: Path | None, outputs: Mapping[int, bool]
) -> None:
    """Write down what is about to be claimed: whole, or not at all.

    Raise `PinsFault` where it cannot be written; then nothing should be claimed. (The folder's disk
    may be full: what is written down already, and right, is left as it is.)
    """
    assert (chip is None) != (board is None), "lines are a chip's or a board's"
    plain = {
        "chip": None if chip is None else str(chip),
        "board": None if board is None else str(board),
        "outputs": {str(pin): int(high) for pin, high in sorted(outputs.items())},
    }
    text = json.dumps(plain) + "\n"
    path = runtime / CLAIM
    fresh = runtime / f"{CLAIM}.new"
    try:
        if path.is_file() and path.read_text() == text:
            return
        fresh.write_text(text)
        fresh.replace(path)
    except (OSError, ValueError) as fault:
        raise PinsFault(
            f"{path}: what is to be claimed cannot be written down ({_reason(fault)}), and without "
            "that `understudy release` would not know what to open. Nothing is claimed."
        ) from None


def read_claim(runtime: Path) -> Claim | None:
    """What was written down last; None where nothing is. `ValueError`, `OSError`: unreadable."""
    try:
        with (runtime / CLAIM).open("rb") as stream:
            data = stream.read(_MOST_BYTES + 1)
    except FileNotFoundError:
        return None
    if len(data) > _MOST_BYTES:
        raise ValueError("it is too long")
    plain = json.loads(data)
    try:
        chip, board, levels = plain["chip"], plain["board"], plain["outputs"]
        outputs = {int(pin): bool(level) for pin, level in levels.items()}
        sound = all(level in (0, 1) for level in levels.values()) and all(
            0 <= pin < _MOST_LINES for pin in outputs
        )
    except (KeyError, TypeError, AttributeError):
        raise ValueError("it is not what a hand writes") from None
    places = [place for place in (chip, board) if place is not None]
    if len(places) != 1 or not isinstance(places[0], str) or not sound or len(outputs) > _MOST_PINS:
        raise ValueError("it is not what a hand writes")
    return Claim(Path(chip) if chip else None, Path(board) if board else None, outputs)


def release(runtime: Path, path: Path | None) -> list[str]:
    """Open all relays; what was done, in lines for people.

    `path` is the building's file, read only where `runtime` holds no readable claim. Raise
    `PinsFault` where relays could not be opened, or it cannot be known which there are; what can be
    opened has been opened then.
    """
    unread = ""
    try:
        claim = read_claim(runtime)
    except (OSError, ValueError, RecursionError) as fault:
        claim, unread = None, f"{runtime / CLAIM} cannot be read ({_reason(fault)})"
    if claim is not None:
        return _open(claim)
    if path is not None:
        return _open_by_file(path, unread or f"Nothing is written down in {runtime}")
    if unread:
        raise PinsFault(f"{unread}; name the building's file: understudy release PATH")
    return [f"Nothing was claimed (there is no {runtime / CLAIM}), so there was nothing to open."]


def _open_by_file(path: Path, why: str) -> list[str]:
    from controller.circuits.release_file import outputs_of  # needs tomllib

    outputs, faults = outputs_of(path)
    said = [f"{why}, so {path} was read."]
    if outputs:
        said += _open(Claim(find_chip(), None, outputs))
    elif not faults:
        said.append("It has no relays, so there was nothing to open.")
    if faults:
        raise PinsFault("\n".join([*said, "Not all could be done:", *faults]))
    return said


def _open(claim: Claim) -> list[str]:
    if not claim.outputs:
        return ["What is written down has no relays, so there was nothing to open."]
    if claim.board is not None and not _until_free(lambda: _open_board(claim)):
        return [f"No fake board runs at {claim.board} any more, and its relays ended with it."]
    if claim.chip is not None:
        _until_free(lambda: _open_chip(claim))
    return [f"Open: {named(sorted(claim.outputs))} ({claim.where})."]


def _until_free(attempt: Callable[[], bool]) -> bool:
    """Try again while a hand that is just ending still holds the lines."""
    give_up = time.monotonic() + _PATIENCE_SECONDS
    while True:
        try:
            return attempt()
        except PinsBusy as busy:
            if time.monotonic() >= give_up:
                raise PinsFault(
                    f"Not opened: after {_PATIENCE_SECONDS:g} s the relays are still held. {busy}. "
                    "Where the daemon still runs, end it (systemctl stop understudy); its hand "
                    "opens them."
                ) from None
        time.sleep(_PAUSE_SECONDS)


def _open_chip(claim: Claim) -> bool:
    """To claim at the inactive levels is to open; the board's kernel keeps them afterwards."""
    assert claim.chip is not None
    request_lines(claim.chip, claim.outputs, {}).release()
    return True


def _open_board(claim: Claim) -> bool:
    """One line asked, one answered. False where no board listens."""
    levels = {str(pin): int(high) for pin, high in claim.outputs.items()}
    asked = json.dumps({"do": "open", "levels": levels}).encode() + b"\n"
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as link:
        link.settimeout(_ANSWER_SECONDS)
        try:
            link.connect(str(claim.board))
            link.sendall(asked)
            data = b""
            while b"\n" not in data and len(data) < _MOST_BYTES:
                more = link.recv(_MOST_BYTES)
                if not more:
                    raise OSError("it hung up")
                data += more
            answer = json.loads(data)
            ok, says = answer["ok"], str(answer.get("says", ""))
        except (FileNotFoundError, ConnectionRefusedError):
            return False
        except (OSError, ValueError, KeyError, TypeError, AttributeError) as fault:
            raise PinsFault(f"{claim.where}: no sound answer ({_reason(fault)})") from None
    if ok is not True and "busy" in says:
        raise PinsBusy(f"{claim.where}: {says}")
    if ok is not True:
        raise PinsFault(f"{claim.where} refuses: {says}")
    return True


def _reason(fault: Exception) -> str:
    return (fault.strerror if isinstance(fault, OSError) else None) or str(fault) or "damaged"


def _read_arguments(argv: list[str]) -> tuple[Path | None, Path]:
    """PATH and the runtime folder. `ValueError` says what was not understood."""
    runtime: str | None = None
    paths: list[str] = []
    rest = list(argv)
    while rest:
        word = rest.pop(0)
        if word == "--runtime":
            if not rest:
                raise ValueError("--runtime wants a folder")
            runtime = rest.pop(0)
        elif word.startswith("--runtime="):
            runtime = word.removeprefix("--runtime=")
        elif word == "--":
            paths += rest
            break
        elif word.startswith("-"):
            raise ValueError(f"there is no option {word}")
        else:
            paths.append(word)
    if len(paths) > 1:
        raise ValueError(f"expected one PATH, not {len(paths)}")
    if "" in (*paths, runtime):
        raise ValueError("a path is empty")
    return Path(paths[0]) if paths else None, Path(runtime) if runtime else runtime_folder()


def main(argv: list[str]) -> int:
    """The command, given the words after its name; its exit code, as the usage says."""
    if "--help" in argv or "-h" in argv:
        _say(1, _USAGE.rstrip())
        return 0
    try:
        path, runtime = _read_arguments(argv)
    except ValueError as fault:
        _say(2, f"understudy release: {fault}\n\n{_USAGE.rstrip()}")
        return 2
    try:
        lines = release(runtime, path)
    except PinsFault as fault:
        _say(2, f"understudy release: {fault}")
        return 1
    except KeyboardInterrupt:
        _say(2, "understudy release: interrupted; relays may still be closed")
        return 1
    _say(1, "\n".join(lines))
    return 0


def _say(descriptor: int, text: str) -> None:
    """Straight to the descriptor: a closed or unwilling one must not turn success into failure."""
    with contextlib.suppress(OSError):
        os.write(descriptor, text.encode(errors="replace") + b"\n")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
