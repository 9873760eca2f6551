"""What the hand does by its senses: interlock, plays that never closed, on virtual time."""

from __future__ import annotations

import itertools
from collections import Counter

import pytest
from hand_bench import SECOND, START, ns
from hypothesis import given, settings
from hypothesis import strategies as st
from sensed_bench import BELLS, DIALS, MINUS, PLUS, SENSED, SensedBench, impulse
from test_rules_whatever_is_asked import ask, asked, in_any_minute, run_together

from controller.circuits.rules import EDGE_SLACK_NS
from controller.engine.contract import Outcome

# ── the interlock ────────────────────────────────────────────────────────────────────────────────


def test_a_welded_plus_keeps_minus_from_closing():
    bench = SensedBench()
    bench.weld(PLUS)
    impulse(bench)
    bench.wait(1.5)
    minus = impulse(bench, relay=1, latest=5)
    bench.wait(5)
    assert bench.word(minus) is None
    bench.wait(0.1)
    assert bench.word(minus).how == "never_began"
    assert [its.relay for its in bench.closings] == [0]


def test_a_welded_plus_keeps_plus_itself_from_closing_too():
    bench = SensedBench()
    bench.weld(PLUS)
    impulse(bench)
    bench.wait(1.5)
    again = impulse(bench, latest=2)
    bench.wait(5)
    assert bench.word(again).how == "never_began"


def test_minus_closes_a_gap_after_plus_reads_open():
    bench = SensedBench()
    bench.weld(PLUS)
    impulse(bench)
    bench.wait(1.5)
    minus = impulse(bench, relay=1, latest=5)
    bench.wait(1)
    bench.break_loose(PLUS)  # at 2.5 s
    bench.wait(5)
    assert bench.spans("lines.main") == [(0, 1), (3.5, 4.5)]
    assert bench.word(minus).how == "done"


def test_the_gap_runs_from_the_contact_and_not_from_the_coil():
    bench = SensedBench()
    bench.relays[PLUS].drop_out = 0.05
    impulse(bench)
    bench.wait(1)
    impulse(bench, relay=1)
    bench.wait(5)
    assert bench.spans("lines.main") == [(0, 1), (2.05, 3.05)]


def test_a_contact_that_opened_before_its_coil_does_not_shorten_the_gap():
    bench = SensedBench()
    impulse(bench)
    bench.wait(0.9)
    bench.sense(PLUS, False)
    bench.wait(0.1)
    impulse(bench, relay=1)
    bench.wait(5)
    assert bench.spans("lines.main") == [(0, 1), (2, 3)]


def test_a_line_that_reads_closed_when_it_is_claimed_waits():
    bench = SensedBench()
    bench.sense(MINUS, True)
    play = impulse(bench, latest=10)
    bench.wait(3)
    assert bench.closings == []
    bench.sense(MINUS, False)
    bench.wait(5)
    assert bench.spans("lines.main") == [(4, 5)]
    assert bench.word(play).how == "done"


def test_a_line_of_one_relay_waits_until_its_contact_is_open_and_a_zone_waits_for_none():
    bench = SensedBench()
    for key in (DIALS, BELLS):
        bench.sense(key, True)
    plays = [bench.play("lines.yard", 0, 2, latest=10), bench.play("zones.bell", 0, 1)]
    bench.wait(5)
    assert bench.spans("lines.yard") == []
    assert bench.spans("zones.bell") == [(0, 1)]
    bench.sense(DIALS, False)
    bench.wait(5)
    assert bench.spans("lines.yard") == [(5.2, 7.2)]
    assert [bench.word(play).how for play in plays] == ["done", "done"]


# ── plays whose contact never closed ─────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("key", "edges"), [(PLUS, (0, 1)), (DIALS, (0, 2)), (BELLS, (0, 0.03, 0.2, 0.22))]
)
def test_a_play_whose_contact_never_closed_was_cut_as_it_began(key, edges):
    bench = SensedBench()
    bench.play(key[0], *edges)
    bench.wait(4)
    bench.relays[key].stuck = True
    play = bench.play(key[0], *edges, at=1)
    bench.wait(5)
    assert bench.word(play) == Outcome(play, "cut", START + 5 * SECOND, START + 5 * SECOND)


def test_strokes_too_short_for_a_contact_are_done_though_it_never_closed():
    bench = SensedBench()
    bench.relays[BELLS].stuck = True
    play = bench.play("zones.bell", 0, 0.029, 0.2, 0.229)
    bench.wait(5)
    assert bench.word(play) == Outcome(play, "done", START, START + ns(0.229)[0])


def test_a_ring_whose_contact_closed_for_a_moment_is_done():
    bench = SensedBench()
    play = bench.play("zones.bell", 0, 1)
    bench.wait(0.3)
    bench.sense(BELLS, False)
    bench.wait(5)
    assert bench.word(play) == Outcome(play, "done", START, START + SECOND)


def test_an_impulse_whose_contact_closed_for_a_moment_was_cut():
    bench = SensedBench()
    play = impulse(bench)
    bench.wait(0.3)
    bench.sense(PLUS, False)
    bench.wait(5)
    assert bench.word(play) == Outcome(play, "cut", START, START + SECOND)


def test_a_play_that_is_stopped_before_its_contact_closed_says_so():
    bench = SensedBench()
    bench.relays[BELLS].stuck = True
    play = bench.play("zones.bell", 0, 3)
    bench.wait(1)
    bench.cancel(play, stop=True)
    assert bench.word(play) == Outcome(play, "cut", START, START)


def test_closings_that_no_sense_saw_count_towards_the_minute():
    """The sense's wire may be what is broken, and the bell ringing."""
    bench = SensedBench()
    bench.relays[BELLS].stuck = True
    for _ in range(3):
        bench.play("zones.bell", 0, 4)
        bench.wait(5)
    assert bench.spans("zones.bell") == [(0, 4), (5, 9), (10, 12.02)]
    refused = bench.play("zones.bell", 0, 1)
    bench.wait(1)
    assert bench.word(refused).how == "never_began"


# ── whatever the senses say ──────────────────────────────────────────────────────────────────────

readings = st.tuples(
    st.just("sense"),
    st.sampled_from([PLUS, MINUS, BELLS, DIALS]),
    st.booleans(),
    st.sampled_from([0, 0, 0, 0.01, 0.3]),
)
waits = st.tuples(st.just("wait"), st.floats(0, 0.2))


def gaps_hold(bench):
    for name, circuit in SENSED.items():
        its = [closing for closing in bench.closings if closing.circuit == name]
        assert all(b.since - a.until >= circuit.gap_ns for a, b in itertools.pairwise(its))


def limits_hold(bench):
    gaps_hold(bench)
    for name, circuit in SENSED.items():
        its = [closing for closing in bench.closings if closing.circuit == name]
        assert all(b - a <= circuit.longest_ns for a, b in run_together(its))
        if circuit.kind == "zone":
            assert in_any_minute(its) <= circuit.a_minute_ns + EDGE_SLACK_NS


class Watched(SensedBench):
    """Its senses say what they like; what the hand closes is held against it."""

    def __init__(self) -> None:
        super().__init__()
        self.open_since = dict.fromkeys(self.relays, START - 60 * SECOND)

    def sense(self, key, closed, ago=0):
        if hasattr(self, "open_since") and self.read[key] and not closed:
            self.open_since[key] = self.now - ns(ago)[0]
        super().sense(key, closed, ago)

    def _follow(self, key, relay, closed):
        if closed and key[0] == "lines.main":
            for other in (PLUS, MINUS):
                assert not self.read[other], "nothing closes while a contact reads closed"
                assert self.now >= self.open_since[other] + SENSED["lines.main"].gap_ns


@settings(max_examples=400, deadline=None)
@given(st.lists(st.one_of(asked, readings, readings, waits), max_size=60))
def test_whatever_the_senses_say_interlock_and_limits_hold_and_all_ends(asks):
    bench = Watched()
    for one in asks:
        if one[0] == "sense":
            bench.sense(*one[1:])
        else:
            ask(bench, *one)
    bench.wait(60)
    assert bench.closed == {}
    assert bench.rules.next_instant() is None, "everything ends"
    assert Counter(outcome.play for outcome in bench.outcomes) == Counter(bench.taken)
    limits_hold(bench)
    welded = {key for key, kind in bench.lasting() if kind == "welded"}
    assert welded == {key for key, closed in bench.read.items() if closed}


delays = st.floats(0.001, 0.04).map(lambda seconds: round(seconds, 3))
bounces = st.lists(st.floats(0.001, 0.02), max_size=3, unique=True).map(
    lambda some: tuple(sorted(round(one, 3) for one in some for one in (one, one + 0.0005)))
)


@settings(max_examples=200, deadline=None)
@given(st.lists(asked, max_size=30), delays, delays, bounces)
def test_sound_relays_are_never_suspected(asks, pull_in, drop_out, bounces):
    bench = SensedBench()
    for relay in bench.relays.values():
        relay.pull_in, relay.drop_out, relay.bounces = pull_in, drop_out, bounces
    stopped = set()
    for one in asks:
        ask(bench, *one)
        if one == ("cancel", True):
            stopped |= set(bench.taken[-1:])
    bench.wait(60)
    assert bench.found == []
    assert bench.rules.next_instant() is None
    assert Counter(outcome.play for outcome in bench.outcomes) == Counter(bench.taken)
    for its in bench.outcomes:  # a stop may come at the very instant of a beginning
        assert its.how != "cut" or its.end > its.start or its.play in stopped
    limits_hold(bench)


@settings(max_examples=100, deadline=None)
@given(st.lists(asked, max_size=30), st.lists(st.floats(0, 5), min_size=1, max_size=6))
def test_sound_relays_are_not_suspected_when_the_hand_was_stopped(asks, sleeps):
    bench = SensedBench()
    for number, one in enumerate(asks):
        ask(bench, *one)
        if number % 4 == 3:
            bench.sleep(sleeps[number // 4 % len(sleeps)])
    bench.wait(60)
    assert bench.found == []
    gaps_hold(bench)  # a hand that is stopped keeps no limit


# ── an impulse that was too short ────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("late_seconds", "how"), [(0.006, "done"), (0.15, "done"), (0.25, "cut"), (0.7, "cut")]
)
def test_an_impulse_whose_contact_closed_for_a_lesser_part_of_it_was_cut(late_seconds, how):
    bench = SensedBench()
    bench.relays[PLUS].pull_in = late_seconds
    number = impulse(bench)
    bench.wait(3)
    word = bench.word(number)
    assert word.how == how
    assert word.end - word.start == SECOND, "it began, and dials may have taken it"
