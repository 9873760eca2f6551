"""What is said to the daemon is understood, or refused in words for people."""

from __future__ import annotations

import json
import time
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.service.order_wire import MOST_LINE_BYTES
from controller.service.order_words import NotUnderstood, words_in
from controller.service.orders import MOST_TEXT, ORDERS, Words, orders_markdown

SHORTEST: dict[str, dict[str, Any]] = {
    "status": {},
    "watch": {},
    "logbook": {},
    "files": {},
    "ring": {"zones": ["north"]},
    "stop": {},
    "quiet": {"zones": ["all"], "until": "2026-11-25T12:00"},
    "lift-quiet": {"zones": ["north", "south"]},
    "follow": {"date": "2026-11-25", "plan": "none"},
    "hold": {"line": "main"},
    "go": {"line": "main"},
    "set": {"line": "main", "shows": "08:31"},
    "step": {"line": "main"},
    "to": {"line": "main", "shows": "12:00"},
    "right": {"line": "main"},
    "stood": {"line": "main"},
    "swapped": {"line": "main"},
    "moved": {"line": "main"},
    "trust-clock": {},
    "acknowledge": {},
    "preview": {},
    "reload": {},
    "edit": {"file": "20-week.toml", "text": "", "was": "abc"},
    "earlier": {},
    "backup": {},
}
OPTIONAL: dict[str, dict[str, Any]] = {
    "logbook": {"since": "2026-11-01", "before": 1_795_000_000_000_000_000, "most": 20},
    "ring": {"for": "2.5s"},
    "set": {"polarity": "+"},
    "step": {"impulses": 1440},
    "acknowledge": {"fault": "lines.main+ welded"},
    "preview": {"file": "20-week.toml", "text": 'mon = "regular"\n'},
    "reload": {"fingerprint": "0" * 64},
}


def line(order: str, **keys: Any) -> bytes:
    return json.dumps({"order": order, **keys}).encode()


def refused(said: bytes) -> str:
    with pytest.raises(NotUnderstood) as fault:
        words_in(said)
    return str(fault.value)


def said_of(words: Words) -> dict[str, Any]:
    return words.model_dump(by_alias=True, exclude_unset=True)


def test_every_order_has_its_words_here():
    assert SHORTEST.keys() == ORDERS.keys()


@pytest.mark.parametrize("order", ORDERS)
def test_an_order_is_understood_with_what_it_requires(order):
    words = words_in(line(order, **SHORTEST[order]))
    assert type(words) is ORDERS[order]
    assert said_of(words) == {"order": order, **SHORTEST[order]}


@pytest.mark.parametrize("order", ORDERS)
def test_an_order_is_understood_with_all_that_it_may_have(order):
    keys = {**SHORTEST[order], **OPTIONAL.get(order, {}), "id": 7, "who": "Åsa Ek"}
    assert said_of(words_in(line(order, **keys))) == {"order": order, **keys}
    named = {field.alias or name for name, field in ORDERS[order].model_fields.items()}
    assert named == {"order", *keys}, "a key that this test does not know"


@pytest.mark.parametrize("order", ORDERS)
def test_an_order_without_what_it_requires_says_what_is_missing(order):
    for key in SHORTEST[order]:
        fewer = {name: value for name, value in SHORTEST[order].items() if name != key}
        assert f'{order}: "{key}" is missing: ' in refused(line(order, **fewer))


@pytest.mark.parametrize(
    ("said", "says"),
    [
        (b"", "not understood: expected one JSON object a line"),
        (b"ring north", "not understood: expected one JSON object a line"),
        (b'{"order":"stop"', "not understood: expected one JSON object a line"),
        (b'\xff\xfe{"order":"stop"}', "not understood: expected one JSON object a line, in UTF-8"),
        (b'\xef\xbb\xbf{"order":"stop"}', "not understood: expected one JSON object a line"),
        ('{"order":"stop"}'.encode("utf-16-le"), "not understood: expected one JSON object a line"),
        (b"[" * 4_000, "not understood: expected one JSON object a line"),
        (b"9" * 4_000, "not understood: expected a JSON object"),
        (b"[" * 100_000, "not understood: it has more parts than any order"),
        (b"9" * 100_000, "not understood: it has more parts than any order"),
        (b'"a",' * 100_000, "not understood: it has more parts than any order"),
        (b'"' + b'\\"' * 1_000_000, "not understood: expected one JSON object a line"),
        (b'{"order":"stop","id":NaN}', "not understood: expected one JSON object a line"),
        (b'{"order":"stop","id":-Infinity}', "not understood: expected one JSON object a line"),
        (b'["stop"]', 'not understood: expected a JSON object with "order"'),
        (b'"stop"', 'not understood: expected a JSON object with "order"'),
        (b'{"order":["stop"]}', '"order": expected a name, not this list'),
        (b'{"order":7}', '"order": expected a name, not 7'),
        (b'{"order":"rign"}', 'there is no order "rign"; did you mean "ring"?'),
        (line("stop", zone="north"), 'stop: there is no key "zone"; known: id, who'),
        (line("ring", zone=["a"]), 'ring: there is no key "zone"; did you mean "zones"?'),
        (line("ring", zones=["a"], for_="3s"), 'there is no key "for_"; did you mean "for"?'),
        (line("stop", who="x" * 41), 'stop: "who": expected at most 40 letters, not "xxx'),
        (line("stop", who="Ada\nBo"), '"who": expected printable text on one line, not "Ada\\nBo"'),
        (line("stop", who=None), 'stop: "who": expected text, not null'),
        (line("stop", id=True), 'stop: "id": expected a whole number, not true'),
        (line("stop", id=-1), 'stop: "id": expected 0 or more, not -1'),
        (line("stop", id=2**53 + 1), '"id": expected 9007199254740992 or less, not 90071992547409'),
        (b'{"order":"stop","id":' + b"9" * 4_000 + b"}", "or less, not (a huge number)"),
        (b'{"order":"stop","id":1e999}', '"id": expected a whole number, not inf'),
        (line("ring", zones="north"), '"zones": expected a list of names, not "north"'),
        (line("ring", zones=[]), '"zones": expected at least one entry, not an empty list'),
        (line("ring", zones=["a"] * 101), '"zones": expected at most 100 entries, not this list'),
        (line("ring", zones=["a", 3]), '"zones", entry 2: expected text, not 3'),
        (
            line("ring", zones=["North wing"]),
            "entry 1: expected a name of at most 40 of the letters",
        ),
        (
            b'{"order":"ring","zones":' + b"[" * 900 + b"]" * 900 + b"}",
            "expected text, not this list",
        ),
        (
            line("ring", zones=["a"], **{"for": "3" * 21}),
            '"for": expected at most 20 letters, not "33',
        ),
        (line("hold", line={"a": {}}), '"line": expected text, not an object'),
        (line("hold", line=None), '"line": expected text, not null'),
        (line("hold", line="main\0"), '"line": expected a name of at most 40'),
        (line("step", line="main", impulses=0), '"impulses": expected 1 or more, not 0'),
        (line("step", line="main", impulses=1.5), '"impulses": expected a whole number, not 1.5'),
        (line("set", line="a", shows="8", polarity="x"), 'expected "+", "-" or "", not "x"'),
        (
            line("follow", date="25.11.", plan="a"),
            '"date": expected a date such as 2026-11-25, not',
        ),
        (line("quiet", zones=["a"], until="\ud800"), '"until": expected text of whole characters'),
        (
            line("quiet", zones=["a"], until="\0"),
            '"until": expected printable text on one line, not',
        ),
        (line("quiet", zones=["a"], until="\x1b[2J"), "expected printable text on one line, not"),
        (
            line("edit", file="a", text="x" * (MOST_TEXT + 1), was="a"),
            "not text of 1048577 letters",
        ),
        (line("logbook", before=2**70), '"before": expected 4611686018427387904 or less'),
    ],
)
def test_what_is_no_order_is_refused_in_words(said, says):
    assert says in refused(said)


def test_a_refused_line_keeps_its_number_where_that_can_be_made_out():
    for said, id in (
        (line("rign", id=7), 7),
        (line("ring", id=7), 7),
        (line("stop", id=7, zone="north"), 7),
        (b'{"id":7}', 7),
        (line("rign", id=True), None),
        (line("rign", id="7"), None),
        (line("rign", id=-7), None),
        (b"7", None),
    ):
        with pytest.raises(NotUnderstood) as fault:
            words_in(said)
        assert fault.value.id == id


def test_a_whole_file_fits_an_edit():
    text = "ü" * MOST_TEXT
    words = words_in(json.dumps(SHORTEST["edit"] | {"order": "edit", "text": text}).encode())
    assert said_of(words)["text"] == text


def test_a_line_full_of_keys_that_nobody_knows_is_refused_shortly():
    says = refused(line("stop", **{str(number): 1 for number in range(400)}))
    assert says.count("there is no key") == 5
    assert len(says) < 500


def test_whatever_fills_the_longest_line_it_is_read_or_refused_soon():
    began = time.perf_counter()
    for filling in (b"[],", b'"",', b"1,", b'\\"', b'"\\"', b"\\", b'"', b"x", b'{"a":', b"\xff"):
        for start in (b'{"order":"edit","text":"', b'{"order":"stop","zones":[', b""):
            said = start + filling * ((MOST_LINE_BYTES - len(start)) // len(filling))
            assert len(refused(said)) < 500
    assert time.perf_counter() - began < 6  # 0.4 s here; were it quadratic, it would not end


def test_a_name_as_long_as_a_line_is_not_compared_letter_by_letter():
    began = time.perf_counter()
    assert len(refused(line("x" * 2_000_000))) < 500
    assert len(refused(line("stop", **{"x" * 2_000_000: 1}))) < 500
    assert time.perf_counter() - began < 2  # 0.05 s here


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text()
    | st.sampled_from([*ORDERS, "north", "3s", "08:31", "2026-11-25", "+"]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)
KEYS = sorted(
    {field.alias or n for kind in ORDERS.values() for n, field in kind.model_fields.items()}
)
ANY_ORDER = st.builds(
    lambda order, keys: {**SHORTEST[order], "order": order, **keys},
    st.sampled_from(list(ORDERS)),
    st.dictionaries(st.sampled_from(KEYS) | st.text(), JSON, max_size=4),
)


def held_to_be_words_or_a_refusal_for_people(said: bytes) -> None:
    try:
        words = words_in(said)
    except NotUnderstood as fault:
        says = str(fault)
        assert 0 < len(says) <= 1_000
        assert says.isprintable()
        for not_for_people in ("Input should", "not permitted", "something else", "Traceback"):
            assert not_for_people not in says
    else:
        assert type(words) in ORDERS.values()


@given(st.binary(max_size=200))
def test_any_bytes_are_an_order_or_refused_in_words(said):
    held_to_be_words_or_a_refusal_for_people(said)


@given(JSON | ANY_ORDER)
def test_any_json_is_an_order_or_refused_in_words(plain):
    held_to_be_words_or_a_refusal_for_people(json.dumps(plain).encode())


def test_the_table_of_the_orders_names_every_order_and_every_key():
    head, rule, *rows = orders_markdown().splitlines()
    assert head.count("|") == rule.count("|") == 4
    assert [row.split("|")[1].strip(" `") for row in rows] == list(ORDERS)
    for row, kind in zip(rows, ORDERS.values(), strict=True):
        assert row.count("|") == 4, "a stroke in the text would end the cell"
        _, _, keys, meaning, _ = row.split("|")
        assert len(meaning) > 10
        for name, field in kind.model_fields.items():
            if name not in ("order", "id", "who"):
                optional = "" if field.is_required() else "?"
                assert f"`{field.alias or name}`{optional} {field.description}" in keys
    assert "None" not in orders_markdown()
