"""`understudy new`: a building's first two files, by a few questions or by options."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple, TypeVar

import typer

from controller.building.civil import CivilTime
from controller.building.values import is_name
from controller.building.wiring import Level
from controller.cli.guard import NotDone
from controller.editing.first_file import Face, First, Line, Zone, first_files, free_pins

MOST_TRIES = 20  # at one question
MOST_CIRCUITS = 12  # of a kind: the header has no more pins
_PINS = range(2, 28)
_ZONE = re.compile(r"([^=]+)=([0-9]{1,2})")
_LINE = re.compile(r"([^=]+)=([0-9]{1,2})(?:,([0-9]{1,2}))?")
_Asked = TypeVar("_Asked")


class Given(NamedTuple):
    """What was given on the command line; None where it was not."""

    name: str | None
    timezone: str | None
    zones: Sequence[str] | None  # "north=17"
    lines: Sequence[str] | None  # "main=22,23", "yard=13"
    active: str | None
    face: str | None
    yes: bool  # ask nothing


def new(folder: Path, given: Given) -> None:
    """Ask what is not given, and write the files. Raises `NotDone`, `Faults`, `OSError`, or
    `typer.BadParameter`. Nothing is overwritten.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.glob("*.toml"))):
        raise NotDone(
            f"{folder} is there already, with a building's files or as a file, and is left as it "
            "is. Name another folder."
        )
    texts = first_files(_first(folder, given))
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in texts.items():
        with (folder / name).open("x", encoding="utf-8") as file:
            file.write(text)
    typer.echo(f"Written: {' and '.join(str(folder / name) for name in texts)}.")
    typer.echo("Look through them in a text editor, then:")
    for command, what in (
        (f"check {folder}", "what they come to, and every mistake"),
        (f"wiring {folder} --out SHEET", "what to wire where, to print"),
        (f"bench {folder} --fake", "the relays tried, on a fake board first"),
    ):
        typer.echo(f"  understudy {command}\n      {what}")


def _first(folder: Path, given: Given) -> First:
    ask = _Asker(given.yes)
    name = ask("What is the building called?", given.name, folder.resolve().name, str)
    timezone = ask(
        "Which time zone, by its IANA name, such as America/Halifax?",
        given.timezone,
        _here(),
        _timezone,
    )
    active = ask(
        "Which level energises a relay of your board, high or low?", given.active, "high", _level
    )
    zones = tuple(map(_zone, given.zones)) if given.zones is not None else ()
    lines = tuple(map(_line, given.lines)) if given.lines is not None else ()
    first = First(name, timezone, zones, lines, active, "12h")
    if given.zones is None:
        first = _ask_zones(ask, first)
    if given.lines is None:
        first = _ask_lines(ask, first)
    if first.lines:
        face = ask("How many hours are on the dials, 12h or 24h?", given.face, "12h", _face)
        first = first._replace(face=face)
    return first


def _ask_zones(ask: _Asker, first: First) -> First:
    count = ask("How many bell zones?", None, "1", _count_from(0))
    for number in range(1, count + 1):
        usual = "north" if number == 1 else f"zone-{number}"
        name = ask(f"Zone {number}: its name?", None, usual, _name)
        pin = ask(f"Zone {number}: its relay's pin?", None, _free(first, 1), _pins(1, first.pins))
        first = first._replace(zones=(*first.zones, Zone(name, *pin)))
    return first


def _ask_lines(ask: _Asker, first: First) -> First:
    least = 0 if first.zones else 1  # a building has one or the other
    count = ask("How many lines of dials?", None, "1", _count_from(least))
    for number in range(1, count + 1):
        usual = "main" if number == 1 else f"line-{number}"
        name = ask(f"Line {number}: its name?", None, usual, _name)
        relays = ask(
            f"Line {number}: alternating (each impulse reverses polarity) or single?",
            None,
            "alternating",
            _relays,
        )
        which = "its relays' pins, + and −?" if relays == 2 else "its relay's pin?"
        pins = ask(f"Line {number}: {which}", None, _free(first, relays), _pins(relays, first.pins))
        first = first._replace(lines=(*first.lines, Line(name, pins)))
    return first


class _Asker:
    """Asks, unless it is given or nothing is to be asked."""

    def __init__(self, yes: bool) -> None:
        self._yes = yes

    def __call__(
        self, question: str, given: str | None, usual: str, read: Callable[[str], _Asked]
    ) -> _Asked:
        if given is not None or self._yes:
            try:
                return read(usual if given is None else given)
            except ValueError as fault:
                raise typer.BadParameter(str(fault)) from None
        for _ in range(MOST_TRIES):
            try:
                return read(typer.prompt(question, default=usual).strip())
            except ValueError as fault:
                typer.echo(f"{fault}.")
        raise typer.Abort


# ── what is answered ─────────────────────────────────────────────────────────────────────────────


def _timezone(text: str) -> str:
    try:
        return CivilTime(text).key
    except (ValueError, KeyError, OSError):
        raise ValueError(f"{text!r} is no IANA time zone, such as America/Halifax") from None


def _level(text: str) -> Level:
    levels: dict[str, Level] = {"high": "high", "low": "low"}
    if text not in levels:
        raise ValueError(f"{text!r}: expected high or low")
    return levels[text]


def _face(text: str) -> Face:
    faces: dict[str, Face] = {"12h": "12h", "24h": "24h"}
    if text not in faces:
        raise ValueError(f"{text!r}: expected 12h or 24h")
    return faces[text]


def _count_from(least: int) -> Callable[[str], int]:
    """Reads a number of circuits."""

    def read(text: str) -> int:
        if not text.isdecimal() or not least <= int(text) <= MOST_CIRCUITS:
            raise ValueError(f"{text!r}: expected a number from {least} to {MOST_CIRCUITS}")
        return int(text)

    return read


def _relays(text: str) -> int:
    if text not in ("alternating", "single"):
        raise ValueError(f"{text!r}: expected alternating or single")
    return 2 if text == "alternating" else 1


def _name(text: str) -> str:
    if not is_name(text):
        raise ValueError(f'{text!r}: expected small letters, digits and "-", such as north')
    return text


def _pins(count: int, taken: Sequence[int]) -> Callable[[str], tuple[int, ...]]:
    """Reads so many pins, which are not taken."""

    def read(text: str) -> tuple[int, ...]:
        words = text.replace(",", " ").split()
        pins = tuple(int(word) for word in words if word.isdecimal())
        if len(words) != count or len(set(pins)) != count or not all(p in _PINS for p in pins):
            raise ValueError(f"{text!r}: expected {count} of the BCM GPIO numbers 2 to 27")
        if again := sorted(set(pins) & set(taken)):
            raise ValueError(f"GPIO{again[0]} is taken already")
        return pins

    return read


def _free(first: First, count: int) -> str:
    """So many pins to suggest."""
    return " ".join(map(str, free_pins(first.active, first.pins)[:count]))


def _zone(text: str) -> Zone:
    if not (match := _ZONE.fullmatch(text)):
        raise typer.BadParameter(
            f"{text!r}: expected NAME=PIN, such as north=17", param_hint="--zone"
        )
    return Zone(match[1], int(match[2]))


def _line(text: str) -> Line:
    if not (match := _LINE.fullmatch(text)):
        raise typer.BadParameter(
            f"{text!r}: expected NAME=PIN,PIN (+ and −) of an alternating line, NAME=PIN of a "
            "single one, such as main=22,23",
            param_hint="--line",
        )
    return Line(match[1], tuple(int(pin) for pin in match.groups()[1:] if pin is not None))


def _here() -> str:
    """The system's time zone; UTC where it does not say."""
    named = os.environ.get("TZ", "").removeprefix(":")
    linked = os.path.realpath("/etc/localtime").partition("zoneinfo/")[2]
    for name in (named, linked, "UTC"):
        try:
            return _timezone(name)
        except ValueError:
            continue
    return "UTC"
