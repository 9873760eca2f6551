"""The words between daemon and hand, and those that wait for a daemon that does not read."""

from __future__ import annotations

import socket

import pytest

from controller.circuits.outbox import MOST_WORDS, Outbox
from controller.circuits.wire import (
    MOST_BYTES,
    Beat,
    Begin,
    End,
    HandFault,
    Ready,
    Sensed,
    Switched,
    packed,
    unpacked,
)
from controller.engine.contract import (
    Amend,
    Amended,
    Cancel,
    ContactFault,
    Outcome,
    PanelMoved,
    Play,
    SupplyMoved,
)


@pytest.mark.parametrize(
    "word",
    [
        Begin("hand-1", "{}", "/run/x", ""),
        Begin("bench", "{}", "/run/x", "", True),
        Play(1, "hand-1", "zones.north", 0, 10, 20, (0, 5, 7, 9)),
        Amend(1, (0, 6)),
        Cancel(1, True),
        Beat(True),
        Beat(False),
        End(),
        Ready((("stop_button", False), ("north_off", True)), True),
        Ready((), False),
        Outcome(1, "cut", 10, 10),
        Amended(1, False),
        Switched("lines.main", 1, True, 10),
        Sensed("lines.main", 1, False, 10),
        PanelMoved("stop_button", True),
        SupplyMoved(False, 10),
        ContactFault("lines.main", 1, "welded", True),
        HandFault("the chip is gone"),
    ],
)
def test_a_word_arrives_as_it_was_said(word):
    arrived = unpacked(packed(word))
    assert arrived == word
    assert type(arrived) is type(word)
    hash(arrived)  # tuples all the way down


def test_a_word_that_nobody_knows_is_refused():
    with pytest.raises(ValueError, match="nobody knows: sing"):
        unpacked(b'["sing"]')


# ── a daemon that does not read ──────────────────────────────────────────────────────────────────


@pytest.fixture
def ends():
    """The hand's end of the link, and the daemon's."""
    hand, daemon = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    daemon.setblocking(False)
    with hand, daemon:
        yield hand, daemon


def read(daemon):
    words = []
    while True:
        try:
            words.append(unpacked(daemon.recv(MOST_BYTES)))
        except BlockingIOError:
            return words


def read_out(out, daemon):
    """The daemon reads, and the hand goes on saying, until all is said."""
    words = read(daemon)
    while out.waiting:
        out.flush()
        words += read(daemon)
    return words


def fill(out):
    """Outcomes until the socket takes no more."""
    said = []
    while not out.waiting:
        said.append(Outcome(len(said), "done", 0, 0))
        out.say(said[-1])
    return said


def test_what_the_daemon_takes_is_said_at_once(ends):
    hand, daemon = ends
    out = Outbox(hand)
    out.say(PanelMoved("stop_button", True))
    out.say(Outcome(1, "cut", 0, 1))
    assert not out.waiting
    assert read(daemon) == [PanelMoved("stop_button", True), Outcome(1, "cut", 0, 1)]


def test_what_it_does_not_take_is_said_in_order_when_it_does(ends):
    hand, daemon = ends
    out = Outbox(hand)
    said = fill(out)
    for number in range(100):
        said += [Switched("zones.north", 0, number % 2 == 0, number), Amended(number, True)]
        out.say(said[-2])
        out.say(said[-1])
    assert read_out(out, daemon) == said


def test_inputs_are_said_before_what_they_may_be_the_reason_of(ends):
    hand, daemon = ends
    out = Outbox(hand)
    said = fill(out)
    pressed, cut = PanelMoved("stop_button", True), Outcome(10_000, "cut", 0, 1)
    out.say(cut)
    out.say(pressed)
    words = read_out(out, daemon)
    assert words.index(pressed) < words.index(cut)
    assert len(words) == len(said) + 2


@pytest.mark.parametrize(
    ("moves", "told"),
    [
        ([True], [True]),
        ([True, False], [True, False]),
        ([True, False, True], [True]),
        ([True, False, True, False], [True, False]),
        ([True, False] * 500, [True, False]),
        ([True, False] * 500 + [True], [True]),
    ],
)
def test_however_an_input_chatters_what_it_came_to_is_told_and_no_press_is_lost(ends, moves, told):
    hand, daemon = ends
    out = Outbox(hand)
    said = fill(out)
    for closed in moves:
        out.say(PanelMoved("north_button", closed))
        out.say(SupplyMoved(not closed, 7))
        out.say(ContactFault("lines.main", 1, "bouncing", closed))
    out.say(PanelMoved("other", True))
    assert not out.full
    words = [word for word in read_out(out, daemon) if not isinstance(word, Outcome)]
    assert [word.closed for word in words if word[0] == "north_button"] == told
    assert [not word.there for word in words if isinstance(word, SupplyMoved)] == told
    assert [word.lasts for word in words if isinstance(word, ContactFault)] == told
    assert PanelMoved("other", True) in words
    assert len(said) < MOST_WORDS


def test_a_thousand_words_are_kept_then_no_more_is_taken_but_an_outcome_still_finds_room(ends):
    hand, daemon = ends
    out = Outbox(hand)
    said = fill(out)
    while not out.full:
        said.append(Outcome(len(said), "done", 0, 0))
        out.say(said[-1])
    out.say(Switched("zones.north", 0, True, 1))  # only informs
    last = Outcome(len(said), "cut", 0, 1)
    out.say(last)
    read(daemon)
    out.flush()
    assert not out.full
    rest = read_out(out, daemon)
    assert rest[-1] == last
    assert not any(isinstance(word, Switched) for word in rest)


def test_words_for_a_daemon_that_is_gone_are_let_go(ends):
    hand, daemon = ends
    out = Outbox(hand)
    fill(out)
    daemon.close()
    out.say(PanelMoved("stop_button", True))
    assert not out.waiting
