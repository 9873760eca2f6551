"""All power goes while a bell sounds."""

from __future__ import annotations

from simulator.story import Story, ring

from controller.engine.records import SoundingRow
from controller.engine.wishes import RingByHand


def test_what_was_cut_is_logged_as_cut_and_never_given_again():
    story = Story(ring("08:30"), ring("08:32"))
    story.until("08:30:02").happens("power cut", seconds=1, boot=15)
    story.until("08:40")
    assert story.sounded() == [("08:30:00", 2.0), ("08:32:00", 5.0)]
    rows = [row for row in story.world.disk.rows.values() if isinstance(row, SoundingRow)]
    assert [row.how for row in rows] == ["cut", "done"]
    assert story.missed() == []
    assert story.ends_well()["given"] == 2


def test_a_short_cut_within_grace_rings_nothing_late():
    story = Story(ring("08:30"))
    story.until("08:29:59.9").happens("power cut", seconds=0.2, boot=15)
    story.until("08:31")
    assert story.sounded() == [], "it was stored as begun, and counts as cut as it began"
    story.ends_well()


def test_a_ring_by_hand_that_was_cut_is_not_taken_up_again():
    story = Story()
    story.until("08:30")
    story.order(RingByHand(("north",), 8_000_000_000))
    story.happens("power cut", seconds=1, boot=15).until("08:31")
    assert story.sounded() == [("08:30:00", 2.0)]
