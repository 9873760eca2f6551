"""Which role an order of the page needs, whoever gives it: a person at a form or a machine."""

from __future__ import annotations

from collections.abc import Mapping

from controller.page.people import Role

# `watch` goes on for ever and `backup` comes with an open file: neither is given through the page.
ROLE_OF: Mapping[str, Role] = {
    "status": "look",
    "logbook": "look",
    "ring": "act",
    "stop": "act",
    "quiet": "act",
    "lift-quiet": "act",
    "follow": "act",
    "hold": "act",
    "go": "act",
    "set": "act",
    "step": "act",
    "to": "act",
    "right": "act",
    "stood": "act",
    "swapped": "act",
    "moved": "act",
    "trust-clock": "act",
    "acknowledge": "act",
    "files": "edit",  # the command of [tell] stands in them
    "preview": "edit",
    "reload": "edit",
    "edit": "edit",
    "earlier": "edit",
}

# Asked for by GET: they change nothing, and have no whole file to say.
TOLD = ("status", "logbook", "files", "earlier")
# What may be given once alone. Whoever says `stop` twice means it, and a second `edit` or `reload`
# of the same files changes nothing.
ONCE = frozenset(order for order, role in ROLE_OF.items() if role == "act") - {"stop"}
