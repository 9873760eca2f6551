"""Keepers' files as people write them: every way of laying out that TOML allows and we foresee."""

from __future__ import annotations

from hypothesis import strategies as st

ZONES = ("north", "south", "yard")
PLANS = ("regular", "exams", "snow")
TIMES = [f"{hour:02}:{minute:02}" for hour in range(8, 16) for minute in (0, 20, 45)]
HALF_DAYS = ("sat", "sun", "mon night", "fri night", "tue day")
DATES = [f"2026-12-{day:02}" for day in range(1, 29)]

_notes = st.sampled_from(("", "", "  # why", "\t# ] and \" and '", ' # { at = "08:00" },'))
_lines = st.sampled_from(
    ([], [], [], [""], ["# words"], ["", "  # [plans.snow]", "#"], ["# rings = [", ""])
)
_equals = st.sampled_from((" = ", "=", "  = "))


@st.composite
def _text(draw, value: str) -> str:
    """A text in quotes of either kind."""
    quote = draw(st.sampled_from(("'", '"')))
    return f"{quote}{value}{quote}"


@st.composite
def _ring(draw, at: str, equals: str) -> str:
    room = draw(st.sampled_from(("", " ")))
    zones = draw(st.lists(st.sampled_from(ZONES), min_size=1, max_size=2, unique=True))
    written = draw(_text(at)) if draw(st.booleans()) else f"{at}:00"
    keys = [f"at{equals}{written}", f"zones{equals}{zones}", f'for{equals}"3s"']
    if draw(st.booleans()):
        keys.append(f'says{equals}"# no comment, ]"')
    return f"{{{room}{', '.join(keys)}{room}}}"


@st.composite
def _array(draw, items: list[str], end: str) -> str:
    """A list on one line, or on several with one or two items each, and comments about them."""
    comma = draw(st.booleans())
    if not items or draw(st.integers(0, 3)) == 0:
        room = draw(st.sampled_from(("", " ")))
        return f"[{room}{', '.join(items)}{',' if comma and items else ''}{room}]"
    each = draw(st.integers(1, 2))
    indent = draw(st.sampled_from(("  ", "\t", "")))
    text = "[" + draw(_notes) + end
    for first in range(0, len(items), each):
        text += "".join(indent + line + end for line in draw(_lines))
        last = first + each >= len(items)
        line = ", ".join(items[first : first + each]) + ("" if last and not comma else ",")
        text += indent + line + draw(_notes) + end
    text += "".join(indent + line + end for line in draw(_lines))
    return text + draw(st.sampled_from(("", " "))) + "]"


@st.composite
def _block(draw, heading: str, rows: list[tuple[str, str]], equals: str, end: str) -> str:
    text = heading + draw(_notes) + end
    width = draw(st.sampled_from((0, 0, 8)))
    for key, value in rows:
        text += "".join(line + end for line in draw(_lines))
        text += f"{key.ljust(width)}{equals}{value}{draw(_notes)}{end}"
    return text


@st.composite
def _entry(draw) -> list[tuple[str, str]]:
    first = draw(st.integers(0, len(DATES) - 2))
    last = draw(st.integers(first, len(DATES) - 1))
    written = draw(st.sampled_from(('"{}"', "'{}'", "{}")))  # TOML's own dates need no quotes
    if draw(st.booleans()):
        rows = [("on", written.format(DATES[first]))]
    else:
        rows = [("from", written.format(DATES[first])), ("until", written.format(DATES[last]))]
    rows.append(("plan", draw(_text(draw(st.sampled_from(PLANS))))))
    if draw(st.booleans()):
        rows.append(("says", draw(_text("Winter [break] # it is"))))
    return draw(st.permutations(rows))


@st.composite
def handwritten(draw) -> str:
    """The text of a keeper's file: plans, week, quiet rows, and a calendar that may be in parts."""
    end = draw(st.sampled_from(("\n", "\r\n")))
    equals = draw(_equals)
    blocks: list[str] = []
    for plan in PLANS:
        times = sorted(draw(st.lists(st.sampled_from(TIMES), max_size=5)))
        rings = draw(_array([draw(_ring(at, equals)) for at in times], end))
        blocks.append(draw(_block(f"[plans.{plan}]", [("rings", rings)], equals, end)))
    days = draw(st.lists(st.sampled_from(("mon", "tue", "wed", "fri")), unique=True))
    week = [(day, draw(_text(draw(st.sampled_from(PLANS))))) for day in days]
    blocks.append(draw(_block("[week]", week, equals, end)))
    quiet = [
        (zone, draw(_array([draw(_text(half)) for half in halves], end)))
        for zone in draw(st.lists(st.sampled_from(ZONES), unique=True))
        if (halves := draw(st.lists(st.sampled_from(HALF_DAYS), unique=True))) or True
    ]
    blocks.append(draw(_block("[ quiet ]", quiet, equals, end)))
    entries = draw(st.lists(_entry(), max_size=4))
    blocks += [draw(_block("[[calendar]]", entry, equals, end)) for entry in entries]
    if draw(st.integers(0, 3)) == 0:
        blocks = draw(st.permutations(blocks))  # what belongs together need not stand together
    text = draw(st.sampled_from(("", "# The keeper's." + end, "\ufeff", end)))
    for block in blocks:
        text += block + "".join(line + end for line in draw(_lines))
    return text if draw(st.booleans()) else text.rstrip("\r\n")
