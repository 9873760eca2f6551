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
