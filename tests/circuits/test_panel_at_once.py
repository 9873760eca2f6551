"""What `stop` and `quiet` do in the hand, whatever the engine says: on virtual time."""

from __future__ import annotations

from hand_bench import START, Bench, ns

from controller.engine.contract import Outcome


def stop(bench):
    bench.happened(*bench.rules.stop(bench.now))


def quiet(bench, *circuits):
    bench.happened(*bench.rules.quiet(frozenset(circuits), bench.now))


def test_stop_cuts_every_zone_that_rings_also_between_its_strokes():
    bench = Bench()
    bell, gong = bench.play("zones.bell", 0, 1, 2, 3), bench.play("zones.gong", 0, 8)
    bench.wait(1.5)
    stop(bench)
    assert bench.closed == {}
    for play in (bell, gong):
        assert bench.word(play) == Outcome(play, "cut", START, START + ns(1.5)[0])
    bench.wait(10)
    assert bench.spans("zones.bell") == [(0, 1)]
    assert bench.spans("zones.gong") == [(0, 1.5)]


def test_stop_touches_no_line_and_leaves_what_has_not_begun_to_the_engine():
    bench = Bench()
    impulse, later = bench.play("lines.main", 0, 1), bench.play("zones.bell", 0, 1, at=2)
    bench.wait(0.5)
    stop(bench)
    bench.wait(10)
    assert bench.word(impulse).how == bench.word(later).how == "done"


def test_stop_holds_nothing_back_afterwards():
    bench = Bench()
    bench.play("zones.bell", 0, 1)
    bench.wait(0.5)
    stop(bench)
    again = bench.play("zones.bell", 0, 1)
    bench.wait(5)
    assert bench.word(again).how == "done"


def test_a_quiet_zone_is_cut_at_once_and_no_other():
    bench = Bench()
    bell, gong = bench.play("zones.bell", 0, 3), bench.play("zones.gong", 0, 3)
    bench.wait(1)
    quiet(bench, "zones.bell")
    assert bench.word(bell) == Outcome(bell, "cut", START, START + ns(1)[0])
    bench.wait(5)
    assert bench.word(gong).how == "done"


def test_in_a_quiet_zone_nothing_begins_neither_what_waits_nor_what_comes():
    bench = Bench()
    waits = bench.play("zones.bell", 0, 1, at=2)
    bench.wait(1)
    quiet(bench, "zones.bell")
    assert bench.word(waits).how == "never_began"
    comes = bench.play("zones.bell", 0, 1)
    assert bench.word(comes).how == "never_began"
    bench.wait(10)
    assert bench.closings == []
    assert bench.rules.next_instant() is None


def test_when_the_switch_is_opened_the_zone_rings_again():
    bench = Bench()
    quiet(bench, "zones.bell", "zones.gong")
    quiet(bench, "zones.gong")
    bell, gong = bench.play("zones.bell", 0, 1), bench.play("zones.gong", 0, 1)
    bench.wait(5)
    assert (bench.word(bell).how, bench.word(gong).how) == ("done", "never_began")
