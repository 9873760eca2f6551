"""Thousands of requests at every page, by nobody, by somebody who may not, replayed, malformed: no
fault of the server, and no order but from a shown form that a person who may do it sent once.
"""

from __future__ import annotations

from collections import Counter
from typing import Any, NamedTuple
from urllib.parse import quote, urlencode

import pytest
from bell_desk import ROLES, Hall, halls
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.routing import Route
from wire import FORM, Wire, wires

from controller.page.acts import ACTS
from controller.page.limits import Rate
from controller.page.rehearsals import Rehearsals
from controller.service.order_server import Reply

EXAMPLES = 4_000
# Said here once more, on purpose: who may have which order given. What is not named only looks.
NEEDS_ACT = {*ACTS}
NEEDS_EDIT = {"preview", "earlier", "edit", "reload"}
LOOKS = {"logbook", "preview", "earlier"}
RANKS = ("look", "act", "edit")
WORDS = [
    *("", "0", "1", "-1", "north", "south", "main", "yard", "all", "daily", "none", "usual", "*"),
    *("08:30", "3", "hour", "half", "time", "2026-11-25T12:00", "2026-11-26", "2026-W48", "+", "-"),
    *("nan", "1e999", "9" * 30, "\x00", "'", '"', "\\", "../..", "%2e%2e", "<b>", "\r\n", "é" * 90),
    *("//elsewhere.example", "http://[", "javascript:1", "\N{FULLWIDTH DIGIT ONE}", "\ud800"),
]
NAMES = [
    *("for", "until", "time", "date", "plan", "shows", "polarity", "impulses", "fault", "was"),
    *("week", "year", "since", "before", "kind", "zone", "text", "edit", "ring", "entry", "name"),
    *("at", "zones", "strokes", "says", "on", "from", "lift_quiet", "to", "password", "csrf"),
]
TYPED = {  # of each field of an act
    "for": "2",
    "until": "hour",
    "date": "2026-11-26",
    "plan": "none",
    "shows": "08:31",
    "polarity": "+",
    "impulses": "1",
    "fault": "supply",
}
words = st.sampled_from(WORDS) | st.text(max_size=12)
fields = st.lists(st.tuples(st.sampled_from(NAMES) | st.text(max_size=5), words), max_size=8)
hosts = st.sampled_from(["pi:8470", "pi", "", "[", "[::1]:8470", "a b", "pi/edit/?", "x" * 300])
origins = st.sampled_from(
    ["http://pi:8470", "http://elsewhere.example", "null", "", "http://[", "pi:8470", "http://pi"]
)
HEADERS = st.lists(
    st.tuples(
        st.sampled_from(
            ["accept", "range", "if-none-match", "if-modified-since", "cookie", "authorization"]
        ),
        st.sampled_from(
            ["understudy=\xff; ;=;a", "bytes=9-1,-,0-", "Bearer \xff", "W/\xff", "x" * 5_000, ""]
        ),
    ),
    max_size=2,
)


class Sent(NamedTuple):
    """One request, and what is true of it."""

    method: str
    target: str
    host: str
    headers: list[tuple[str, str]]
    body: bytes
    who: str  # "": nobody
    mark: str  # what its mark is: fresh, again, another's, none


def addresses(hall: Hall) -> list[tuple[str, str]]:
    """Method and path of every page; what is for programs has its own test."""
    routes = [one for one in hall.site._app.routes if isinstance(one, Route)]
    return [
        (method, route.path)
        for route in routes
        for method in sorted(route.methods or ())
        if not route.path.startswith(("/api", "/metrics")) and route.path != "/sign-in"
    ]


@st.composite
def acts(draw: st.DrawFn) -> tuple[str, str, list[tuple[str, str]]]:
    """A form of an act as a person would send it: method, path and fields."""
    order = draw(st.sampled_from(sorted(ACTS)))
    of = {"zone": ["north", "south", "all"], "line": ["main", "yard"], "": [""]}
    path = f"/act/{order}/{draw(st.sampled_from(of[ACTS[order].about]))}".rstrip("/")
    return "POST", path, [(name, TYPED[name]) for name in ACTS[order].fields]


@st.composite
def requests(draw: st.DrawFn, known: list[tuple[str, str]]) -> Sent:
    """A request for a page, or for something that looks like one."""
    method, path = draw(st.sampled_from(known))
    typed: list[tuple[str, str]] = []
    if draw(st.integers(0, 3)):
        method, path, typed = draw(acts())
    for name in ("order", "subject", "line", "plan", "place"):
        path = path.replace(f"{{{name}}}", quote(draw(words), safe="", errors="replace"))
    if draw(st.integers(0, 19)) == 0:
        path += draw(st.sampled_from(["/", "/x", "%00", "/..", "//", ";a"]))
    if draw(st.integers(0, 19)) == 0:
        method = draw(st.sampled_from(["GET", "POST", "PUT", "DELETE", "PATCH", "OPTIONS", "X"]))
    query = urlencode(draw(fields), errors="replace")
    headers = draw(HEADERS)
    if draw(st.integers(0, 4)) == 0:
        headers.append(("origin", draw(origins)))
    odd = draw(st.integers(0, 14))
    stray = draw(fields) if draw(st.booleans()) else []
    body = urlencode([*stray, *typed], errors="replace").encode()
    if odd == 0:
        body = draw(st.binary(max_size=60) | st.sampled_from([b"a" * 70_000, b"&" * 9_000, b"%%"]))
    kind = ("content-type", draw(st.sampled_from(["application/json", "text/plain", "multipart"])))
    headers.append(kind if odd == 1 else FORM)
    return Sent(
        method,
        f"{path}?{query}" if draw(st.booleans()) else path,
        draw(hosts) if draw(st.integers(0, 9)) == 0 else "pi:8470",
        headers,
        body,
        draw(st.sampled_from(["", *ROLES])),
        draw(st.sampled_from(["fresh"] * 6 + ["again", "another's", "none"])),
    )


def lawful(who: str, order: str) -> bool:
    """Whether that person may have it ordered."""
    if not who:
        return False
    rank = RANKS.index(ROLES[who])
    return rank >= (2 if order in NEEDS_EDIT else 1 if order in NEEDS_ACT else 0)


class People:
    """All three signed in, each at a browser of their own, and another of each for its marks."""

    def __init__(self, hall: Hall) -> None:
        state = hall.site._app.state
        kept = state.people.now().people
        self.numbers = {name: state.sessions.begin(name, kept[name].password) for name in ROLES}
        self.sessions = {name: state.sessions.of(number) for name, number in self.numbers.items()}
        self.others = {
            name: state.sessions.of(state.sessions.begin(name, kept[name].password))
            for name in ROLES
        }
        self.spent = dict.fromkeys(ROLES, "spent.mark")

    def mark(self, sent: Sent) -> str | None:
        """The mark that this request carries."""
        who = sent.who or "ada"
        match sent.mark:
            case "fresh":
                return str(self.sessions[who].mark())
            case "again":
                return self.spent[who]
            case "another's":
                return str(self.others[who].mark())
        return None

    def sends(self, wire: Wire, sent: Sent) -> tuple[int, str | None]:
        """Send it; the status, and the mark that went with it."""
        mark, headers, body = self.mark(sent), list(sent.headers), sent.body
        if sent.who:
            headers.append(("cookie", f"understudy={self.numbers[sent.who]}"))
        if mark is not None and sent.method == "POST":
            body += f"&csrf={mark}".encode()
        answer = wire.sends(sent.method, sent.target, headers, body, sent.host)
        return answer.status, mark


@pytest.fixture
def hall(tmp_path, monkeypatch):
    monkeypatch.setattr(Rehearsals, "start", lambda *asked: None)  # another is always under way
    with halls(tmp_path) as found:
        for order in NEEDS_EDIT | {"logbook"}:
            found.replies[order] = Reply(False, "Not in this house.")
        yield found


def test_nothing_that_is_sent_to_a_page_does_harm(hall):
    statuses, reached = Counter[int](), Counter[str]()
    with wires(hall.site) as wire:
        hall.site._app.state.rings = Rate(EXAMPLES)  # here it would only hide the rest
        people = People(hall)

        @settings(max_examples=EXAMPLES)
        @given(requests(addresses(hall)))
        def sends(sent: Sent) -> None:
            hall.given.clear()
            status, mark = people.sends(wire, sent)
            if sent.who and hall.site._app.state.sessions.of(people.numbers[sent.who]) is None:
                people.__init__(hall)  # they have signed out
            statuses[status] += 1
            assert status < 500
            if not sent.who:
                assert hall.given == []
                assert status != 200 or sent.target.startswith("/health")
            given: list[tuple[str, Any, str]] = hall.given
            for order, _, who in given:
                reached[order] += 1
                assert lawful(sent.who, order)
                if order in LOOKS:
                    continue
                assert (sent.method, who) == ("POST", sent.who)
                assert sent.mark == "fresh" or (order, sent.mark) == ("stop", "again")
                assert sent.headers[-1] == FORM
                theirs = [value for name, value in sent.headers if name == "origin"]
                assert set(theirs) <= {f"http://{sent.host}"}
                if order != "stop":
                    people.spent[sent.who] = str(mark)

        sends()
    assert {200, 303, 307, 400, 403, 404, 405, 409, 413, 415} <= set(statuses), statuses
    assert set(reached) >= {*ACTS, "logbook"}, reached
