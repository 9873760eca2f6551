"""What the hand does and refuses, whoever asks: plays, interlock and limits on virtual time."""

from __future__ import annotations

import pytest
from hand_bench import SECOND, START, Bench, ns

from controller.engine.contract import Amend, Amended, Outcome, Play

# ── a play ───────────────────────────────────────────────────────────────────────────────────────


def test_a_play_closes_and_opens_at_its_edges_and_is_done():
    bench = Bench()
    play = bench.play("zones.bell", 0, 1, 1.5, 2.5, at=1)
    bench.wait(10)
    assert bench.spans("zones.bell") == [(1, 2), (2.5, 3.5)]
    assert bench.word(play) == Outcome(play, "done", START + SECOND, START + ns(3.5)[0])


def test_a_late_play_shifts_whole():
    bench = Bench()
    bench.play("zones.bell", 0, 1, 1.5, 2.5, at=1)
    bench.sleep(3)
    bench.wait(10)
    assert bench.spans("zones.bell") == [(3, 4), (4.5, 5.5)]


@pytest.mark.parametrize(("seconds", "how"), [(6, "done"), (6.001, "never_began")])
def test_after_its_latest_instant_it_never_begins(seconds, how):
    bench = Bench()
    play = bench.play("zones.bell", 0, 1, at=1, latest=5)
    bench.sleep(seconds)
    bench.wait(5)
    assert bench.word(play).how == how


def test_a_play_that_comes_after_its_latest_instant_is_refused():
    bench = Bench()
    play = bench.play("zones.bell", 0, 1, at=-10, latest=5)
    assert bench.word(play).how == "never_began"


@pytest.mark.parametrize(
    "edges", [(), (0,), (0, 1, 2), (0.5, 1), (0, 0), (0, 2, 1, 3), (0, -1), (0, 1, 1, 2)]
)
def test_edges_that_are_no_play_are_refused(edges):
    bench = Bench()
    play = bench.play("zones.bell", *edges)
    assert bench.word(play).how == "never_began"
    assert bench.rules.next_instant() is None


def test_what_is_not_this_hands_is_refused():
    bench = Bench()
    assert bench.word(bench.play("zones.attic", 0, 1)).how == "never_began"
    assert bench.word(bench.play("zones.bell", 0, 1, relay=1)).how == "never_began"
    assert bench.word(bench.play("lines.main", 0, 1, relay=2)).how == "never_began"
    foreign = Play(99, "another", "zones.bell", 0, START, START + SECOND, ns(0, 1))
    assert bench.rules.take(foreign, START).how == "never_began"


def test_a_circuit_has_one_play_at_a_time():
    bench = Bench()
    first, second = bench.play("zones.bell", 0, 1, at=3), bench.play("zones.bell", 0, 1)
    bench.wait(10)
    assert (bench.word(first).how, bench.word(second).how) == ("done", "never_began")
    assert bench.spans("zones.bell") == [(3, 4)]


# ── taken back, stopped ──────────────────────────────────────────────────────────────────────────


def test_cancel_takes_back_what_has_not_begun():
    bench = Bench()
    play = bench.play("zones.bell", 0, 2, at=1)
    bench.cancel(play)
    bench.wait(5)
    assert bench.word(play).how == "never_began"
    assert bench.closings == []


def test_cancel_of_one_that_has_begun_is_ignored_even_between_its_strokes():
    bench = Bench()
    play = bench.play("zones.bell", 0, 1, 2, 3)
    bench.wait(1.5)
    bench.cancel(play)
    bench.wait(5)
    assert bench.word(play).how == "done"
    assert bench.spans("zones.bell") == [(0, 1), (2, 3)]


@pytest.mark.parametrize(("at", "spans"), [(0.4, [(0, 0.4)]), (1.5, [(0, 1)])])
def test_stop_opens_at_once(at, spans):
    bench = Bench()
    play = bench.play("zones.bell", 0, 1, 2, 3)
    bench.wait(at)
    bench.cancel(play, stop=True)
    assert bench.closed == {}
    assert bench.word(play) == Outcome(play, "cut", START, START + ns(at)[0])
    bench.wait(5)
    assert bench.spans("zones.bell") == spans


def test_stop_of_what_has_not_begun_is_never_began():
    bench = Bench()
    play = bench.play("zones.bell", 0, 1, at=1)
    bench.cancel(play, stop=True)
    assert bench.word(play).how == "never_began"


def test_a_cancel_of_something_unknown_is_nothing():
    bench = Bench()
    bench.cancel(77, stop=True)
    assert bench.outcomes == []


def test_open_all_opens_everything_and_says_so():
    bench = Bench()
    plays = [
        bench.play("zones.bell", 0, 3),
        bench.play("lines.main", 0, 1),
        bench.play("zones.gong", 0, 1, at=2),
    ]
    bench.wait(0.5)
    bench.happened(*bench.rules.open_all(bench.now))
    assert bench.closed == {}
    assert [bench.word(play).how for play in plays] == ["cut", "cut", "never_began"]
    assert bench.rules.next_instant() is None


# ── amended ──────────────────────────────────────────────────────────────────────────────────────


def test_a_later_opening_is_accepted_while_closed():
    bench = Bench()
    play = bench.play("zones.bell", 0, 2)
    bench.wait(1.9)
    assert bench.amend(play, 0, 3)
    bench.wait(5)
    assert bench.spans("zones.bell") == [(0, 3)]


def test_too_late_once_the_edge_is_made_or_past():
    bench = Bench()
    play = bench.play("zones.bell", 0, 2, 3, 4)
    bench.wait(2.5)
    assert not bench.amend(play, 0, 2.5, 3, 4), "the opening at 2 s is made"
    assert not bench.amend(play, 0, 2), "and there is nothing left of this one"
    assert not bench.amend(play, 0, 2, 2.4, 4), "that closing would be in the past"
    assert bench.amend(play, 0, 2, 3.5, 4)
    bench.wait(5)
    assert bench.spans("zones.bell") == [(0, 2), (3.5, 4)]
    assert not bench.amend(play, 0, 2, 3.5, 5), "it has ended"


def test_an_amendment_never_lengthens_a_closing_beyond_longest():
    bench = Bench()
    play = bench.play("zones.bell", 0, 2)
    bench.wait(1)
    assert bench.amend(play, 0, 9)
    bench.wait(15)
    assert bench.spans("zones.bell") == [(0, 4)]
    assert bench.word(play).how == "cut"


def test_unlawful_edges_amend_nothing():
    bench = Bench()
    play = bench.play("zones.bell", 0, 2)
    assert not bench.amend(play, 0, 1, 1)
    assert not bench.amend(play, -1, 2)
    bench.wait(5)
    assert bench.spans("zones.bell") == [(0, 2)]


# ── limits ───────────────────────────────────────────────────────────────────────────────────────


def test_a_closing_ends_at_longest():
    bench = Bench()
    play = bench.play("zones.bell", 0, 9)
    bench.wait(20)
    assert bench.spans("zones.bell") == [(0, 4)]
    assert bench.word(play) == Outcome(play, "cut", START, START + 4 * SECOND)


def test_plays_end_to_end_are_one_closing():
    bench = Bench()
    bench.play("zones.bell", 0, 3)
    bench.wait(3)
    bench.play("zones.bell", 0, 3)
    bench.wait(10)
    assert bench.spans("zones.bell") == [(0, 3), (3, 4)]


def test_closings_of_a_minute_add_up_to_no_more_than_its_limit():
    bench = Bench()
    for _ in range(3):
        bench.play("zones.bell", 0, 4)
        bench.wait(5)
    assert bench.spans("zones.bell") == [(0, 4), (5, 9), (10, 12.02)], "and the slack of an edge"
    refused = bench.play("zones.bell", 0, 1)
    bench.wait(1)
    assert bench.word(refused).how == "never_began"


def test_a_closing_counts_for_a_whole_minute():
    bench = Bench()
    for pause in (30, 15, 16, 10):
        bench.play("zones.bell", 0, 4)
        bench.wait(pause)
    whole, short = [(0, 4), (30, 34)], [(45, 47.02)]
    assert bench.spans("zones.bell") == [*whole, *short, (61, 65)], "the first is forgotten by 61"


def test_a_hand_that_was_stopped_in_a_pause_does_not_let_two_strokes_run_together_for_too_long():
    bench = Bench()
    play = bench.play("zones.bell", 0, 3, 3.1, 6)
    bench.wait(2.9)
    bench.sleep(0.4)  # through the pause: the contact stayed closed
    bench.wait(10)
    assert bench.spans("zones.bell") == [(0, 4)]
    assert bench.word(play).how == "cut"


# ── lines ────────────────────────────────────────────────────────────────────────────────────────


def test_between_the_relays_of_a_line_is_the_gap():
    bench = Bench()
    bench.play("lines.main", 0, 1)
    bench.wait(1)
    bench.play("lines.main", 0, 1, relay=1)
    bench.wait(10)
    assert bench.spans("lines.main") == [(0, 1), (2, 3)]
    assert [its.relay for its in bench.closings] == [0, 1]


def test_the_gap_runs_from_when_an_opening_was_made_not_from_when_it_was_due():
    bench = Bench()
    bench.play("lines.main", 0, 1, relay=0)
    bench.wait(1)
    bench.rules.opened("lines.main", bench.now + ns(0.03)[0])
    bench.play("lines.main", 0, 1, relay=1)
    bench.wait(4)
    assert bench.spans("lines.main") == [(0, 1), (2.03, 3.03)]


def test_a_new_hand_rests_a_gap_before_a_line_first_closes_and_a_bell_does_not():
    bench = Bench(rested=False)
    bench.play("lines.main", 0, 1)
    bench.play("lines.yard", 0, 2)
    bench.play("zones.bell", 0, 1)
    bench.wait(10)
    assert bench.spans("lines.main") == [(1, 2)]
    assert bench.spans("lines.yard") == [(0.2, 2.2)]
    assert bench.spans("zones.bell") == [(0, 1)]


def test_a_line_is_given_one_impulse_at_a_time():
    bench = Bench()
    assert bench.word(bench.play("lines.main", 0, 1, 1.1, 2)).how == "never_began"
    play = bench.play("lines.main", 0, 1)
    bench.wait(0.5)
    assert not bench.amend(play, 0, 1, 1.1, 2)
    bench.wait(5)
    assert bench.spans("lines.main") == [(0, 1)]


def test_a_rest_that_lasts_beyond_the_latest_instant_never_begins():
    bench = Bench()
    bench.play("lines.main", 0, 1)
    bench.wait(1)
    play = bench.play("lines.main", 0, 1, latest=0.5)
    bench.wait(5)
    assert bench.word(play).how == "never_began"


# ── after a long sleep ───────────────────────────────────────────────────────────────────────────


def test_after_a_long_sleep_the_state_is_right():
    bench = Bench()
    long, short = bench.play("zones.gong", 0, 8), bench.play("zones.bell", 0, 1, 30, 31)
    impulse = bench.play("lines.main", 0, 1)
    bench.wait(0.5)
    bench.sleep(7.7)
    assert bench.closed == {}
    assert bench.word(long).how == bench.word(impulse).how == "done"
    assert bench.word(short) is None
    bench.wait(30)
    assert bench.spans("zones.bell") == [(0, 8.2), (30, 31)]
    assert bench.word(short).how == "done"


def test_the_hand_says_amended_in_the_words_of_the_contract():
    bench = Bench()
    play = bench.play("zones.bell", 0, 2)
    assert bench.rules.amend(Amend(play, ns(0, 3)), bench.now) == Amended(play, True)
