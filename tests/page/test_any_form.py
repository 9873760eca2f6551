"""Whatever is typed into the keeper's forms: an answer in words, never a fault, and no edit."""

from __future__ import annotations

from urllib.parse import urlencode

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

FIELDS = {
    "/edit/plan": ["name", "like"],
    "/edit/plan/daily/add": ["at", "zones", "for", "strokes", "says"],
    "/edit/plan/daily/ring/0": ["at", "zones", "for", "strokes", "says"],
    "/edit/plan/daily/remove": ["ring"],
    "/edit/plan/short/delete": [],
    "/edit/week": ["mon", "tue", "wed", "thu", "fri", "sat", "sun"],
    "/edit/quiet": ["quiet-north", "quiet-south"],
    "/edit/calendar/add": ["on", "from", "until", "plan", "says", "lift_quiet"],
    "/edit/calendar/0": ["on", "from", "until", "plan", "says", "lift_quiet"],
    "/edit/calendar/remove": ["entry"],
    "/edit/undo": [],
    "/edit/save": ["edit"],
}
SENSIBLE = [
    *("", "0", "1", "08:30", "09:15, 10:00", "north", "south", "*", "daily", "short", "none"),
    *("usual", "5", "2.5s", "1,0.5,1", "2027-05-08", "2027-05-09", "sat night", "yes", "a-plan"),
    *(
        "nan",
        "1e400",
        "9" * 30,
        "\x00",
        '"',
        "'''",
        "\\",
        "\r\n",
        "\N{FULLWIDTH DIGIT ONE}",
        "é" * 201,
    ),
]
values = st.one_of(st.sampled_from(SENSIBLE), st.text(max_size=40))
slow = settings(
    max_examples=400, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None
)


@st.composite
def forms(draw) -> tuple[str, list[tuple[str, str]]]:
    """An address, and what is sent there."""
    address = draw(st.sampled_from(sorted(FIELDS)))
    names = st.sampled_from(FIELDS[address] or ["any"]) | st.text(max_size=5)
    return address, draw(st.lists(st.tuples(names, values), max_size=12))


@slow
@given(forms())
def test_any_form_is_answered_and_none_but_a_shown_edit_is_one(keeper, daemon, sent):
    address, fields = sent
    mark, was = keeper.mark()
    answer = keeper.client.post(
        address,
        content=urlencode([*fields, ("csrf", mark), ("was", was)]),
        headers={"Content-Type": "application/x-www-form-urlencoded"},
        follow_redirects=False,
    )
    assert answer.status_code < 500, answer.text
    assert "edit" not in daemon.heard


@slow
@given(forms())
def test_no_form_without_its_mark_reaches_the_daemon(keeper, daemon, sent):
    address, fields = sent
    kept = [one for one in fields if one[0] != "csrf"]
    daemon.heard.clear()
    answer = keeper.client.post(
        address,
        content=urlencode(kept),
        headers={"Content-Type": "application/x-www-form-urlencoded"},
        follow_redirects=False,
    )
    assert answer.status_code == 403
    assert set(daemon.heard) <= {"files", "status"}


addresses = st.sampled_from(
    ["/timetable", "/timetable/year", "/logbook", "/logbook.csv", "/rehearse", "/edit/plan"]
)
queries = st.lists(
    st.tuples(
        st.sampled_from(["week", "year", "kind", "zone", "text", "since", "until", "before"]),
        values,
    ),
    max_size=6,
)


@slow
@given(addresses, queries)
def test_any_address_is_answered(keeper, address, query):
    answer = keeper.client.get(f"{address}?{urlencode(query)}")
    assert answer.status_code < 500, answer.text
