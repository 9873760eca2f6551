"""Whatever a hand is asked, its interlock and its limits hold, and every play ends."""

from __future__ import annotations

import itertools
from collections import Counter

from hand_bench import CIRCUITS, MINUTE, START, Bench, Closed, ns
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.circuits.rules import EDGE_SLACK_NS

lengths = st.floats(0.05, 6).map(lambda seconds: round(seconds, 2))
edge_lists = st.lists(lengths, min_size=1, max_size=5).map(
    lambda steps: tuple(itertools.accumulate(steps[: len(steps) - (len(steps) + 1) % 2], initial=0))
)
asked = st.one_of(
    st.tuples(
        st.just("play"),
        st.sampled_from(["zones.bell", "zones.gong"]),
        st.just(0),
        edge_lists,
        st.floats(0, 3),
        st.floats(0, 5),
    ),
    st.tuples(
        st.just("play"),
        st.sampled_from(["lines.main", "lines.yard"]),
        st.integers(0, 1),
        lengths.map(lambda length: (0, length)),
        st.floats(0, 3),
        st.floats(0, 5),
    ),
    st.tuples(st.just("wait"), st.floats(0, 20)),
    st.tuples(st.just("wait"), st.floats(0, 2)),
    st.tuples(st.just("cancel"), st.booleans()),
    st.tuples(st.just("amend"), edge_lists, st.booleans()),
)


def ask(bench: Bench, what: str, *how) -> None:
    match what:
        case "play":
            circuit, relay, edges, at, latest = how
            bench.play(circuit, *edges, at=at, latest=latest, relay=relay)
        case "wait":
            bench.wait(how[0])
        case "cancel" if bench.taken:
            bench.cancel(bench.taken[-1], stop=how[0])
        case "amend" if bench.taken:
            bench.amend(bench.taken[-1], *how[0])


def in_any_minute(closings: list[Closed]) -> int:
    """Most closed time in any 60 s, by trying every window that ends where one opens or later."""
    ends = [its.until for its in closings] + [its.since + MINUTE for its in closings]
    return max(
        (
            sum(max(0, min(its.until, end) - max(its.since, end - MINUTE)) for its in closings)
            for end in ends
        ),
        default=0,
    )


@settings(max_examples=300, deadline=None)
@given(st.lists(asked, max_size=40), st.booleans())
def test_whatever_is_asked_interlock_and_limits_hold(asks, rested):
    bench = Bench(rested)
    for one in asks:
        ask(bench, *one)
    bench.wait(60)
    assert bench.rules.next_instant() is None, "everything ends"
    assert bench.closed == {}
    words = Counter(outcome.play for outcome in bench.outcomes)
    assert words == Counter(bench.taken), "every play gets exactly one word"
    for name, circuit in CIRCUITS.items():
        its = [closing for closing in bench.closings if closing.circuit == name]
        assert all(b.since >= a.until for a, b in itertools.pairwise(its))
        if circuit.kind == "line":
            assert all(c.until - c.since <= circuit.longest_ns for c in its)
            assert all(b.since - a.until >= circuit.gap_ns for a, b in itertools.pairwise(its))
            assert rested or not its or its[0].since - START >= circuit.gap_ns
        else:
            assert all(b - a <= circuit.longest_ns for a, b in run_together(its))
            assert in_any_minute(its) <= circuit.a_minute_ns + EDGE_SLACK_NS


def run_together(closings: list[Closed]) -> list[tuple[int, int]]:
    """Closings that follow each other without a break are one."""
    joined: list[tuple[int, int]] = []
    for its in closings:
        if joined and joined[-1][1] == its.since:
            joined[-1] = (joined[-1][0], its.until)
        else:
            joined.append((its.since, its.until))
    return joined


@settings(max_examples=150, deadline=None)
@given(st.lists(asked, max_size=25), st.lists(st.floats(0, 90), min_size=1, max_size=6))
def test_a_hand_that_is_stopped_now_and_then_ends_everything_all_the_same(asks, sleeps):
    bench = Bench()
    for number, one in enumerate(asks):
        ask(bench, *one)
        if number % 5 == 4:
            bench.sleep(sleeps[number // 5 % len(sleeps)])
    bench.wait(60)
    assert bench.closed == {}
    assert bench.rules.next_instant() is None
    assert Counter(outcome.play for outcome in bench.outcomes) == Counter(bench.taken)
    for name, circuit in CIRCUITS.items():
        its = [closing for closing in bench.closings if closing.circuit == name]
        if circuit.kind == "line":
            assert all(b.since - a.until >= circuit.gap_ns for a, b in itertools.pairwise(its))


@settings(max_examples=150, deadline=None)
@given(edge_lists, st.floats(0, 4), st.floats(0, 40))
def test_what_was_played_lies_within_what_was_asked(edges, at, slept):
    bench = Bench()
    play = bench.play("zones.gong", *edges, at=at, latest=60)
    bench.sleep(slept)
    bench.wait(60)
    word = bench.word(play)
    begun = max(START + ns(at)[0], START + ns(slept)[0] if slept >= at else 0)
    assert word.start == begun
    planned = list(zip(ns(*edges)[::2], ns(*edges)[1::2], strict=True))
    for its in bench.closings:
        assert any(begun + a <= its.since and its.until <= begun + b for a, b in planned), (
            "closed only where it was asked, all shifted by the same"
        )
    if word.how == "done":
        assert [(c.since - begun, c.until - begun) for c in bench.closings] == planned
