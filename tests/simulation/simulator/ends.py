"""How daemon and hand end, in order and otherwise, and what systemd then does (design rule 18)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.words import FAR, MILLISECOND, SECOND

from controller.engine.contract import FaultFound, HandLost, Order, Tick
from controller.engine.faults import HAND
from controller.engine.wishes import Finish

if TYPE_CHECKING:
    from simulator.world import World

ENDING_NS = 5 * SECOND  # a daemon that ends waits so long for its store
RELEASED_NS = 2 * SECOND  # after a hand that died, by systemd
HUNG_NS = 4 * SECOND  # after a hand that hangs
SILENCE_NS = 3 * SECOND  # after the daemon's last beat the hand opens everything
FINISH = 0  # the number of that order


def finish_daemon(world: World, restart_ns: int, word: str = "") -> None:
    """It stores what is owed, for five seconds at most, and ends."""
    daemon = world.daemon
    if daemon is None:
        return
    world.judge.daemon_ends()
    daemon.put(HandLost(world.hand.name))
    if word:
        daemon.put(FaultFound(HAND, word))

    def ends() -> None:
        if world.daemon is daemon:
            world.end_daemon(restart_ns)

    daemon.ending = True
    world.on_finish = lambda: world.plan(world.t + 2 * MILLISECOND, ends)
    world.plan(world.t + ENDING_NS, ends)
    daemon.put(Order(FINISH, "", Finish()))


def stop_daemon(world: World, restart_ns: int) -> None:
    """In order: relays open, what is owed is stored."""
    if world.daemon is None or world.hand is None or world.hand.ended:
        return
    world.judge.daemon_ends()
    world.hand.open_all(heard=True)
    finish_daemon(world, restart_ns)


def kill_hand(world: World, released_ns: int, restart_ns: int) -> None:
    """It is gone: its relays stay as they were until systemd's `release`."""
    hand = world.hand
    if hand is None or hand.ended:
        return
    hand.ended, hand.due = True, FAR
    world.judge.hand_goes()
    world.plan(world.t + min(released_ns, RELEASED_NS), hand.release)
    finish_daemon(world, max(restart_ns, released_ns + MILLISECOND), "the hand is gone")


def hang_hand(world: World, released_ns: int, restart_ns: int) -> None:
    """It does nothing any more, until it is killed."""
    hand = world.hand
    if hand is None or hand.ended or hand.hung:
        return
    hand.hung, hand.due = True, FAR
    world.judge.hand_goes()

    def killed() -> None:
        if world.hand is hand and not hand.ended:
            kill_hand(world, 0, restart_ns)

    world.plan(world.t + min(released_ns, HUNG_NS - 10 * MILLISECOND), killed)


def hang_engine(world: World, lasts_ns: int, restart_ns: int) -> None:
    """The engine's thread stands still. Beyond 3 s the hand opens everything."""
    daemon, hand = world.daemon, world.hand
    if daemon is None or hand is None or daemon.hung or hand.ended:
        return
    daemon.hung = True
    last_beat = daemon.next_beat() - SECOND

    def goes_on() -> None:
        if world.daemon is daemon and not hand.ended:
            daemon.hung = False
            daemon.put(Tick())
            daemon.clock_beat()

    def falls_silent() -> None:
        if world.daemon is daemon and daemon.hung and not hand.ended:
            hand.open_all(heard=False)
            world.plan(world.t + ENDING_NS, lambda: gives_up())

    def gives_up() -> None:
        if world.daemon is daemon:
            world.end_daemon(restart_ns)

    world.plan(world.t + lasts_ns, goes_on)
    world.plan(last_beat + SILENCE_NS, falls_silent)
