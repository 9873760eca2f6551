"""A relay's contact does not close, closes late, or bounces; a sense input tells."""

from __future__ import annotations

import pytest
from simulator.story import SENSED, Story, ring

ZONE = "[zones.hall]\nrelay = 18\nsense = 13\n"
SINGLE_SENSED = '[lines.yard]\ndrive = "single"\nrelays = [24]\nsense = [25]\n'


@pytest.mark.parametrize("relay", [0, 1])
@pytest.mark.parametrize("seconds", [20, 61, 300])
def test_an_impulse_that_never_closed_a_contact_is_tried_again(relay, seconds):
    story = Story(more=SENSED)
    story.until("08:29:30")
    story.happens("contact stuck", circuit="lines.main", relay=relay, seconds=seconds)
    story.until("08:45:30")
    assert story.shows() == ["08:45"]
    story.ends_well()


@pytest.mark.parametrize("heals", [0.1, 0.4, 0.6, 0.9])
def test_it_closes_in_the_midst_of_an_impulse(heals):
    """Dials differ in how long an impulse must last: a shortened one was taken by some only."""
    story = Story(more=SENSED)
    story.until("08:29:30")
    story.happens("contact stuck", circuit="lines.main", relay=0, seconds=30 + heals)
    story.happens("contact stuck", circuit="lines.main", relay=1, seconds=30 + heals)
    story.until("08:45:30")
    assert story.shows() == ["08:45"]
    story.ends_well()


def test_on_a_single_line_it_is_not_taken_and_the_line_is_doubtful():
    story = Story(more=SINGLE_SENSED)
    story.until("08:29:30")
    story.happens("contact stuck", circuit="lines.yard", relay=0, seconds=90)
    story.until("08:45:30")
    assert story.row("yard").doubtful
    story.ends_well()


def test_a_ring_whose_contact_never_closed_is_missed_by_its_relay():
    story = Story(ring("08:30", zones="hall"), ring("08:45", zones="hall"), more=SENSED + ZONE)
    story.until("08:29:30").happens("contact stuck", circuit="zones.hall", relay=0, seconds=120)
    story.until("08:46")
    assert story.missed() == [("08:30:00", "hall", "relay")]
    story.ends_well()


@pytest.mark.parametrize("drop", [0.05, 0.15, 0.6])
def test_the_other_polarity_waits_for_a_contact_that_opens_late(drop):
    story = Story(more=SENSED.replace("relays", 'gap = "0.2s"\nrelays'))
    story.until("08:29:30")
    story.happens("contact slow", circuit="lines.main", relay=0, seconds=1200, pull=0.1, drop=drop)
    story.until("08:30:30").happens("clock stepped", by=600, back=900, kept=True)
    story.until("09:10:30")
    assert story.shows() == ["09:10"]
    story.ends_well()


def test_bouncing_moves_no_dial_twice():
    story = Story(ring("08:30", zones="hall"), more=SENSED + ZONE)
    for circuit in ("lines.main", "zones.hall"):
        story.happens("contact bouncing", circuit=circuit, relay=0, seconds=3600)
    story.until("08:45:30")
    assert story.shows() == ["08:45"]
    assert story.sounded("hall") == [("08:30:00", 5.0)]
    story.ends_well()
