"""A ring of a plan in a form: from the fields to the keys of the file, and back."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from controller.building.faults import Fault
from controller.building.values import EVERY_ZONE
from controller.editing.document import Change, Texts, entries_of
from controller.editing.entry_changes import Keys
from controller.editing.typed import length_of, seconds_of
from controller.editing.written import plain
from controller.page.edit_begun import field_text
from controller.page.forms import Form

FIELDS = ("at", "zones", "for", "strokes", "says")
MOST_TIMES = 50  # that one form adds at once
MOST_ZONES = 100
_RING = re.compile(r"\[plans\.(?P<plan>.+)\] ring (?P<place>[0-9]+)(?: \(.*\))?")


def times_of(form: Form) -> list[str]:
    """The times in the field "at", which may be several with commas between them."""
    return [one.strip() for one in field_text(form, "at").split(",")]


def keys_of_form(form: Form, at: str) -> dict[str, Any]:
    """The ring at one time, as the file would have it; what is left empty is left out."""
    keys: dict[str, Any] = {"at": at}
    if chosen := form.all("zones")[:MOST_ZONES]:
        keys["zones"] = chosen
    if length := field_text(form, "for"):
        keys["for"] = length_of(length)
    if strokes := field_text(form, "strokes"):
        keys["strokes"] = seconds_of(strokes)
    if says := field_text(form, "says"):
        keys["says"] = says
    return keys


def changed_keys(form: Form, before: Keys, zones: Iterable[str]) -> dict[str, Any]:
    """A ring changed: the zones stay written as they are where they are the same."""
    keys = keys_of_form(form, field_text(form, "at"))
    if set(keys.get("zones", ())) == set(typed_of(before, zones)["zones"]):
        keys["zones"] = before["zones"]
    return keys


def typed(form: Form) -> dict[str, Any]:
    """What stands in the fields, to be shown again."""
    return {**{key: form.get(key, "") for key in FIELDS}, "zones": form.all("zones")}


def typed_of(keys: Keys, zones: Iterable[str]) -> dict[str, Any]:
    """A ring of the file as the fields show it."""
    found = plain(keys)
    listed = list(zones) if EVERY_ZONE in found["zones"] else found["zones"]
    return {
        "at": found["at"],
        "zones": listed,
        "for": found.get("for", ""),
        "strokes": ", ".join(map(str, found.get("strokes", ()))),
        "says": found.get("says", ""),
    }


def field_of(
    texts: Texts, change: Change, plan: str, rings: Sequence[Mapping[str, Any]]
) -> Callable[[Fault], str | None]:
    """Which field a fault belongs to: those of these rings of the plan as it would be."""
    wanted = [plain(one) for one in rings]
    after = entries_of({**texts, change.file: change.text}, f"plans.{plan}")
    places = {place for place, one in enumerate(after, 1) if plain(one) in wanted}

    def named(fault: Fault) -> str | None:
        match = _RING.fullmatch(fault.table)
        if match is None or match["plan"] != plan or int(match["place"]) not in places:
            return None
        return {"": "for"}.get(fault.key, fault.key) if fault.key in ("", *FIELDS) else None

    return named
