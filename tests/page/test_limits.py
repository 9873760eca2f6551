"""How often: tries that fail wait longer and longer; rings have so many a minute."""

from __future__ import annotations

from controller.page.limits import FORGET_SECONDS, LONGEST_WAIT_SECONDS, MOST_KEYS, Rate, Tries


class Clock:
    now = 1_000.0

    def __call__(self) -> float:
        return self.now


def failed_at_once(tries: Tries, clock: Clock, *keys: str) -> float:
    """Wait as long as one must, fail, and say how long one must wait then."""
    clock.now += tries.wait(*keys)
    tries.failed(*keys)
    return tries.wait(*keys)


def test_three_tries_are_free_and_then_the_wait_doubles_up_to_a_quarter_of_an_hour():
    clock = Clock()
    tries = Tries(clock)
    waits = [failed_at_once(tries, clock, "anna") for _ in range(14)]
    assert waits == [0, 0, 2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900, 900]
    assert LONGEST_WAIT_SECONDS == 900


def test_a_guesser_has_some_hundred_tries_a_day():
    clock = Clock()
    tries, began, number = Tries(clock), clock.now, 0
    while clock.now < began + 86_400:
        failed_at_once(tries, clock, "anna")
        number += 1
    assert number < 120


def test_the_wait_runs_out():
    clock = Clock()
    tries = Tries(clock)
    for _ in range(3):
        tries.failed("anna")
    assert tries.wait("anna") == 2
    clock.now += 1.5
    assert tries.wait("anna") == 0.5
    clock.now += 0.5
    assert tries.wait("anna") == 0


def test_one_waits_for_the_name_and_for_the_address():
    tries = Tries(Clock())
    for _ in range(3):
        tries.failed("name", "address")
    assert tries.wait("name", "another address") == 2
    assert tries.wait("another name", "address") == 2
    assert tries.wait("another name", "another address") == 0


def test_who_was_right_begins_anew():
    tries = Tries(Clock())
    for _ in range(5):
        tries.failed("anna")
    tries.forget("anna", "of nobody")
    assert tries.wait("anna") == 0


def test_after_an_hour_without_a_try_it_is_forgotten():
    clock = Clock()
    tries = Tries(clock)
    for _ in range(8):
        tries.failed("anna")
    clock.now += FORGET_SECONDS + 1
    tries.failed("anna")
    assert tries.wait("anna") == 0


def test_a_flood_of_names_takes_no_more_room():
    tries = Tries(Clock())
    for one in range(MOST_KEYS * 3):
        tries.failed(f"{one}")
    assert len(tries._failed) == MOST_KEYS


def test_so_many_in_any_minute():
    clock = Clock()
    rate = Rate(3, clock)
    assert [rate.take("anna") for _ in range(5)] == [True] * 3 + [False] * 2
    assert rate.take("bert"), "others have theirs"
    clock.now += 59.9
    assert not rate.take("anna")
    clock.now += 0.1
    assert [rate.take("anna") for _ in range(5)] == [True] * 3 + [False] * 2


def test_the_minute_slides():
    clock = Clock()
    rate = Rate(2, clock)
    rate.take("anna")
    clock.now += 40
    rate.take("anna")
    clock.now += 20
    assert [rate.take("anna"), rate.take("anna")] == [True, False]


def test_a_flood_of_keys_takes_no_more_room_and_lets_nobody_ring_more():
    rate = Rate(1, Clock())
    for one in range(MOST_KEYS * 2):
        rate.take(f"{one}")
    assert len(rate._times) == MOST_KEYS
    assert not rate.take(f"{MOST_KEYS * 2 - 1}")
