"""The wiring sheet as one page to print on A4: HTML, all in one file, with its drawings in it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from jinja2 import Environment
from markupsafe import Markup

MADE_BY = "<!-- made by understudy wiring -->"  # the second line of the page, the first of an SVG


class Cell(NamedTuple):
    """A value, or what stands where there is none: a blank to be filled by hand."""

    words: str
    measure: bool = False  # to be measured
    assumed: bool = False


class Table(NamedTuple):
    """Heads and rows; an empty cell is a blank."""

    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


class Group(NamedTuple):
    """The wires of what belongs together."""

    heading: str
    table: Table


class Drawing(NamedTuple):
    """One drawing, and what its file is called without its ending."""

    name: str  # "zones.north"
    svg: str


class WiringPage(NamedTuple):
    """All that stands on the sheet, in words and in its order."""

    building: str
    about: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    findings: tuple[tuple[str, str], ...]  # where, and what to change
    advice: tuple[str, ...]
    measure: Table
    assumed: tuple[str, ...]
    supply: tuple[tuple[str, Cell], ...]
    circuits: Table
    volts: Table
    fuses: Table
    header: tuple[tuple[str, str, str, str, str, str], ...]  # what, is, pin, pin, is, what
    wires: tuple[Group, ...]
    widths: tuple[int, ...]  # of their columns, %
    letters: str
    notes: tuple[str, ...]
    drawings: tuple[Drawing, ...]


_PAGE = (
    """<!DOCTYPE html>
"""
    + MADE_BY
    + """
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Wiring sheet of {{ page.building }}</title>
<style>
 @page { size: A4; margin: 12mm 12mm 14mm; }
 @page drawn { size: A4 landscape; margin: 10mm 12mm; }
 body { font: 9.5pt/1.3 sans-serif; color: #20242c; margin: 2em auto; max-width: 186mm;
        padding: 0 1em; }
 figure { margin: 1em 0; break-inside: avoid; }
 @media print { body { margin: 0; padding: 0; max-width: none; } .page { break-before: page; }
   .drawings { page: drawn; } .drawings svg { zoom: .88; } figure { margin: .3em 0; } }
 h1 { font-size: 1.6em; margin: 0 0 .3em; }
 h2 { font-size: 1.2em; margin: 1.4em 0 .4em; break-after: avoid; }
 h3 { font-size: 1em; margin: 1.1em 0 .2em; break-after: avoid; }
 table { border-collapse: collapse; width: 100%; font-size: .9em; }
 th, td { border: .5pt solid #999; padding: .22em .4em; text-align: left; vertical-align: top;
          overflow-wrap: anywhere; }
 th { background: #eef0f3; overflow-wrap: normal; }
 thead { display: table-header-group; } tr { break-inside: avoid; }
 .warn { border: 1.5pt solid #a8321e; padding: .2em 1em .5em; }
 .warn h2 { margin-top: .5em; color: #a8321e; }
 li { margin: .25em 0; }
 dl { display: grid; grid-template-columns: max-content 1fr; gap: .15em 1em; margin: .4em 0; }
 dd { margin: 0; overflow-wrap: anywhere; }
 .blank { color: #a8321e; } .blank::after { content: " ________"; color: #20242c; }
 .assumed::after { content: " (assumed)"; font-style: italic; }
 .fixed { table-layout: fixed; } .free td:first-child { min-width: 9em; }
 .header { width: auto; } .header td.pin { text-align: center; font-weight: bold; }
 svg { max-width: 100%; height: auto; }
 .sign { display: grid; grid-template-columns: 1fr 1fr 1fr; gap: 2em; margin-top: 4em;
         break-inside: avoid; }
 .sign div { border-top: .5pt solid; }
</style>
{%- macro cell(one) -%}
<td{% if one.measure %} class="blank"{% elif one.assumed %} class="assumed"{% endif %}>
{{- one.words | unbroken }}</td>
{%- endmacro %}
{%- macro grid(table, widths=()) %}
<table class="{{ 'fixed' if widths else 'free' }}">
 {%- if widths %}
 <colgroup>{% for wide in widths %}<col style="width: {{ wide }}%">{% endfor %}</colgroup>
 {%- endif %}
 <thead><tr>{% for head in table.heads %}<th>{{ head }}</th>{% endfor %}</tr></thead>
 <tbody>
 {%- for row in table.rows %}
 <tr>{% for one in row %}{{ cell(one) }}{% endfor %}</tr>
 {%- endfor %}
 </tbody>
</table>
{%- endmacro %}
<h1>Wiring sheet: {{ page.building }}</h1>
<dl>{% for what, is in page.about %}<dt>{{ what }}</dt><dd>{{ is }}</dd>{% endfor %}</dl>
<div class="warn">
<h2>Before anything else</h2>
<ul>{% for says in page.cautions %}<li>{{ says }}</li>{% endfor %}</ul>
{%- if page.findings %}
<h2>What will not work as the file has it</h2>
<ul>{% for where, says in page.findings %}<li><b>{{ where }}</b>: {{ says }}</li>{% endfor %}</ul>
{%- endif %}
{%- if page.advice %}
<h2>Advice</h2>
<ul>{% for says in page.advice %}<li>{{ says }}</li>{% endfor %}</ul>
{%- endif %}
</div>
{%- if page.measure.rows %}
<h2>To be measured</h2>
<p>The file does not say it, and no number here stands for it. Write it in, then into the file.</p>
{{- grid(page.measure) }}
{%- endif %}
{%- if page.assumed %}
<h2>Assumed</h2>
<p>Not in the file, and taken as usual:</p>
<ul>{% for says in page.assumed %}<li>{{ says }}</li>{% endfor %}</ul>
{%- endif %}
<h2>Supply</h2>
<table><tbody>{% for what, one in page.supply %}<tr><th>{{ what }}</th>{{ cell(one) }}</tr>
{%- endfor %}</tbody></table>
<h2>Circuits</h2>
{{- grid(page.circuits) }}
<h2>Volts at the last bell or dial</h2>
{{- grid(page.volts) }}
<h2>Fuses</h2>
{{- grid(page.fuses) }}
<h2>The board's 40-pin header</h2>
<p>Seen from above, the board turned so that pin 1 is at the upper left.</p>
<table class="header"><tbody>
{%- for what, is, left, right, right_is, right_what in page.header %}
<tr><td>{{ what }}</td><td>{{ is }}</td><td class="pin">{{ left }}</td>
<td class="pin">{{ right }}</td><td>{{ right_is }}</td><td>{{ right_what }}</td></tr>
{%- endfor %}
</tbody></table>
<h2 class="page">Terminal list</h2>
<p>{{ page.letters }}</p>
<ul>{% for says in page.notes %}<li>{{ says }}</li>{% endfor %}</ul>
{%- for group in page.wires %}
<h3>{{ group.heading }}</h3>
{{- grid(group.table, page.widths) }}
{%- endfor %}
<div class="sign"><div>Wired by</div><div>Date</div><div>Checked by</div></div>
<div class="drawings">
<h2>Drawings</h2>
<p>All relays at rest, all buttons let go.</p>
{%- for drawing in page.drawings %}
<figure>{{ drawing.svg | inline }}</figure>
{%- endfor %}
</div>
</html>
"""
)


def wiring_html(page: WiringPage) -> str:
    """The page."""
    environment = Environment(autoescape=True)
    environment.filters["inline"] = Markup  # our own drawings, and nothing else
    environment.filters["unbroken"] = _unbroken
    return environment.from_string(_PAGE).render(page=page)


def _unbroken(words: str) -> str:
    """A number stays with its unit, and a part's letter with its name."""
    words = re.sub(r"(?<=[0-9]) (?=(?:A|mA|V|m|mm²|Ω|W|Ah|h|AWG)(?![a-z]))", "\u00a0", words)
    words = re.sub(r"(?<=:in) (?=[+0])", "\u00a0", words)
    return re.sub(r"(?<![A-Za-z])([A-Z]) (?=[a-zA-Z]+[.:])", "\\1\u00a0", words)


def table(heads: Sequence[str], rows: Sequence[Sequence[Cell | str]]) -> Table:
    """A table; plain words in it become cells."""
    return Table(
        tuple(heads),
        tuple(
            tuple(one if isinstance(one, Cell) else Cell(one) for one in row) for row in rows
        ),
    )  # fmt: skip
