"""What a person can do at the page, act by act: its words, its fields, and what takes it back.

What an act does is told in the words of the order itself (service/orders.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, NamedTuple

from controller.service.orders import ORDERS

ALL = "all"  # every zone


class Act(NamedTuple):
    """One order, as a page asks for it. `{it}` is the zone or the line."""

    link: str
    title: str
    button: str
    about: Literal["zone", "line", ""] = ""
    fields: tuple[str, ...] = ()
    back: str = ""  # the order that takes it back


class Link(NamedTuple):
    """Where an act is asked for; `about` is for those who hear links without what stands beside."""

    to: str
    words: str
    about: str = ""


ACTS: Mapping[str, Act] = {
    "ring": Act("Ring", "Ring {it}", "Ring now", "zone", ("for",)),
    "stop": Act("Stop all bells", "Stop all bells", "Stop all bells"),
    "quiet": Act("Keep quiet", "Keep {it} quiet", "Keep quiet", "zone", ("until",), "lift-quiet"),
    "lift-quiet": Act(
        "Let it ring again", "Let {it} ring again", "Let it ring again", "zone", (), "quiet"
    ),
    "follow": Act(
        "Another plan for a date",
        "Another plan for a date",
        "Let the date follow it",
        "",
        ("date", "plan"),
        "follow",
    ),
    "set": Act(
        "Say what they show",
        "{it}: what the dials show",
        "They show this",
        "line",
        ("shows", "polarity"),
    ),
    "right": Act("They are right", "{it}: the dials are right", "They are right", "line"),
    "stood": Act("They stood", "{it}: the dials stood", "They stood", "line"),
    "hold": Act("Hold", "Hold {it}", "Hold", "line", (), "go"),
    "go": Act("Let it go on", "Let {it} go on", "Let it go on", "line", (), "hold"),
    "to": Act(
        "Drive to a time", "Drive {it} to a time", "Drive it there", "line", ("shows",), "go"
    ),
    "step": Act("Extra impulses", "Extra impulses for {it}", "Give them", "line", ("impulses",)),
    "swapped": Act(
        "Wires were exchanged", "{it}: the wires were exchanged", "They were exchanged", "line"
    ),
    "moved": Act("Dials were moved", "{it}: the dials were moved", "They were moved", "line"),
    "trust-clock": Act("The clock is right", "The clock is right", "The clock is right"),
    "acknowledge": Act("Seen", "Faults that have ended", "They are seen", "", ("fault",)),
}
OF_LINES = tuple(order for order, act in ACTS.items() if act.about == "line")


def explained(order: str) -> str:
    """What an order does."""
    return " ".join((ORDERS[order].__doc__ or "").split()).replace("`", "")


def link_to(order: str, subject: str = "", title: str = "") -> Link:
    """Where the order is asked for, for a zone or line of this name and title."""
    return Link(f"/act/{order}/{subject}" if subject else f"/act/{order}", ACTS[order].link, title)


def way_back(order: str, subject: str, keys: Mapping[str, object]) -> Link | None:
    """What takes an act back that was done; None where nothing does."""
    back = ACTS[order].back
    if order == "follow":
        if keys["plan"] == "usual":
            return None
        return Link(f"/act/follow?date={keys['date']}&plan=usual", "Take it back: the usual plan")
    if not back:
        return None
    return Link(f"/act/{back}/{subject}", f"Take it back: {ACTS[back].link.lower()}")
