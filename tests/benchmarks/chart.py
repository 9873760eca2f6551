"""The chart of the figures: every figure as a multiple of its goal, on a logarithmic scale.

Left of the line at 1 a goal is reached. Peers stand beneath ours, measured against our goal. Drawn
for light and for dark, by what whoever looks at it prefers.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import groupby
from typing import NamedTuple
from xml.sax.saxutils import escape

from rows import OURS, Figures, Row, in_order, number

WIDE, LINE, TOP, BELOW = 900, 19, 58, 14
LABELS, LEFT, RIGHT = 14, 318, 772  # where labels begin, and the scale begins and ends
FIGURES = WIDE - 14  # where figures end
LONGEST_LABEL = 44
STYLE = """\
text { font: 13px system-ui, sans-serif; fill: #1f2328; }
.small { font-size: 11px; fill: #59636e; }
.head { font-weight: 600; }
.back { fill: #ffffff; }
.scale { stroke: #d1d9e0; }
.goal { stroke: #59636e; stroke-width: 1.5; stroke-dasharray: 5 3; }
.ours { fill: #0969da; stroke: #0969da; }
.missed { fill: #cf222e; stroke: #cf222e; }
.peer { fill: none; stroke: #59636e; stroke-width: 1.5; }
.bar { stroke-width: 2; }
@media (prefers-color-scheme: dark) {
  text { fill: #f0f6fc; }
  .small { fill: #9198a1; }
  .back { fill: #0d1117; }
  .scale { stroke: #3d444d; }
  .goal, .peer { stroke: #9198a1; }
  .ours { fill: #4493f8; stroke: #4493f8; }
  .missed { fill: #f85149; stroke: #f85149; }
}"""


class Mark(NamedTuple):
    """One line of the chart."""

    row: Row
    times: float  # its figure is so many times the goal


class Subject(NamedTuple):
    """Ours and what is compared with it."""

    head: str
    marks: list[Mark]


def drawn(figures: Figures) -> str:
    """The chart as SVG."""
    subjects = [one for _, run in in_order(figures) for one in _subjects(run.rows)]
    decades = _decades(subjects)
    tall = TOP + LINE * sum(1 + len(one.marks) for one in subjects) + 8 * len(subjects) + BELOW
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {tall}" width="{WIDE}" '
        f'height="{tall}" role="img" aria-label="Figures as multiples of their goals">',
        f"<style>{STYLE}</style>",
        f'<rect class="back" width="{WIDE}" height="{tall}"/>',
        *_scale(decades, tall),
        *_lines(subjects, decades),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _subjects(rows: tuple[Row, ...]) -> Iterator[Subject]:
    """What has a goal, and a figure above nothing: a logarithm knows none."""
    for what, group in groupby(rows, key=lambda row: row.what):
        of_one = sorted(group, key=lambda row: row.goal is None)  # ours first
        goal = next((row.goal for row in of_one if row.goal), None)
        if goal is not None and goal.most > 0:
            marks = [Mark(row, row.first / goal.most) for row in of_one if row.first > 0]
            yield Subject(f"{of_one[0].benchmark}  {what}: {goal.words}", marks)


def _decades(subjects: list[Subject]) -> tuple[int, int]:
    """The powers of ten that hold all of it, and the goal."""
    times = [1.0, *(mark.times for one in subjects for mark in one.marks)]
    return math.floor(math.log10(min(times))), max(1, math.ceil(math.log10(max(times))))


def _at(times: float, decades: tuple[int, int]) -> float:
    first, last = decades
    return LEFT + (RIGHT - LEFT) * (math.log10(times) - first) / (last - first)


def _scale(decades: tuple[int, int], tall: int) -> Iterator[str]:
    yield _text(LABELS, 22, "Multiples of the goal; to the left of 1 it is reached", "head")
    for power in range(decades[0], decades[1] + 1):
        x = _at(10.0**power, decades)
        kind = "scale" if power else "goal"
        yield f'<line class="{kind}" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP - 8}" y2="{tall - BELOW}"/>'
        yield _text(x, TOP - 14, f"{10.0**power:,g}", "small", "middle")


def _lines(subjects: list[Subject], decades: tuple[int, int]) -> Iterator[str]:
    y = TOP
    for one in subjects:
        y += LINE
        yield _text(LABELS, y, one.head, "head")
        for row, times in one.marks:
            y += LINE
            x, middle, from_x = _at(times, decades), y - 4.5, _at(1.0, decades)
            kind = "peer" if row.goal is None else "ours" if row.reached else "missed"
            label = row.who if len(row.who) <= LONGEST_LABEL else row.who[: LONGEST_LABEL - 1] + "…"
            yield _text(LABELS + 14, y, label, "" if row.who == OURS else "small")
            if row.goal is not None:
                ends = f'x1="{from_x:.1f}" x2="{x:.1f}" y1="{middle}" y2="{middle}"'
                yield f'<line class="{kind} bar" {ends}/>'
            yield f'<circle class="{kind}" cx="{x:.1f}" cy="{middle}" r="4.5"/>'
            told = f"{number(row.first)} {row.figures[0].unit}"
            yield _text(FIGURES, y, told, "" if row.who == OURS else "small", "end")
        y += 8


def _text(x: float, y: float, words: str, kind: str = "", anchor: str = "start") -> str:
    return f'<text class="{kind}" x="{x:.1f}" y="{y}" text-anchor="{anchor}">{escape(words)}</text>'
