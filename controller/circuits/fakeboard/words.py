"""What is said to the fake board, made sure of. `ValueError` says what is wrong with it."""

from __future__ import annotations

import json
from typing import Any, get_args

from controller.circuits.fakeboard.header import PINS
from controller.circuits.fakeboard.parts import MILLISECOND, Fault
from controller.circuits.lines import InputLine

MOST_BYTES = 65_536  # of one message
MOST_MILLISECONDS = 60_000
_FAULTS = get_args(Fault)
_KINDS = {str: "text", int: "a number", bool: "true or false", dict: "an object", list: "a list"}


def asked_in(line: bytes) -> dict[str, Any]:
    """The JSON object of one line."""
    try:
        asked = json.loads(line)
    except RecursionError:
        raise ValueError("JSON so deep has no sense here") from None
    if not isinstance(asked, dict) or not isinstance(asked.get("do"), str):
        raise ValueError('expected a JSON object with "do"')
    return asked


def levels_in(asked: dict[str, Any], key: str) -> dict[int, bool]:
    """Pins and their levels."""
    plain = _object(asked, key)
    for pin, level in plain.items():
        if level not in (0, 1):
            raise ValueError(f"{level!r} is no level for pin {pin}: expected 0 or 1")
    return {_pin(pin): bool(level) for pin, level in plain.items()}


def inputs_in(asked: dict[str, Any]) -> dict[int, InputLine]:
    """Inputs, as they are to be read."""
    inputs = {}
    for pin, how in _object(asked, "inputs").items():
        match how:
            case ["high" | "low" as active, int(debounce_ns)] if (
                0 <= debounce_ns <= MOST_MILLISECONDS * MILLISECOND
            ):
                inputs[_pin(pin)] = InputLine(active, debounce_ns)
            case _:
                raise ValueError(f'pin {pin}: expected ["high" or "low", debounce in ns]')
    return inputs


def pins_in(asked: dict[str, Any]) -> list[int]:
    """Pins that are asked after."""
    return [_pin(str(pin)) for pin in _one(asked, "pins", list)]


def text_in(asked: dict[str, Any], key: str) -> str:
    """A name."""
    return str(_one(asked, key, str))


def number_in(asked: dict[str, Any], key: str, most: int) -> int:
    """A whole number from 0 to `most`."""
    number = _one(asked, key, int)
    if isinstance(number, bool) or not 0 <= number <= most:
        raise ValueError(f'"{key}": expected a number from 0 to {most}')
    return int(number)


def truth_in(asked: dict[str, Any], key: str) -> bool:
    """True or false."""
    return bool(_one(asked, key, bool))


def fault_in(asked: dict[str, Any]) -> Fault:
    """A relay's fault."""
    for fault in _FAULTS:
        if asked.get("fault") == fault:
            return fault  # type: ignore[no-any-return]  # one of Fault
    raise ValueError(f'"fault": expected one of {", ".join(_FAULTS)}')


def _object(asked: dict[str, Any], key: str) -> dict[str, Any]:
    plain: dict[str, Any] = _one(asked, key, dict)
    return plain


def _one(asked: dict[str, Any], key: str, kind: type) -> Any:
    if key not in asked:
        raise ValueError(f'"{key}" is missing')
    if not isinstance(asked[key], kind):
        raise ValueError(f'"{key}": expected {_KINDS[kind]}')
    return asked[key]


def _pin(text: str) -> int:
    if not text.isdecimal() or int(text) not in PINS:
        raise ValueError(f"{text!r} is no pin: expected a BCM number from 0 to {PINS[-1]}")
    return int(text)
