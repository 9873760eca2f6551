"""Which events become which entries, by the keeper's rules."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ics_texts import TODAY, event, read_of

from controller.building.kept import CalendarEntry, ImportRule
from controller.editing.calendar_changes import entry_of
from controller.editing.calendar_in import CalendarFile, Occurrence
from controller.editing.calendar_rules import Asked, asked, names


def rule(plan="none", **keys) -> ImportRule:
    listed = {key: [one] if isinstance(one, str) else one for key, one in keys.items()}
    return ImportRule.model_validate({"plan": plan, **listed})


def occurrence(summary="", categories=(), first=1, last=None, uid="1", timed=False) -> Occurrence:
    day = date(2026, 12, first)
    end = day if last is None else date(2026, 12, last)
    return Occurrence(uid, day, end, timed, summary, tuple(categories), False)


def asked_of(occurrences, rules, own=()) -> Asked:
    uids = frozenset(one.uid for one in occurrences)
    calendar = CalendarFile("Year", len(uids), 0, tuple(sorted(occurrences)), uids, ())
    return asked(calendar, rules, own, TODAY)


def entry(plan="regular", **dates) -> CalendarEntry:
    return CalendarEntry.model_validate({**dates, "plan": plan})


def written(found: Asked) -> list[str]:
    """ "1-3 none", "on 5 exams": days of December."""
    return [
        f"{'on ' if one.single else ''}{one.first.day}"
        f"{'' if one.first == one.last and one.single else f'-{one.last.day}'} {one.plan}"
        for one in found.wanted
    ]


# ── which rule fits ──────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("words", "summary", "fits"),
    [
        ("exam", "Final exam", True),
        ("exam", "EXAM: maths", True),
        ("exam", "Example shown", False),
        ("exam", "Mid-exam break", True),
        ("exams", "exam", False),
        ("winter break", "Winter  Break begins", True),
        ("winter break", "winter-break", False),
        ("Ferien", "FERIEN", True),
        ("straße", "STRASSE gesperrt", True),
        ("café", "Cafe\u0301 open", True),
        ("no. 5", "Bus no. 5", True),
        ("no. 5", "Bus no. 55", False),
        ("a.b", "axb", False),
    ],
)
def test_words_fit_whole_whatever_their_size(words, summary, fits):
    assert names(rule(words=words), occurrence(summary)) is fits


def test_a_category_fits_as_a_whole():
    closed = rule(categories="School closed")
    assert names(closed, occurrence("Fair", ["Local", "SCHOOL  CLOSED"]))
    assert not names(closed, occurrence("School closed", ["School"]))


def test_one_of_categories_or_words_is_enough_and_the_first_rule_decides():
    rules = [rule("exams", words="exam"), rule("none", categories="Closed", words=["fair", "exam"])]
    events = [
        occurrence("Exam", ["Closed"], 1, uid="1"),
        occurrence("Fair", (), 3, uid="2"),
        occurrence("Other", ["closed"], 5, uid="3"),
        occurrence("Choir", ["Music"], 7, uid="4"),
    ]
    found = asked_of(events, rules)
    assert written(found) == ["on 1 exams", "on 3 none", "on 5 none"]
    (left_out,) = found.left_out
    assert (left_out.summary, left_out.days) == ("Choir", 1)
    assert "no rule" in left_out.why


def test_an_event_with_times_counts_only_where_its_rule_says_so():
    morning = [occurrence("Exam", (), 1, timed=True)]
    found = asked_of(morning, [rule("exams", words="exam")])
    assert written(found) == []
    assert "times of day" in found.left_out[0].why
    either = [rule("exams", words="exam"), rule("none", words="exam", timed=True)]
    assert written(asked_of(morning, either)) == ["on 1 none"]


def test_what_is_cancelled_and_what_has_passed_is_not_asked_for():
    calendar = read_of(
        event("DTSTART;VALUE=DATE:20261127", "SUMMARY:Fair", uid="1"),
        event("DTSTART;VALUE=DATE:20261128", "SUMMARY:Fair", uid="2"),
        event("DTSTART;VALUE=DATE:20261205", "SUMMARY:Fair", "STATUS:CANCELLED", uid="3"),
    )
    found = asked(calendar, [rule(words="fair")], (), TODAY)
    assert [one.uid for one in found.wanted] == ["2"]
    assert [one.why for one in found.left_out] == ["cancelled"]


def test_an_event_that_cannot_be_read_is_listed():
    calendar = read_of(event("DTSTART:whenever", "SUMMARY:Fair"))
    (left_out,) = asked(calendar, [rule(words="fair")], (), TODAY).left_out
    assert (left_out.summary, left_out.first) == ("Fair", None)
    assert "DTSTART" in left_out.why


# ── dates ────────────────────────────────────────────────────────────────────────────────────────


def test_dates_of_one_event_that_adjoin_are_one_range():
    fair = [occurrence("Fair", (), day) for day in (1, 2, 3, 7, 9, 10)]
    assert written(asked_of(fair, [rule(words="fair")])) == ["1-3 none", "on 7 none", "9-10 none"]


def test_dates_of_two_events_stay_apart():
    events = [occurrence("Fair", (), 1, uid="1"), occurrence("Fair", (), 2, uid="2")]
    assert written(asked_of(events, [rule(words="fair")])) == ["on 1 none", "on 2 none"]


def test_where_ranges_meet_the_earlier_rules_goes_first():
    rules = [rule("none", words="closed"), rule("exams", words="exams")]
    events = [
        occurrence("Exams", (), 1, 9, uid="1"),
        occurrence("Closed", (), 4, 5, uid="2"),
    ]
    found = asked_of(events, rules)
    assert written(found) == ["1-3 exams", "4-5 none", "6-9 exams"]
    (gave_way,) = found.left_out
    assert (gave_way.summary, gave_way.first, gave_way.days) == ("Exams", date(2026, 12, 4), 2)
    assert "giving way to Closed (none)" in gave_way.why


def test_where_single_dates_meet_the_earlier_rules_goes_first():
    rules = [rule("none", words="closed"), rule("exams", words="exams")]
    events = [occurrence("Exams", (), 4, uid="1"), occurrence("Closed", (), 4, uid="2")]
    assert written(asked_of(events, rules)) == ["on 4 none"]


def test_a_single_date_within_a_range_is_left_to_the_files_own_rule():
    rules = [rule("none", words="closed"), rule("exams", words="exams")]
    events = [occurrence("Closed", (), 1, 9, uid="1"), occurrence("Exams", (), 4, uid="2")]
    found = asked_of(events, rules)
    assert written(found) == ["1-9 none", "on 4 exams"]
    assert not found.left_out


# ── beside the keeper's own ──────────────────────────────────────────────────────────────────────


def test_a_date_within_a_range_of_the_keepers_own_is_written_so_that_it_gives_way():
    own = [entry(**{"from": date(2026, 12, 1), "until": date(2026, 12, 9)})]
    fair = [occurrence("Fair", (), 4)]
    assert written(asked_of(fair, [rule(words="fair")], own)) == ["4-4 none"]
    assert written(asked_of(fair, [rule(words="fair")], [entry(on=date(2026, 12, 4))])) == [
        "on 4 none"
    ]


spans = st.tuples(st.integers(1, 20), st.integers(0, 6)).map(lambda one: (one[0], one[0] + one[1]))


def decided_by(entries: list[CalendarEntry], day: date) -> CalendarEntry | None:
    """Design rule 4, written anew: an `on` beats a range; among equals the later in the file."""
    there = [one for one in entries if one.first <= day <= one.last]
    return max(there, key=lambda one: (one.on is not None, entries.index(one)), default=None)


@given(
    st.lists(st.tuples(spans, st.sampled_from(["closed", "exams", "fair"])), max_size=8),
    st.lists(spans, max_size=4),
    st.randoms(use_true_random=False),
)
def test_the_keepers_own_decides_its_dates_then_an_on_then_the_earlier_rule(
    events, own_spans, order
):
    rules = [
        rule("none", words="closed"),
        rule("exams", words="exams", lift_quiet=True),
        rule("fair", words="fair"),
    ]
    occurrences = [
        occurrence(summary, (), *span, uid=str(number))
        for number, (span, summary) in enumerate(events)
    ]
    own = [
        entry(on=date(2026, 12, first))
        if first == last
        else entry(**{"from": date(2026, 12, first), "until": date(2026, 12, last)})
        for first, last in own_spans
    ]
    imported = [entry_of(one, "Year") for one in asked_of(occurrences, rules, own).wanted]
    order.shuffle(imported)  # in whatever order they come to stand
    entries = [*imported, *own]
    for number in range(30):
        day = date(2026, 12, 1) + timedelta(number)
        decides = decided_by(entries, day)
        if any(first <= day.day <= last and day.month == 12 for first, last in own_spans):
            assert decides is not None
            assert decides.event is None
            continue
        there = [
            (span[0] != span[1], place)
            for span, summary in events
            for place, word in enumerate(["closed", "exams", "fair"])
            if word == summary and span[0] <= day.day <= span[1] and day.month == 12
        ]
        if not there:
            assert decides is None
        else:
            assert decides is not None
            assert decides.plan == rules[min(there)[1]].plan
