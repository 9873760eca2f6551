"""That what a program orders is done once, however often its request arrives.

The program numbers what it orders, as the header Idempotency-Key is meant to be used
(draft-ietf-httpapi-idempotency-key-header, whose statuses these are; from memory). The numbers of
ten minutes are kept, in memory. Nothing is forgotten early to make room: it could be done twice.
"""

from __future__ import annotations

import re
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

from controller.page.forms import FormRefused

HEADER = "Idempotency-Key"
PATTERN = "[A-Za-z0-9_-]{8,64}"
KEPT_SECONDS = 600.0
MOST_KEPT = 300  # of one machine: one act every two seconds


class Answer(NamedTuple):
    """What was answered."""

    status: int
    content: dict[str, Any]


@dataclass
class _Given:
    what: bytes
    at: float
    answer: Answer | None = None  # None: not answered yet


class GivenOnce:
    """What the machines have given of late. For one thread."""

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        self._now = now
        self._given: dict[str, OrderedDict[str, _Given]] = {}

    def before(self, machine: str, number: str, what: bytes) -> Answer | None:
        """What was answered when this was given before; None where it was not.

        Raises `FormRefused`: under way, another thing by the same number, or no room for one more.
        """
        theirs = self._theirs(machine)
        given = theirs.get(number)
        if given is None:
            if len(theirs) >= MOST_KEPT:
                says = f"Over {MOST_KEPT} orders in {KEPT_SECONDS / 60:.0f} minutes: nothing done."
                raise FormRefused(429, says)
            return None
        if given.what != what:
            raise FormRefused(422, f"{HEADER}: something else was ordered by that number before.")
        if given.answer is None:
            raise FormRefused(409, "That was ordered before, and is not answered yet.")
        return given.answer

    def begin(self, machine: str, number: str, what: bytes) -> None:
        """It is given now."""
        self._theirs(machine)[number] = _Given(what, self._now())

    def end(self, machine: str, number: str, answer: Answer) -> None:
        """This came of it."""
        given = self._theirs(machine).get(number)
        if given is not None:  # else it took longer than it is kept
            given.answer = answer

    def _theirs(self, machine: str) -> OrderedDict[str, _Given]:
        theirs = self._given.setdefault(machine, OrderedDict())
        while theirs and self._now() - next(iter(theirs.values())).at > KEPT_SECONDS:
            theirs.popitem(last=False)
        return theirs


def number_of(header: str | None) -> str:
    """The number of a request; quotes belong to the header's form. Raises `FormRefused`."""
    number = (header or "").strip().strip('"')
    if not re.fullmatch(PATTERN, number):
        raise FormRefused(
            400,
            f"{HEADER}: expected a number of your own, new for each order, so that none is done "
            "twice: 8 to 64 of letters, digits, - and _",
        )
    return number
