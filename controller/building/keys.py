"""The table of keys as Markdown, made from the models: `python -m controller.building.keys`."""

from __future__ import annotations

from collections.abc import Iterator
from inspect import getdoc

from controller.building.entries import aliases, default_written, takes
from controller.building.faults import shown
from controller.building.model import TABLES
from controller.building.table import Table


def keys_markdown() -> str:
    """Every table of the file and every key in it: what it takes, its default, and its meaning."""
    return "\n".join(line for heading, model in TABLES.items() for line in _table(heading, model))


def _table(heading: str, model: type[Table]) -> Iterator[str]:
    yield f"### `{heading}`\n"
    yield f"{getdoc(model)}\n"
    yield "| key | takes | default | meaning | example |"
    yield "|---|---|---|---|---|"
    for key, field in aliases(model).items():
        default = "required" if field.is_required() else default_written(field)
        example = shown((field.examples or [""])[0])
        cells = (f"`{key}`", takes(field), default, field.description or "", f"`{example}`")
        yield f"| {' | '.join(cells)} |"
    yield ""


if __name__ == "__main__":
    print(keys_markdown())
