"""A bench record as a page to print and sign: HTML, all in one file."""

from __future__ import annotations

from jinja2 import Environment

from controller.bench.histogram import Histogram, bars
from controller.bench.judge import ms_text
from controller.bench.record import Record, summary

_WIDTH = 190  # of a histogram, CSS pixels

_PAGE = """<!DOCTYPE html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Bench record of {{ head.building or head.path }}, {{ head.began }}</title>
<style>
 body { font: 11pt/1.35 sans-serif; margin: 2em auto; max-width: 50em; padding: 0 1em; }
 h1 { font-size: 1.5em; } h2 { font-size: 1.15em; margin-top: 1.6em; }
 table { border-collapse: collapse; width: 100%; }
 th, td { border-bottom: 1px solid #999; padding: .3em .6em .3em 0; text-align: left;
          vertical-align: top; }
 thead { display: table-header-group; } tr { break-inside: avoid; }
 td.verdict { white-space: nowrap; } .fault td.verdict { font-weight: bold; }
 dl { display: grid; grid-template-columns: max-content 1fr; gap: .2em 1em; }
 dd { margin: 0; overflow-wrap: anywhere; }
 .spread { display: flex; flex-wrap: wrap; gap: .4em 1.2em; margin-top: .4em; }
 .spread svg { font-size: 9px; break-inside: avoid; }
 .sign { display: grid; grid-template-columns: 1fr 1fr 1fr; gap: 2em; margin-top: 5em;
         break-inside: avoid; }
 .sign div { border-top: 1px solid; }
</style>
<h1>Bench record: {{ head.building or head.path }}</h1>
<p>{{ summary }}.{% if record.stopped %} <strong>Stopped early: {{ record.stopped }}.</strong>
{%- endif %}</p>
<dl>
 <dt>Begun</dt><dd>{{ head.began }}</dd>
 <dt>Ended</dt><dd>{{ record.ended }}</dd>
 <dt>By</dt><dd>{{ head.by }}</dd>
 <dt>On</dt><dd>{{ head.on }}</dd>
 <dt>File</dt><dd>{{ head.path }}</dd>
 <dt>Installer's tables</dt><dd>{{ head.installers_fingerprint }}</dd>
 <dt>Understudy</dt><dd>{{ head.version }}</dd>
 {%- if record.unread %}
 <dt>Moved, and unread</dt><dd>{{ record.unread | join(", ") }}</dd>
 {%- endif %}
</dl>
{%- for test, results in record.by_test() %}
<h2>{{ test }}</h2>
<table>
 <thead><tr><th>What</th><th>Verdict</th><th>By</th><th>What was found</th></tr></thead>
 <tbody>
 {%- for result in results %}
 <tr{% if result.verdict == "fault" %} class="fault"{% endif %}>
  <td>{{ result.what }}{% if result.title %}<br>{{ result.title }}{% endif %}</td>
  <td class="verdict">{{ result.verdict }}</td>
  <td>{{ result.by }}</td>
  <td>{% for says in result.says %}{{ says }}{% if not loop.last %}<br>{% endif %}{% endfor %}
  {%- if result.histograms %}
  <div class="spread">
  {%- for of in result.histograms %}
   <svg width="{{ W }}" height="58" viewBox="0 0 {{ W }} 58" role="img" fill="currentColor">
    <title>{{ told(of) }}</title>
    <text x="0" y="9">{{ of.name }}</text>
    <text x="{{ W }}" y="9" text-anchor="end">most in a bin: {{ of.counts | max }}</text>
    {%- for bar in bars(of) %}
    <rect fill="#666"
     x="{{ (bar.left * W) | round(2) }}" width="{{ (bar.width * W - 1) | round(2) }}"
     y="{{ (45 - bar.height * 32) | round(2) }}" height="{{ (bar.height * 32) | round(2) }}"/>
    {%- endfor %}
    <rect x="0" y="45" width="{{ W }}" height="1"/>
    <text x="0" y="56">{{ ms_text(of.start_ns) }}</text>
    <text x="{{ W }}" y="56" text-anchor="end">{{ ms_text(of.end_ns) }}</text>
   </svg>
  {%- endfor %}
  </div>
  {%- endif %}</td>
 </tr>
 {%- endfor %}
 </tbody>
</table>
{%- endfor %}
<div class="sign"><div>Name</div><div>Date</div><div>Signature</div></div>
</html>
"""


def html(record: Record) -> str:
    """The page."""
    template = Environment(autoescape=True).from_string(_PAGE)
    drawing = {"W": _WIDTH, "bars": bars, "ms_text": ms_text, "told": _told}
    return template.render(record=record, head=record.heading, summary=summary(record), **drawing)


def _told(of: Histogram) -> str:
    """A histogram for those who cannot see it."""
    return (
        f"{of.name} of {sum(of.counts)} operations, between {ms_text(of.start_ns)} and "
        f"{ms_text(of.end_ns)}; in bins of {ms_text(of.width_ns)}: "
        f"{', '.join(map(str, of.counts))}"
    )
