"""A bench record as a page to print and sign: HTML, all in one file."""

from __future__ import annotations

from jinja2 import Environment

from controller.bench.record import Record, summary

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
  <td>{% for says in result.says %}{{ says }}{% if not loop.last %}<br>{% endif %}{% endfor %}</td>
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
    return template.render(record=record, head=record.heading, summary=summary(record))
