"""What every benchmark gives: rows. How they are printed, kept and read again.

A benchmark is a module here with a function `rows() -> Iterable[Row]` that measures and gives its
rows, ours and the peers' of the same run; `run.py` lists the modules. Rows of the same benchmark
and subject are compared by their first figure, which has the same unit in all of them; the goal is
on our row, in that unit:

    Row("P3", "a year's rings", "the plain loop", (Figure("median", 49.0, "ms"),))
    Row("P3", "a year's rings", "ours", (Figure("median", 55.1, "ms"), Figure("99 %", 58.0, "ms")),
        Goal(73.5, "≤ 1.5 × the plain loop"), "39,360 rings")
"""

from __future__ import annotations

import json
import os
import platform
from collections.abc import Iterable, Iterator
from compileall import compile_dir
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path
from statistics import median
from typing import Any, NamedTuple

OURS = "ours"


class Figure(NamedTuple):
    """One figure: "median" 4.1 "ms". Without a name where there is only one to tell."""

    name: str
    value: float
    unit: str

    def __str__(self) -> str:
        return f"{self.name} {number(self.value)} {self.unit}".strip()


class Goal(NamedTuple):
    """The most that the first figure may be, in its unit; and the goal as it is written."""

    most: float
    words: str


class Row(NamedTuple):
    """Who did what, and what it cost."""

    benchmark: str  # "P3"
    what: str  # the subject: "a year's rings"
    who: str  # `OURS`, or the peer
    figures: tuple[Figure, ...]  # the first is what is compared
    goal: Goal | None = None  # of our rows
    note: str = ""  # what must be known to read the row: the file system, the rest explained

    @property
    def first(self) -> float:
        """What is compared."""
        return self.figures[0].value

    @property
    def reached(self) -> bool | None:
        """Whether the goal is; None without one."""
        return None if self.goal is None else self.first <= self.goal.most


class Run(NamedTuple):
    """One benchmark's rows, and the conditions under which they were measured."""

    conditions: str
    rows: tuple[Row, ...]


Figures = dict[str, Run]  # by benchmark: "P3"


def number(value: float) -> str:
    """Three figures that count, and thousands apart."""
    if value == 0 or abs(value) >= 100:
        return f"{value:,.0f}"
    digits = 2 if abs(value) >= 1 else 3
    return f"{value:.{digits}f}" if abs(value) >= 0.01 else f"{value:.2g}"


def spread(values: Iterable[float], unit: str) -> tuple[Figure, Figure]:
    """Median and 99 % (the worst of fewer than a hundred)."""
    ordered = sorted(values)
    high = ordered[min(len(ordered) - 1, int(len(ordered) * 0.99))]
    return Figure("median", median(ordered), unit), Figure("99 %", high, unit)


# ── conditions ───────────────────────────────────────────────────────────────────────────────


def compile_all() -> None:
    """Compile the program's modules, as pip does when it installs them.

    A checkout may not have them compiled, and where PYTHONDONTWRITEBYTECODE is set never does.
    """
    package = find_spec("controller")
    assert package is not None, "the program is installed"
    for folder in package.submodule_search_locations or ():
        compile_dir(folder, quiet=1)


def conditions(load_before: float) -> str:
    """What the figures were measured on; said with them."""
    return (
        f"{datetime.now(UTC):%Y-%m-%d}, {platform.machine()}, {os.cpu_count()} cores, shared, "
        f"load {load_before:.1f} before and {os.getloadavg()[0]:.1f} after, "
        f"{platform.python_implementation()} {platform.python_version()}; not on a Pi"
    )


# ── the table ────────────────────────────────────────────────────────────────────────────────

_HEADS = ("", "what", "who", "figures", "goal", "reached")


def table(figures: Figures) -> Iterator[str]:
    """All as one table, in Markdown that is read as it stands; then notes and conditions."""
    notes: dict[str, int] = {}
    lines: list[tuple[str, ...]] = [_HEADS]
    for _, run in in_order(figures):
        lines += [_cells(row, notes) for row in run.rows]
    widths = [max(len(line[column]) for line in lines) for column in range(len(_HEADS))]
    for place, line in enumerate(lines):
        padded = (cell.ljust(width) for cell, width in zip(line, widths, strict=True))
        yield f"| {' | '.join(padded)} |"
        if place == 0:
            yield f"|{'|'.join('-' * (width + 2) for width in widths)}|"
    if notes:
        yield ""
        yield from (f"{place}. {note}" for note, place in notes.items())
    yield ""
    for name, run in in_order(figures):
        yield f"- {name}: {run.conditions}"


def _cells(row: Row, notes: dict[str, int]) -> tuple[str, ...]:
    mark = f" [{notes.setdefault(row.note, len(notes) + 1)}]" if row.note else ""
    reached = {None: "", True: "yes", False: "**no**"}[row.reached]
    goal = row.goal.words if row.goal else ""
    told = ", ".join(map(str, row.figures))
    return row.benchmark, row.what, row.who + mark, told, goal, reached


def in_order(figures: Figures) -> list[tuple[str, Run]]:
    """By the number of the benchmark."""
    return sorted(figures.items(), key=lambda one: (len(one[0]), one[0]))


# ── kept ─────────────────────────────────────────────────────────────────────────────────────


def kept(file: Path) -> Figures:
    """What was kept in a file; nothing where there is none."""
    if not file.exists():
        return {}
    told: dict[str, Any] = json.loads(file.read_text())
    return {
        name: Run(run["conditions"], tuple(map(_row, run["rows"]))) for name, run in told.items()
    }


def keep(figures: Figures, file: Path) -> None:
    """Put them into a file, in place of what it has of the same benchmarks; the rest stays."""
    told = {
        name: {"conditions": run.conditions, "rows": [_told(row) for row in run.rows]}
        for name, run in in_order(kept(file) | figures)
    }
    file.write_text(json.dumps(told, indent=1, ensure_ascii=False) + "\n")


def _told(row: Row) -> dict[str, Any]:
    told = row._asdict()
    told["figures"] = [figure._asdict() for figure in row.figures]
    told["goal"] = row.goal and row.goal._asdict()
    return told


def _row(told: dict[str, Any]) -> Row:
    figures = tuple(Figure(**figure) for figure in told.pop("figures"))
    goal = told.pop("goal")
    return Row(figures=figures, goal=goal and Goal(**goal), **told)


def show(rows: Iterable[Row]) -> None:
    """For a benchmark run alone: its table."""
    compile_all()
    before = os.getloadavg()[0]
    found = tuple(rows)
    print("\n".join(table({found[0].benchmark: Run(conditions(before), found)})))
