"""One line of the socket read as an order; what is wrong with it said for people."""

from __future__ import annotations

import json
import re
from typing import Any, NoReturn

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from controller.building.faults import not_known, shown
from controller.service.orders import DATE_PATTERN, MOST_ID, NAME_PATTERN, ORDERS, Words

_MOST_PLAIN_BYTES = 4096  # up to here a line is read whatever is in it: some 0.1 ms
_MOST_PARTS = 1_000  # texts in a longer line, and bytes beside them: four times what an order has
_PART = re.compile(rb'"[^"\\]*+(?:\\.[^"\\]*+)*+"?', re.DOTALL)  # a JSON text; linear on anything
_MOST_FAULTS = 5  # of one line that the answer tells
_MOST_SHOWN = 100  # letters of what was said that the answer repeats
_PATTERN_WORDS = {
    NAME_PATTERN: 'a name of at most 40 of the letters a to z, digits and "-"',
    DATE_PATTERN: "a date such as 2026-11-25",
}


class NotUnderstood(ValueError):
    """A line that is no order; `id` is the one that it gave, if it could be made out."""

    def __init__(self, says: str, id: int | None = None) -> None:
        super().__init__(says)
        self.id = id


def words_in(line: bytes) -> Words:
    """The order of one line. `NotUnderstood` says in words what is wrong with it."""
    if _has_too_many_parts(line):
        raise NotUnderstood("not understood: it has more parts than any order")
    try:
        plain = json.loads(line.decode(), parse_constant=_refused_constant)
    except UnicodeDecodeError:
        raise NotUnderstood("not understood: expected one JSON object a line, in UTF-8") from None
    except (ValueError, RecursionError):
        raise NotUnderstood("not understood: expected one JSON object a line") from None
    if not isinstance(plain, dict):
        raise NotUnderstood('not understood: expected a JSON object with "order"')
    given = plain.get("id")
    id = given if type(given) is int and 0 <= given <= MOST_ID else None
    name = plain.get("order")
    if name is None:
        raise NotUnderstood(f'"order" is missing: expected one of {", ".join(ORDERS)}', id)
    if not isinstance(name, str):
        raise NotUnderstood(f'"order": expected a name, not {_met(name)}', id)
    kind = ORDERS.get(name)
    if kind is None:
        raise NotUnderstood(not_known("order", name[:_MOST_SHOWN], ORDERS), id)
    # By ourselves and first: for 100,000 keys that nobody knows pydantic would make as many faults.
    if faults := _strange_keys(kind, plain):
        raise NotUnderstood(f"{name}: {'; '.join(faults)}", id)
    try:
        return kind.model_validate(plain)
    except ValidationError as fault:
        faults = [_told(kind, one) for one in fault.errors(include_url=False)[:_MOST_FAULTS]]
        raise NotUnderstood(f"{name}: {'; '.join(faults)}", id) from None


def _has_too_many_parts(line: bytes) -> bool:
    """Whether a long line is no order, whatever it says: its length is not that of a text or two.

    To read 2 MiB of `[],[],…` takes 0.11 s, in which the engine waits, and 57 MB; this 0.6 ms.
    (Measured on one core of a shared x86 machine.)
    """
    if len(line) <= _MOST_PLAIN_BYTES:
        return False
    beside = len(line)
    for number, part in enumerate(_PART.finditer(line)):
        if number > _MOST_PARTS:
            return True
        beside -= len(part[0])
    return beside > _MOST_PARTS


def _keys_of(kind: type[Words]) -> dict[str, FieldInfo]:
    """What may be said with an order, beside its name."""
    fields = {field.alias or name: field for name, field in kind.model_fields.items()}
    del fields["order"]
    return fields


def _strange_keys(kind: type[Words], plain: dict[str, Any]) -> list[str]:
    known = _keys_of(kind)
    strange = [key for key in plain if key != "order" and key not in known]
    return [not_known("key", key[:_MOST_SHOWN], known) for key in strange[:_MOST_FAULTS]]


def _refused_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no JSON (RFC 8259, 6)")


def _told(kind: type[Words], error: Any) -> str:
    """One of pydantic's faults, for people."""
    key, *places = error["loc"]
    where = f'"{key}"' + "".join(f", entry {place + 1}" for place in places)
    if error["type"] == "missing":
        return f"{where} is missing: {_keys_of(kind)[key].description}"
    return f"{where}: expected {_expected(error)}, not {_met(error['input'])}"


def _expected(error: Any) -> str:
    limits = error.get("ctx", {})
    match error["type"]:
        case "string_type":
            return "text"
        case "string_unicode":
            return "text of whole characters"  # half of a surrogate pair is none
        case "int_type":
            return "a whole number"
        case "list_type":
            return "a list of names"
        case "string_pattern_mismatch":
            return _PATTERN_WORDS[limits["pattern"]]
        case "string_too_long":
            return f"at most {limits['max_length']} letters"
        case "too_long":
            return f"at most {limits['max_length']} entries"
        case "too_short":
            return "at least one entry"
        case "greater_than_equal":
            return f"{limits['ge']} or more"
        case "less_than_equal":
            return f"{limits['le']} or less"
        case "literal_error":
            return str(limits["expected"]).replace("'", '"')
        case "value_error":
            return str(limits["error"])
    return f"something else ({error['msg']})"


def _met(value: Any) -> str:
    """What was said, as JSON has it; only the kind of what may be nested."""
    match value:
        case None:
            return "null"
        case list():
            return "this list" if value else "an empty list"
        case dict():
            return "an object"
        case str() if len(value) > _MOST_SHOWN:
            return f"text of {len(value)} letters"
        case _:
            return shown(value)
