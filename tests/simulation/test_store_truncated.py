"""The store's file is damaged by a power cut: it is set aside, and nobody knows what dials show."""

from __future__ import annotations

from simulator.card import Card
from simulator.story import Story, ring
from simulator.week import begun


def test_lines_stand_unread_until_somebody_reads_them_and_nothing_rings_twice():
    story = Story(ring("08:30"), ring("08:31"), ring("09:30"))
    story.until("08:30:02").happens("store truncated", seconds=1)
    story.until("08:55")
    assert not story.row().read
    assert story.impulses(since="08:31") == []
    assert story.sounded() == [("08:30:00", 2.0), ("08:31:00", 5.0)]
    story.until("09:31:30")
    assert story.shows() == ["09:31"]
    story.ends_well()


def test_the_controllers_own_store_is_set_aside_and_begun_anew():
    story = Story(ring("08:30"), ring("09:30"))
    card = Card(1)
    try:
        story.world = begun(story.world.house, story.start, 1, card)
        story.until("08:30:30").happens("store truncated", seconds=1)
        story.until("09:31:30")
        assert story.sounded() == [("08:30:00", 5.0), ("09:30:00", 5.0)]
        assert story.shows() == ["09:31"]
        story.ends_well()
    finally:
        card.close()
