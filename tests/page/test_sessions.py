"""Sessions: how long they last, how many there are; marks: of this session, once."""

from __future__ import annotations

import pytest

from controller.page.sessions import (
    IDLE_SECONDS,
    LONGEST_SECONDS,
    MOST_SENT,
    MOST_SESSIONS,
    MOST_SESSIONS_EACH,
    Sessions,
)


class Clock:
    now = 1_000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def sessions(clock: Clock) -> Sessions:
    return Sessions(clock)


def test_a_session_ends_when_nobody_has_used_it_for_two_hours(sessions, clock):
    number = sessions.begin("anna", "hash")
    clock.now += IDLE_SECONDS
    assert sessions.of(number) is not None
    clock.now += IDLE_SECONDS + 1
    assert sessions.of(number) is None
    clock.now -= IDLE_SECONDS
    assert sessions.of(number) is None, "and it stays so"
    assert IDLE_SECONDS == 2 * 3600


def test_a_session_ends_after_twelve_hours_however_often_it_is_used(sessions, clock):
    number = sessions.begin("anna", "hash")
    began = clock.now
    while clock.now < began + LONGEST_SECONDS:
        assert sessions.of(number) is not None
        clock.now += 3600
    clock.now = began + LONGEST_SECONDS + 1
    assert sessions.of(number) is None
    assert LONGEST_SECONDS == 12 * 3600


def test_who_signs_out_is_out(sessions):
    number, other = sessions.begin("anna", "hash"), sessions.begin("anna", "hash")
    sessions.end(number)
    assert sessions.of(number) is None
    assert sessions.of(other) is not None, "at another browser they are still in"
    sessions.end("of nobody")


def test_no_two_sessions_have_a_number_in_common_and_none_is_short(sessions):
    numbers = {sessions.begin(f"{one}", "hash") for one in range(500)}
    assert len(numbers) == 500
    assert min(map(len, numbers)) >= 43  # 256 bits in base64url (RFC 4648, 5)


@pytest.mark.parametrize("number", ["", "x", "\ud800", "é" * 1_000])
def test_a_cookie_that_was_never_given_is_nobodys(sessions, number):
    sessions.begin("anna", "hash")
    assert sessions.of(number) is None


def test_of_one_person_the_oldest_sessions_make_room(sessions):
    others = sessions.begin("bert", "hash")
    numbers = [sessions.begin("anna", "hash") for _ in range(MOST_SESSIONS_EACH + 2)]
    assert [sessions.of(number) is not None for number in numbers] == [False] * 2 + [
        True
    ] * MOST_SESSIONS_EACH
    assert sessions.of(others) is not None


def test_of_all_the_one_that_was_used_longest_ago_makes_room(sessions, clock):
    numbers = []
    for one in range(MOST_SESSIONS):
        clock.now += 1
        numbers.append(sessions.begin(f"person-{one}", "hash"))
    clock.now += 1
    sessions.of(numbers[0])
    newest = sessions.begin("anna", "hash")
    assert sessions.of(numbers[1]) is None
    assert sessions.of(numbers[0]) is not None
    assert sessions.of(newest) is not None


# ── marks ────────────────────────────────────────────────────────────────────────────────────────


def test_a_mark_is_good_once(sessions):
    anna = sessions.of(sessions.begin("anna", "hash"))
    mark = anna.mark()
    assert anna.made(mark)
    assert anna.spend(mark)
    assert not anna.spend(mark)
    assert anna.spend(anna.mark()), "another is"


def test_a_mark_of_another_session_is_none_even_of_the_same_person(sessions):
    here, there = (sessions.of(sessions.begin("anna", "hash")) for _ in range(2))
    assert not here.made(there.mark())


def test_a_mark_cannot_be_made_out_of_another(sessions):
    anna = sessions.of(sessions.begin("anna", "hash"))
    once, _, sign = anna.mark().partition(".")
    for forged in (
        "",
        ".",
        once,
        f"{once}.",
        f".{sign}",
        f"x{once}.{sign}",
        f"{once}.{sign[:-1]}",
        f"{once}.{sign.upper()}",
        f"{once}.{sign}.",
        f"{once}\ud800.{sign}",
        f"{once}.é",
    ):
        assert not anna.made(forged), forged


def test_a_session_that_sent_thousands_of_forms_sends_no_more(sessions):
    anna = sessions.of(sessions.begin("anna", "hash"))
    assert all(anna.spend(anna.mark()) for _ in range(MOST_SENT))
    assert not anna.spend(anna.mark())
