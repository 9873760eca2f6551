"""Reading one table of the file against its model, and saying in words what a key takes."""

from __future__ import annotations

import types
from collections.abc import Container, Iterable, Iterator, Mapping
from contextlib import suppress
from functools import lru_cache
from inspect import get_annotations
from typing import Annotated, Any, Generic, Literal, TypeVar, Union, cast, get_args, get_origin

from annotated_types import Ge, Le
from pydantic import ValidationError, create_model
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from controller.building.faults import Fault, nearest, shown
from controller.building.table import Table
from controller.building.values import Kind

T = TypeVar("T", bound=Table)


class Unread(Exception):
    """A value is itself at fault, and that is told; what needs the value cannot be judged."""


class _Partial:
    """Stands in for a table with faults: what of it is sound can be asked for."""

    def __init__(self, model: type[Table], sound: Mapping[str, Any]) -> None:
        self._model = model
        self._sound = sound

    def __getattr__(self, name: str) -> Any:
        if name in self._sound:
            return self._sound[name]
        attribute = getattr(self._model, name, None)
        if isinstance(attribute, property) and attribute.fget is not None:
            return attribute.fget(self)
        if name in self._model.model_fields:
            raise Unread(name)
        raise AttributeError(name)


class Entry(Generic[T]):
    """One table as it stands in its file, and what was read of it."""

    def __init__(self, file: str, table: str, raw: Mapping[str, Any], value: T) -> None:
        self.file = file
        self.table = table  # as in messages: "[zones.north]"
        self.raw = raw
        self.value = value  # where it has faults, asking for one of them raises Unread

    def fault(self, key: str, expected: str) -> Fault:
        """A fault of one of its keys, with the value as written."""
        value = shown(self.raw[key]) if key in self.raw else None
        return Fault(self.file, self.table, key, value, expected)


def read_entry(model: type[T], file: str, table: str, raw: object) -> tuple[Entry[T], list[Fault]]:
    """Read one table. With faults, what of it is sound is still there for the cross-checks."""
    if not isinstance(raw, Mapping):
        fault = Fault(file, table, "", shown(raw), f"expected a table with {_keys(model)}")
        return Entry(file, table, {}, cast(T, _Partial(model, {}))), [fault]
    try:
        return Entry(file, table, raw, model.model_validate(raw)), []
    except ValidationError as error:
        wrong: dict[str, list[ErrorDetails]] = {}
        for one in error.errors(include_url=False):
            wrong.setdefault(str(one["loc"][0]), []).append(one)
        partial = _Partial(model, _sound(model, raw, wrong))
        entry = Entry(file, table, raw, cast(T, partial))
        return entry, [_fault(model, entry, key, errors) for key, errors in wrong.items()]


def judged(faults: Iterator[Fault]) -> list[Fault]:
    """The faults that a check finds before it comes to a value which is itself at fault."""
    found: list[Fault] = []
    with suppress(Unread):
        for fault in faults:
            found.append(fault)
    return found


def aliases(model: type[Table]) -> dict[str, FieldInfo]:
    """A table's fields by their keys in the file: its own, then what others have as well."""
    own = get_annotations(model)
    fields = sorted(model.model_fields.items(), key=lambda one: one[0] not in own)
    return {field.alias or name: field for name, field in fields}


def _keys(model: type[Table]) -> str:
    return ", ".join(aliases(model))


def _fault(model: type[T], entry: Entry[T], key: str, errors: list[ErrorDetails]) -> Fault:
    known = aliases(model)
    why = errors[0]["type"]
    if why == "extra_forbidden":
        meant = nearest(key, known)
        hint = f'did you mean "{meant}"?' if meant else f"the keys here are {_keys(model)}"
        return entry.fault(key, f"there is no such key; {hint}")
    if why == "missing":
        return entry.fault(key, f"is required; expected {expected(known[key])}")
    raw = entry.raw[key]
    wrong = [
        shown(raw[place])
        for place in (one["loc"][1] for one in errors if len(one["loc"]) > 1)
        if isinstance(raw, list) and isinstance(place, int)
    ]
    blamed = f"; wrong in it: {', '.join(wrong)}" if wrong else ""
    return entry.fault(key, f"expected {expected(known[key])}{blamed}")


def _sound(model: type[Table], raw: Mapping[str, Any], wrong: Container[str]) -> dict[str, Any]:
    """What of a table can be read, by field name; defaults where a key is not there."""
    return {
        name: getattr(_alone(model, name).model_validate(_only(raw, key)), name)
        for key, name in _names(model).items()
        if key not in wrong
    }


def _only(raw: Mapping[str, Any], key: str) -> dict[str, Any]:
    return {key: raw[key]} if key in raw else {}


def _names(model: type[Table]) -> dict[str, str]:
    return {field.alias or name: name for name, field in model.model_fields.items()}


@lru_cache(maxsize=200)
def _alone(model: type[Table], name: str) -> type[Table]:
    """A table that has this one field of `model`."""
    field = model.model_fields[name]
    fields: dict[str, Any] = {name: (field.annotation, field)}
    return create_model(name, __base__=Table, **fields)


# ── what a key takes, in words ───────────────────────────────────────────────────────────────────


def expected(field: FieldInfo) -> str:
    """What a key takes, in words: its kind, limits, unit and an example."""
    assert field.examples, "every key has an example"
    annotation, _ = _unwrapped(field.annotation, ())
    if get_origin(annotation) is Literal:
        return takes(field)
    return f"{takes(field)}, such as {shown(field.examples[0])}"


def takes(field: FieldInfo) -> str:
    """What a key takes, in words: its kind, limits and unit."""
    annotation, metadata = _unwrapped(field.annotation, field.metadata)
    kind = next((one for one in metadata if isinstance(one, Kind)), Kind(""))
    if get_origin(annotation) is Literal:
        return " or ".join(kind.written(choice) for choice in get_args(annotation))
    low = next((one.ge for one in metadata if isinstance(one, Ge)), None)
    high = next((one.le for one in metadata if isinstance(one, Le)), None)
    if low is None or high is None:
        return kind.words
    return f"{kind.words} from {kind.written(low)} to {kind.written(high)}{kind.unit}{kind.more}"


def default_written(field: FieldInfo) -> str:
    """The default as it would stand in the file; "" where there is none."""
    default = field.get_default(call_default_factory=False)
    if field.is_required() or default is None or default == ():
        return ""
    return value_written(field, default)


def value_written(field: FieldInfo, value: Any) -> str:
    """A key's value as it would stand in the file."""
    _, metadata = _unwrapped(field.annotation, field.metadata)
    kind = next((one for one in metadata if isinstance(one, Kind)), Kind(""))
    return kind.written(value)


def _unwrapped(annotation: Any, metadata: Iterable[Any]) -> tuple[Any, list[Any]]:
    """The type without its annotations and without "or None", and all that annotates it."""
    found = list(metadata)
    if get_origin(annotation) in (Union, types.UnionType):
        annotation = next(one for one in get_args(annotation) if one is not type(None))
    while get_origin(annotation) is Annotated:
        annotation, *more = get_args(annotation)
        found += more
    for one in tuple(found):
        if isinstance(one, FieldInfo):
            found += one.metadata
    return annotation, found
