"""The judge is not blind: the controller is spoilt in one place after another, and each is seen."""

from __future__ import annotations

import pytest
from simulator.daemon import Daemon
from simulator.disk import Journal
from simulator.real import Backlog
from simulator.story import ALTERNATING, SINGLE, SUPPLY, Story, ring
from simulator.words import Violation

from controller.circuits import rules
from controller.engine import (
    bells,
    entering,
    line_orders,
    lines,
    recover,
    senses,
    step,
    trust,
    turn,
)
from controller.engine.contract import Tick
from controller.engine.wishes import HoldLine

PANEL = '[panel.north_switch]\npin = 16\ndoes = "quiet"\nzones = ["north"]\n'


def seen(rule: str):
    return pytest.raises(Violation, match=rule)


def counts_as_taken(row, single, now):
    return row if row.step is None else lines.taken(row, row.step)


def test_a_play_that_does_not_wait_for_the_store(monkeypatch):
    def commit(self, batch, records):
        self._release(batch)
        self.world.journal.commit(batch, records)

    monkeypatch.setattr(Daemon, "commit", commit)
    story = Story(seed=3)
    story.happens("commits slow", seconds=900, each=1.4)
    with seen("stored before it is given"):
        story.until("08:10")


def test_an_identity_that_is_forgotten(monkeypatch):
    monkeypatch.setattr(turn.Turn, "is_given", lambda self, zone, written: False)
    story = Story(ring("08:30"))
    story.until("08:30:10").happens("clock stepped", by=-20, back=3000, kept=True)
    with seen("no ring twice"):
        story.until("08:40")


def test_a_polarity_that_does_not_change(monkeypatch):
    monkeypatch.setitem(line_orders.OTHER, "+", "+")
    with seen("impulses differ in polarity"):
        Story().until("08:10")


def test_an_impulse_that_is_not_given_again(monkeypatch):
    monkeypatch.setattr(recover, "_after_a_crash", counts_as_taken)
    story = Story()
    story.until("08:30:00.4").happens("power cut", seconds=1)
    with seen("an alternating line is right"):
        story.ends_well()


def test_a_rest_that_is_too_short(monkeypatch):
    ended = step.impulse_ended

    def hurries(its, name, state, outcome):
        ended(its, name, state, outcome)
        its.lines[name] = its.lines[name]._replace(rest_until=0)

    monkeypatch.setattr(step, "impulse_ended", hurries)
    monkeypatch.setattr(rules._Desk, "earliest", property(lambda desk: desk.play.start_mono))
    story = Story()
    with seen("the rest after an impulse"):
        story.until("08:10").happens("clock stepped", by=600, back=900, kept=True).until("08:20")


def test_a_contact_that_stays_closed_beyond_longest(monkeypatch):
    story = Story(ring("08:30", 9))
    story.until("08:30:05")
    hand = story.world.hand
    due, hand.due = hand.due, 1 << 62
    story.until("08:30:12")
    hand.due = due
    with seen("no closing beyond `longest`"):
        story.until("08:30:20")


def test_a_switch_at_quiet_that_is_overlooked(monkeypatch):
    monkeypatch.setattr(rules.HandRules, "quiet", lambda self, circuits, now: ([], []))
    monkeypatch.setattr(turn.Turn, "switched_off", lambda self, zone: False)
    story = Story(ring("08:30"), more=ALTERNATING + PANEL)
    story.until("08:29:50").happens("press", name="north_switch", seconds=60)
    with seen("no ring where the panel's switch is at quiet"):
        story.until("08:31")


def test_what_could_not_be_stored_and_is_forgotten(monkeypatch):
    monkeypatch.setattr(Journal, "_to_keep", lambda self, store, records, fault: [])
    story = Story(ring("08:40"))
    story.until("08:29:30").happens("store full", seconds=600)
    story.until("08:38:10.5").happens("daemon killed")
    with seen("is right|differ in polarity|accounted for|an order"):
        story.until("08:50")
        story.ends_well()


def test_a_ring_that_is_dropped_without_a_word(monkeypatch):
    enter = entering._enter

    def drops(its, start, end):
        enter(its, start, end)
        its.waiting = [one for one in its.waiting if not one.written.endswith("08:30:00")]

    monkeypatch.setattr(entering, "_enter", drops)
    story = Story(ring("08:30"))
    with seen("every due ring is accounted for"):
        story.until("08:40").ends_well()


def test_a_ring_that_is_missed_without_a_cause(monkeypatch):
    monkeypatch.setattr(bells, "draw", lambda its, zone: 1.0)
    monkeypatch.setattr(bells, "_begin", lambda its, ring, zone, start: None)
    story = Story(ring("08:30"))
    with seen("missed only with a cause"):
        story.until("08:40")


def test_a_clock_that_nobody_vouches_for(monkeypatch):
    monkeypatch.setattr(trust, "_jumped", lambda state, now: False)
    story = Story()
    story.until("08:20").happens("synchronisation lost", seconds=5000, drift=0)
    story.until("08:30:30").world.set_clock(3_600_000_000_000, synced=False)
    with seen("by a clock that nobody trusts"):
        story.until("08:45")


def test_an_impulse_that_was_cut_and_counts_as_taken(monkeypatch):
    monkeypatch.setattr(turn.Turn, "supply_failed", lambda self, outcome: False)
    story = Story(more=SUPPLY + ALTERNATING)
    story.until("08:30:00.4").happens("24 V gone", seconds=0.5)
    with seen("an alternating line is right"):
        story.ends_well()


def test_a_line_that_goes_without_the_24_volts(monkeypatch):
    monkeypatch.setattr(lines, "supply_bears", lambda its: True)
    assert senses.supply_bears is not lines.supply_bears
    story = Story(more=SUPPLY + SINGLE)
    story.until("08:30:30").happens("24 V gone", seconds=300)
    with seen("a line stands without the 24 V"):
        story.until("08:35")


def test_a_held_line_that_goes(monkeypatch):
    story = Story()
    story.until("08:30:30").order(HoldLine("main"))
    daemon = story.world.daemon
    its = daemon.state.lines["main"]
    going = its._replace(row=its.row._replace(held=False))
    daemon.state = daemon.state._replace(lines={**daemon.state.lines, "main": going})
    daemon.put(Tick())
    with seen("a held line gives nothing"):
        story.until("08:35")


def test_a_fence_at_the_time_server_and_not_at_the_start(monkeypatch):
    raises = entering._raise_fence
    monkeypatch.setattr(entering, "_raise_fence", lambda its, start: raises(its, its.now.utc))
    story = Story(ring("08:29:20"))
    story.until("08:29").happens("power cut", seconds=1, boot=15, sync=30)
    with seen("missed only once its grace is over"):
        story.until("08:31")


def test_a_ring_that_waits_for_a_store_that_does_not_answer(monkeypatch):
    gives_up = Backlog.give_up
    monkeypatch.setattr(Backlog, "give_up", lambda its: gives_up(its)[:1])
    story = Story(ring("08:30"))
    story.until("08:29:56.5").happens("store stalled", seconds=20)
    story.happens("quiet", zones=["south"], seconds=0)
    with seen("in time unless something is the matter"):
        story.until("08:31")
