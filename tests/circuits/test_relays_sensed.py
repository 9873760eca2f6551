"""What the senses find of relays, on virtual time.

RELAY_NEEDS 100 ms, SETTLES 20 ms, SLOW 1 s: common practice or a choice, no source.
"""

from __future__ import annotations

from hand_bench import SECOND, START, Bench, ns
from sensed_bench import BELLS, DIALS, PLUS, SENSED, SensedBench, impulse

from controller.circuits.rules import HandRules
from controller.circuits.senses import LEAST_CLOSING_NS, RELAY_NEEDS_NS, SETTLES_NS, SLOW_NS
from controller.engine.contract import ContactFault


def test_the_figures_of_these_tests():
    figures = (RELAY_NEEDS_NS, SETTLES_NS, SLOW_NS, LEAST_CLOSING_NS)
    assert figures == ns(0.1, 0.02, 1, 0.03)


# ── sound relays ─────────────────────────────────────────────────────────────────────────────────


def test_a_contact_that_follows_its_coil_is_no_news():
    bench = SensedBench()
    plays = [
        impulse(bench),
        bench.play("zones.bell", 0, 1, 1.5, 2.5),
        bench.play("lines.yard", 0, 2),
    ]
    bench.wait(10)
    assert bench.found == []
    assert [bench.word(play).how for play in plays] == ["done"] * 3


def test_a_contact_that_takes_all_the_time_that_a_relay_may_need_is_no_news():
    bench = SensedBench()
    bench.relays[BELLS].pull_in = bench.relays[BELLS].drop_out = 0.1
    bench.play("zones.bell", 0, 1)
    bench.wait(10)
    assert bench.found == []


def test_a_contact_may_bounce_until_it_settles():
    bench = SensedBench()
    bench.relays[BELLS].bounces = (0.005, 0.006, 0.01, 0.012, 0.02, 0.022)
    bench.play("zones.bell", 0, 1)
    bench.wait(10)
    assert bench.found == []


def test_a_stroke_that_is_over_before_a_relay_must_have_moved_proves_nothing_wrong():
    bench = SensedBench()
    bench.relays[BELLS].stuck = True
    bench.play("zones.bell", 0, 0.09)
    bench.wait(10)
    assert bench.found == []


def test_edges_that_are_read_late_are_judged_by_their_instants():
    bench = SensedBench()
    bench.play("zones.bell", 0, 3)
    bench.wait(0.001)
    bench.sleep(2)  # the contact closed 6 ms after its coil was energised
    bench.wait(5)
    assert bench.found == []


def test_a_reading_from_before_an_order_is_no_word_on_how_it_was_followed():
    bench = SensedBench()
    bench.relays[BELLS].pull_in = 0.09
    bench.wait(1)
    bench.sense(BELLS, True)  # by itself, for a moment
    bench.wait(0.03)
    bench.play("zones.bell", 0, 1)
    bench.wait(0.001)
    bench.sense(BELLS, False, ago=0.02)  # read late: its coil was at rest then
    bench.wait(5)
    assert {kind for _, _, kind, _ in bench.found} == {"bouncing"}


def test_senses_that_nobody_reads_change_nothing():
    plain, unread = Bench(), Bench(circuits=SENSED.values())
    for bench in (plain, unread):
        bench.play("lines.main", 0, 1)
        bench.play("zones.bell", 0, 1, 2, 3)
        bench.wait(1)
        bench.play("lines.main", 0, 1, relay=1)
        bench.wait(10)
        assert bench.rules.found() == []
    assert plain.closings == unread.closings
    assert plain.outcomes == unread.outcomes


# ── stuck ────────────────────────────────────────────────────────────────────────────────────────


def test_a_contact_that_does_not_close_is_stuck_until_a_later_closing_is_followed():
    bench = SensedBench()
    bench.relays[PLUS].stuck = True
    impulse(bench)
    bench.wait(5)
    assert bench.found == [(0.1, PLUS, "stuck", True)]
    impulse(bench)
    bench.wait(5)
    assert bench.found == [(0.1, PLUS, "stuck", True)], "still, and told once"
    bench.relays[PLUS].stuck = False
    impulse(bench)
    bench.wait(5)
    assert bench.found[1:] == [(10.006, PLUS, "stuck", False)]


def test_a_contact_that_lets_go_in_mid_ring_is_stuck_until_the_next_closing():
    bench = SensedBench()
    bench.play("zones.bell", 0, 3)
    bench.wait(1)
    bench.sense(BELLS, False)
    bench.wait(0.5)
    assert bench.found == [(1.1, BELLS, "stuck", True)]
    bench.sense(BELLS, True)  # what comes back by itself has followed no order
    bench.wait(5)
    assert bench.lasting() == {(BELLS, "stuck")}
    bench.play("zones.bell", 0, 1)
    bench.wait(5)
    assert bench.lasting() == set()
    assert {kind for _, _, kind, _ in bench.found} == {"stuck"}


def test_what_was_lost_for_long_before_a_stop_is_stuck_and_no_mere_bounce():
    bench = SensedBench()
    play = bench.play("zones.bell", 0, 3)
    bench.wait(1)
    bench.sense(BELLS, False, ago=0.3)
    bench.cancel(play, stop=True)
    bench.wait(0)
    assert [its[1:] for its in bench.found] == [(BELLS, "stuck", True)]


# ── welded ───────────────────────────────────────────────────────────────────────────────────────


def test_a_contact_that_does_not_open_is_welded_until_it_reads_open():
    bench = SensedBench()
    bench.weld(BELLS)
    bench.play("zones.bell", 0, 1)
    bench.wait(5)
    assert bench.found == [(1.1, BELLS, "welded", True)]
    bench.play("zones.bell", 0, 1)  # a zone goes on: the bell rings anyway
    bench.wait(5)
    bench.break_loose(BELLS)
    assert bench.found[1:] == [(10, BELLS, "welded", False)]


def test_a_contact_that_breaks_loose_while_its_coil_is_energised_is_not_welded_any_more():
    bench = SensedBench()
    bench.weld(BELLS)
    bench.play("zones.bell", 0, 1)
    bench.wait(5)
    bench.play("zones.bell", 0, 2)
    bench.wait(1)
    bench.break_loose(BELLS)
    bench.wait(5)
    assert [its[1:] for its in bench.found] == [
        (BELLS, "welded", True),
        (BELLS, "welded", False),
        (BELLS, "stuck", True),
    ]


def test_a_contact_that_reads_closed_when_it_is_claimed_is_welded():
    bench = SensedBench()
    bench.sense(DIALS, True)
    bench.wait(0.099)
    assert bench.found == []
    bench.wait(1)
    assert bench.found == [(0.1, DIALS, "welded", True)]


def test_a_relay_that_the_last_hand_has_only_just_let_go_is_given_time():
    bench = SensedBench()
    bench.sense(PLUS, True)
    bench.wait(0.012)
    bench.sense(PLUS, False)
    bench.wait(5)
    assert bench.found == []


def test_a_contact_that_closes_by_itself_is_welded():
    bench = SensedBench()
    bench.wait(60)
    bench.sense(BELLS, True)
    bench.wait(60)
    assert bench.found == [(60.1, BELLS, "welded", True)]


# ── slow ─────────────────────────────────────────────────────────────────────────────────────────


def test_a_contact_that_closes_late_was_stuck_and_is_slow_until_an_operation_is_followed_in_time():
    bench = SensedBench()
    bench.relays[PLUS].pull_in = 0.15
    impulse(bench)
    bench.wait(5)
    assert bench.found == [
        (0.1, PLUS, "stuck", True),
        (0.15, PLUS, "stuck", False),
        (0.15, PLUS, "slow", True),
    ]
    bench.relays[PLUS].pull_in = 0.05
    impulse(bench)
    bench.wait(5)
    assert bench.found[3:] == [(6.1, PLUS, "slow", False)], "100 ms after the opening"


def test_a_relay_that_only_opens_late_stays_slow_from_one_operation_to_the_next():
    bench = SensedBench()
    bench.relays[PLUS].drop_out = 0.2
    for _ in range(3):
        impulse(bench)
        bench.wait(5)
    assert [its[1:] for its in bench.found] == [
        (PLUS, "welded", True),
        (PLUS, "welded", False),
        (PLUS, "slow", True),
        *[(PLUS, "welded", True), (PLUS, "welded", False)] * 2,
    ]
    bench.relays[PLUS].drop_out = 0.004
    impulse(bench)
    bench.wait(5)
    assert bench.lasting() == set()


def test_a_contact_that_closes_after_a_second_was_stuck_and_not_slow():
    bench = SensedBench()
    bench.relays[BELLS].pull_in = 1.5
    bench.play("zones.bell", 0, 3)
    bench.wait(10)
    assert bench.found == [(0.1, BELLS, "stuck", True)]
    bench.relays[BELLS].pull_in = 0.006
    bench.play("zones.bell", 0, 3)
    bench.wait(10)
    assert bench.lasting() == set()


def test_what_a_stopped_hand_reads_afterwards_is_found_all_the_same():
    bench = SensedBench()
    bench.relays[BELLS].pull_in = 0.3
    bench.play("zones.bell", 0, 3)
    bench.wait(0.001)
    bench.sleep(2)
    assert [its[1:] for its in bench.found] == [
        (BELLS, "stuck", True),
        (BELLS, "stuck", False),
        (BELLS, "slow", True),
    ]


# ── bouncing ─────────────────────────────────────────────────────────────────────────────────────


def test_a_contact_that_goes_back_when_it_should_have_settled_bounces():
    bench = SensedBench()
    bench.relays[PLUS].bounces = (0.021, 0.025)
    impulse(bench)
    bench.wait(0.5)
    assert bench.found == [(0.031, PLUS, "bouncing", True)]
    bench.wait(5)
    bench.relays[PLUS].bounces = ()
    impulse(bench)
    bench.wait(5)
    assert bench.found[1:] == [(6.6, PLUS, "bouncing", False)], "100 ms after a clean opening"


def test_a_contact_that_bounces_only_as_it_opens_goes_on_bouncing():
    bench = SensedBench()
    for _ in range(3):
        bench.relays[PLUS].bounces = ()
        impulse(bench)
        bench.wait(0.5)
        bench.relays[PLUS].bounces = (0.03, 0.035)
        bench.wait(5)
    assert bench.found == [(1.039, PLUS, "bouncing", True)]


def test_a_contact_that_lets_go_just_before_its_opening_bounces():
    bench = SensedBench()
    impulse(bench)
    bench.wait(0.95)
    bench.sense(PLUS, False)
    bench.wait(5)
    assert bench.found == [(1, PLUS, "bouncing", True)]


def test_clean_strokes_end_it_though_they_follow_each_other_closely():
    bench = SensedBench()
    bench.relays[BELLS].bounces = (0.03, 0.035)
    bench.play("zones.bell", 0, 1)
    bench.wait(5)
    bench.relays[BELLS].bounces = ()
    bench.play("zones.bell", 0, 0.05, 0.1, 0.15, 0.2, 0.25)
    bench.wait(5)
    assert bench.found == [(0.041, BELLS, "bouncing", True), (5.1, BELLS, "bouncing", False)]


def test_strokes_in_whose_pauses_the_contact_did_not_open_prove_nothing():
    bench = SensedBench()
    bench.relays[BELLS].bounces = (0.03, 0.035)
    bench.play("zones.bell", 0, 1)
    bench.wait(5)
    bench.relays[BELLS].bounces = ()
    bench.relays[BELLS].drop_out = 0.08
    bench.play("zones.bell", 0, 0.05, 0.1, 0.15)
    bench.wait(5)
    assert bench.found[1:] == [(5.25, BELLS, "bouncing", False)]


def test_an_opening_that_was_welded_for_a_while_is_not_clean():
    bench = SensedBench()
    bench.relays[BELLS].bounces = (0.03, 0.035)
    bench.play("zones.bell", 0, 1)
    bench.wait(5)
    bench.relays[BELLS].bounces = ()
    bench.weld(BELLS)
    bench.play("zones.bell", 0, 1)
    bench.wait(5)
    bench.relays[BELLS].welded, bench.relays[BELLS].drop_out = False, 1.5
    bench.play("zones.bell", 0, 1)
    bench.wait(5)
    assert bench.lasting() == {(BELLS, "bouncing")}


def test_found_is_in_the_words_of_the_contract():
    rules = HandRules("hand", SENSED.values(), START)
    rules.sensed("lines.main", 1, True, START)
    rules.advance(START + SECOND)
    assert rules.found() == [ContactFault("lines.main", 1, "welded", True)]
    assert rules.found() == []
