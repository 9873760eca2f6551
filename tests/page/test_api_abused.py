"""Thousands of requests made from the description, right, nearly right and wild: no fault of the
server, and nothing reaches the daemon but whole orders from machines that may give them.
"""

from __future__ import annotations

import json
from collections import Counter
from typing import Any, NamedTuple
from urllib.parse import parse_qsl, urlencode

from hypothesis import given, settings
from hypothesis import strategies as st
from machine_desk import Programs, programs

from controller.page.api_description import description
from controller.page.limits import Rate

# Said here once more, on purpose: what each role may, and no more.
LOOKS = {"status", "logbook"}
EDITS = {"files", "preview", "reload", "edit", "earlier"}
TOLD = {"status", "logbook", "files", "earlier"}
PATHS = description()["paths"]
EXAMPLES = 4_000
ROLES = ("look", "act", "edit")


class Sent(NamedTuple):
    """One request."""

    method: str
    path: str
    role: str | None  # whose token; None: no lawful one
    headers: dict[str, str]
    body: bytes


def of_schema(schema: dict[str, Any]) -> st.SearchStrategy[Any]:
    """What the description allows."""
    if "anyOf" in schema:
        return st.one_of(*map(of_schema, schema["anyOf"]))
    if "enum" in schema:
        return st.sampled_from(schema["enum"])
    match schema.get("type"):
        case "integer":
            return st.integers(schema.get("minimum"), schema.get("maximum"))
        case "null":
            return st.none()
        case "array":
            most = min(schema.get("maxItems", 5), 5)
            return st.lists(
                of_schema(schema["items"]), min_size=schema.get("minItems", 0), max_size=most
            )
        case "object":
            required = schema.get("required", [])
            fields = {key: of_schema(one) for key, one in schema["properties"].items()}
            return st.fixed_dictionaries(
                {key: one for key, one in fields.items() if key in required},
                optional={key: one for key, one in fields.items() if key not in required},
            )
        case _ if "pattern" in schema:
            return st.from_regex(schema["pattern"], fullmatch=True)
    most = min(schema.get("maxLength", 30), 30)
    return st.text(max_size=most) | st.sampled_from(["08:30", "3s", "2026-11-30"])


WILD = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
    ),
    max_leaves=8,
)
FORGED = st.sampled_from([{"who": "anna"}, {"who": ""}, {"id": 7}, {"order": "stop"}])
STRAY = FORGED | st.dictionaries(
    st.sampled_from(["who", "id", "order", "zones", "line", "for"]) | st.text(max_size=6),
    WILD | st.sampled_from(["anna", "stop", ["all"], 7]),
    max_size=2,
)


@st.composite
def bodies(draw: st.DrawFn, schema: dict[str, Any]) -> bytes:
    """Mostly what the description allows, or nearly."""
    kind = draw(st.sampled_from(range(15)))
    if kind == 0:
        return draw(st.binary(max_size=60))
    if kind == 1:
        return json.dumps(draw(WILD)).encode()
    if kind == 2:
        return draw(st.sampled_from([b"", b"{", b"[" * 20_000, b"9" * 5_000, b"{}" * 40_000]))
    keys = draw(of_schema(schema))
    if kind == 3:
        keys |= draw(STRAY)
    if kind == 4 and keys:
        del keys[draw(st.sampled_from(sorted(keys)))]
    return json.dumps(keys).encode()


@st.composite
def queries(draw: st.DrawFn, parameters: list[dict[str, Any]]) -> str:
    """What follows an address: what the description allows, or nearly."""
    pairs = [
        (one["name"], draw(of_schema(one["schema"])))
        for one in parameters
        if one["in"] == "query" and draw(st.booleans())
    ]
    if draw(st.integers(0, 3)) == 0:
        stray = draw(STRAY | st.dictionaries(st.text(max_size=6), st.text(max_size=6), max_size=3))
        pairs += stray.items()
    if draw(st.integers(0, 9)) == 0:
        pairs += pairs[:1]
    query = urlencode(pairs, errors="replace")
    return f"?{query}" if query else ""


@st.composite
def requests(draw: st.DrawFn, tokens: dict[str, str]) -> Sent:
    """One request for an order, or for something that looks like one."""
    path = draw(st.sampled_from(sorted(PATHS)))
    ((method, operation),) = PATHS[path].items()
    method, body, odd = method.upper(), b"", draw(st.sampled_from(range(40)))
    if method == "GET":
        path += draw(queries(operation.get("parameters", [])))
    else:
        body = draw(bodies(operation["requestBody"]["content"]["application/json"]["schema"]))
    if odd < 2:
        method = draw(st.sampled_from(["GET", "POST", "PUT", "DELETE", "HEAD", "PATCH"]))
    if odd == 2:
        path += draw(st.sampled_from(["/", "/x", "%00", "/../stop", "?order=stop", "%2F"]))
    if odd == 3:
        strange = ["orders/watch", "orders/backup", "watch", "", "orders", "orders/", "orders/Stop"]
        path = f"/api/{draw(st.sampled_from(strange))}"
    kinds = ["text/plain", "", "application/jsonp", "application/x-www-form-urlencoded"]
    headers = {"Content-Type": draw(st.sampled_from(kinds)) if odd == 4 else "application/json"}
    number = draw(st.sampled_from(range(20)))
    if number:
        few, many, none = range(5), range(5, 4_000), ["", "x" * 70]
        digits = draw(st.sampled_from(few if number == 1 else none if number == 2 else many))
        headers["Idempotency-Key"] = f"{digits:08}" if isinstance(digits, int) else digits
    role = draw(st.sampled_from(ROLES))
    whose = draw(st.sampled_from(range(20)))
    token = tokens[role]
    if whose == 0:
        return Sent(method, path, None, headers, body)
    if whose == 1:
        wrong = [token[:-1], token + "x", token.swapcase(), "", "x", f"m-{role}", token[::-1]]
        word = f"Bearer {draw(st.sampled_from(wrong))}"
        return Sent(method, path, None, headers | {"Authorization": word}, body)
    if whose == 2:
        word = draw(st.sampled_from([f"Basic {token}", token, f"Token {token}", f"Bearer:{token}"]))
        return Sent(method, path, None, headers | {"Authorization": word}, body)
    return Sent(method, path, role, headers | {"Authorization": f"Bearer {token}"}, body)


def lawful(role: str | None, order: str) -> bool:
    """Whether that role may give this order."""
    if role is None:
        return False
    return order in LOOKS or role == "edit" or (role == "act" and order not in EDITS)


def keys_of(sent: Sent) -> dict[str, Any]:
    """What a request says, where it says it."""
    query = sent.path.partition("?")[2]
    if sent.method != "POST":
        keys = dict(parse_qsl(query, keep_blank_values=True, strict_parsing=bool(query)))
        return {key: int(one) if key in ("before", "most") else one for key, one in keys.items()}
    keys = json.loads(sent.body or b"{}")
    assert isinstance(keys, dict)
    return keys


def asked(page: Programs, sent: Sent) -> Any:
    """Its answer. Starlette sends a stray slash on to the right address; it is not followed."""
    return page.client.request(
        sent.method, sent.path, headers=sent.headers, content=sent.body, follow_redirects=False
    )


def test_nothing_that_is_sent_does_harm():
    statuses, reached = Counter[int](), Counter[str]()
    acted: dict[tuple[str, str], Any] = {}  # machine and number → what was done
    with programs() as page:
        page.client.app._app.state.rings = Rate(EXAMPLES)  # here it would only hide the rest

        @settings(max_examples=EXAMPLES)
        @given(requests(page.tokens))
        def sends(sent: Sent) -> None:
            page.desk.given.clear()
            answer = asked(page, sent)
            statuses[answer.status_code] += 1
            assert answer.status_code < 500, answer.text
            assert sent.role is not None or answer.status_code in (307, 401, 404, 405, 429)
            if not page.desk.given:
                return
            ((words, who),) = page.desk.given
            reached[words.order] += 1
            assert answer.status_code == 200
            # As it went out: the client has resolved dots by then (RFC 3986, 5.2.4).
            path = answer.request.url.path
            assert (sent.method, path) in (
                ("POST", f"/api/orders/{words.order}"),
                ("GET", f"/api/{words.order}"),
                ("HEAD", f"/api/{words.order}"),
            )
            assert (path.count("/") == 2) == (words.order in TOLD)
            assert lawful(sent.role, words.order)
            if words.order not in LOOKS | EDITS:
                assert who == f"m-{sent.role}"
            if words.order not in LOOKS | EDITS | {"stop"}:
                number = sent.headers["Idempotency-Key"]
                assert (who, number) not in acted, "done twice"
                acted[who, number] = words
                page.desk.given.clear()
                replayed = asked(page, sent)
                assert (replayed.status_code, replayed.json()) == (200, answer.json())
                assert page.desk.given == []
            assert keys_of(sent) == words.model_dump(
                by_alias=True, exclude_unset=True, exclude={"order", "id", "who"}
            )

        sends()
    # It was worth its while: right ones were among them, and each kind of wrong one.
    expected = {200, 400, 401, 403, 404, 405, 413, 415, 422, 429}
    assert expected <= set(statuses), statuses
    names = {path.rpartition("/")[2] for path in PATHS}
    assert set(reached) == names - {"status"}  # the socket's server answers that by itself
