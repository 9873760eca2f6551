"""What a person types for a value of the file, as the file would have it.

What is not to be made out stays as it was typed, for it to be refused with the others.
"""

from __future__ import annotations

from math import isfinite
from typing import Any


def seconds_of(text: str) -> list[Any]:
    """ "1, 0.5, 1" as a list of seconds."""
    return [_number(one.strip()) for one in text.split(",")]


def length_of(text: str) -> str:
    """ "5", or "5s", as a duration; a bare number is one of seconds."""
    text = text.strip()
    return f"{text}s" if isinstance(_number(text), int | float) else text


def _number(text: str) -> int | float | str:
    try:
        number = float(text)
    except ValueError:
        return text
    if not isfinite(number):
        return text
    return int(text) if text.isascii() and text.isdigit() else number
