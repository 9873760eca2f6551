"""Every kind of fault, and of what people do: a name, and what then happens to the world.

Lengths are in seconds. A fault that lasts ends by itself; `Ends` lets the world end what still
lasts when the faults are over.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from simulator import ends, words
from simulator.people import exchange_wires, read_and_set
from simulator.reload import change_file
from simulator.words import SECOND, ns

from controller.engine import wishes

if TYPE_CHECKING:
    from simulator.world import World

Kind = Callable[..., None]
FAULTS: dict[str, Kind] = {}
PEOPLE: dict[str, Kind] = {}


def strike(world: World, kind: str, how: Mapping[str, Any]) -> None:
    """Let it happen now."""
    world.note("happens", kind, dict(how))
    (FAULTS.get(kind) or PEOPLE[kind])(world, **how)


def fault(name: str) -> Callable[[Kind], Kind]:
    def kept(kind: Kind) -> Kind:
        FAULTS[name] = kind
        return kind

    return kept


def people(name: str) -> Callable[[Kind], Kind]:
    def kept(kind: Kind) -> Kind:
        PEOPLE[name] = kind
        return kind

    return kept


def lasts(
    world: World, seconds: float, fact: str, then: Callable[[], None], says: str = ""
) -> None:
    """It is so for a while, and the judge knows."""
    began = world.begin(fact, says)

    def over() -> None:
        if began[2] == words.FAR:
            world.end(began)
            then()

    world.lasting.append(over)
    world.plan(world.t + ns(seconds), over)


# ── power ────────────────────────────────────────────────────────────────────────────────────────


@fault("power cut")
def power_cut(world: World, seconds: float, boot: float = 20, sync: float | None = 0) -> None:
    """All power goes; `sync` after the boot began a time server is heard; None: not at all."""
    world.power_off()
    synced = None if sync is None else ns(sync)
    world.plan(world.t + ns(seconds), lambda: world.power_on(ns(boot), synced))


@fault("cut of hours")
def long_cut(world: World, hours: float, boot: float = 20, sync: float | None = 0) -> None:
    power_cut(world, hours * 3600, boot, sync)


@fault("three cuts in a minute")
def three_cuts(world: World, first: float = 17, second: float = 40, boot: float = 20) -> None:
    for after in (0, first, second):
        world.plan(world.t + ns(after), lambda: power_cut(world, 2, boot, 0))


@fault("cut, RTC dead")
def cut_rtc_dead(world: World, seconds: float, boot: float = 20, sync: float | None = 60) -> None:
    """The RTC has begun again in 1970."""
    world.clock.rtc, world.clock.rtc_died = None, world.t
    power_cut(world, seconds, boot, sync)


@fault("cut, RTC a year ahead")
def cut_rtc_ahead(world: World, seconds: float, boot: float = 20, sync: float | None = 60) -> None:
    world.clock.rtc = world.clock.truth + 365 * words.DAY
    power_cut(world, seconds, boot, sync)


# ── processes ────────────────────────────────────────────────────────────────────────────────────


@fault("daemon killed")
def daemon_killed(world: World, restart: float = 3) -> None:
    world.end_daemon(ns(restart))


@fault("daemon restarted")
def daemon_restarted(world: World, restart: float = 3) -> None:
    ends.stop_daemon(world, ns(restart))


@fault("hand killed")
def hand_killed(world: World, released: float = 1, restart: float = 3) -> None:
    ends.kill_hand(world, ns(released), ns(restart))


@fault("hand hung")
def hand_hung(world: World, released: float = 3.5, restart: float = 3) -> None:
    ends.hang_hand(world, ns(released), ns(restart))


@fault("engine hung")
def engine_hung(world: World, seconds: float, restart: float = 3) -> None:
    lasts(world, seconds + 8, words.SLOW, lambda: None, "engine hung")
    ends.hang_engine(world, ns(seconds), ns(restart))


@fault("hand wakes late")
def hand_late(world: World, seconds: float, late: float) -> None:
    world.hand_late_ns = world.late_margin_ns = ns(late)

    def forgotten() -> None:
        world.late_margin_ns = world.hand_late_ns

    def over() -> None:
        world.hand_late_ns = 0
        world.plan(world.t + words.MINUTE, forgotten)

    lasts(world, seconds, words.SLOW, over, "hand late")


@fault("words come late")
def words_late(world: World, seconds: float, late: float) -> None:
    world.words_late_ns = ns(late)

    def over() -> None:
        world.words_late_ns = 0

    lasts(world, seconds, words.SLOW, over, "words late")


# ── clock ────────────────────────────────────────────────────────────────────────────────────────


@fault("clock stepped")
def clock_stepped(world: World, by: float, back: float, kept: bool = False) -> None:
    """Somebody sets the clock; `kept`: a time server that is wrong does. Later it is put right."""
    world.set_clock(world.clock.shift + ns(by), synced=kept)
    _right_later(world, back)


@fault("synchronisation lost")
def sync_lost(world: World, seconds: float, drift: float) -> None:
    """No time server for so long; meanwhile the clock drifts."""
    world.lose_sync()

    def heard() -> None:
        world.clock.truth += ns(drift)
        world.synchronise()

    lasts(world, seconds, "unsynchronised", heard)


def _right_later(world: World, back: float) -> None:
    lasts(world, back, "wrong clock", world.synchronise)


# ── store ────────────────────────────────────────────────────────────────────────────────────────


@fault("commits slow")
def commits_slow(world: World, seconds: float, each: float) -> None:
    world.disk.slow_ns = ns(each)

    def over() -> None:
        world.disk.slow_ns = 0

    lasts(world, seconds, words.STORE, over, "slow")


@fault("store full")
def store_full(world: World, seconds: float) -> None:
    world.disk.full = True

    def over() -> None:
        world.disk.full = False

    lasts(world, seconds, words.STORE, over, "full")


@fault("store stalled")
def store_stalled(world: World, seconds: float) -> None:
    world.disk.stalls_until = world.t + ns(seconds)
    lasts(world, seconds + 1, words.STORE, lambda: None, "stalled")


@fault("store truncated")
def store_truncated(world: World, seconds: float, boot: float = 20) -> None:
    """A power cut, and the file is damaged. The lines are unread then; somebody reads them."""
    power_cut(world, seconds, boot, 0)
    if not world.powered:
        world.disk.damage()
        world.judge.store_lost()
        for line in world.program.lines:
            world.plan(world.t + ns(seconds + 1800), lambda line=line: read_and_set(world, line))


@fault("store newer")
def store_newer(world: World, seconds: float) -> None:
    """A newer version wrote the store: it is left as it is, nothing is known and nothing stored.
    Then the older version is put back.
    """
    _restart_with(world, newer=True)

    def over() -> None:
        _restart_with(world, newer=False)

    lasts(world, seconds, words.STORE, over, "newer")


def _restart_with(world: World, *, newer: bool) -> None:
    world.disk.newer = newer
    world.judge.people.forget()
    if newer:
        world.judge.ledger.unread()
    world.end_daemon(ns(3))


# ── 24 V and contacts ────────────────────────────────────────────────────────────────────────────


@fault("24 V gone")
def supply_gone(world: World, seconds: float) -> None:
    world.supply_away = True
    world.parts.power(False)

    def over() -> None:
        world.supply_away = False
        world.parts.power(world.powered)

    lasts(world, seconds, words.SUPPLY, over)


@fault("24 V sags")
def supply_sags(world: World, times: int, gone: float, there: float) -> None:
    """It goes for moments, again and again."""
    fact = world.begin(words.SUPPLY, "sags")
    for number in range(times):
        at = world.t + number * ns(gone + there)
        world.plan(at, lambda: world.parts.power(False))
        world.plan(
            at + ns(gone), lambda: world.parts.power(world.powered and not world.supply_away)
        )
    world.plan(world.t + times * ns(gone + there), lambda: world.end(fact))


def _contact(mode: str) -> Kind:
    def ails(
        world: World, circuit: str, relay: int, seconds: float, pull: float = 0, drop: float = 0
    ) -> None:
        world.parts.ail(circuit, relay, mode, ns(pull), ns(drop))
        lasts(world, seconds, words.CONTACT, lambda: world.parts.ail(circuit, relay, ""), circuit)

    return ails


for _mode in ("stuck", "welded", "slow", "bouncing"):
    FAULTS[f"contact {_mode}"] = _contact(_mode)


# ── panel and file ───────────────────────────────────────────────────────────────────────────────


@fault("button stuck")
def button_stuck(world: World, name: str, seconds: float) -> None:
    press(world, name, seconds)


@fault("button chatters")
def button_chatters(world: World, name: str, times: int, each: float) -> None:
    for number in range(times):
        at = world.t + number * ns(2 * each)
        world.plan(at, lambda: world.press(name, True))
        world.plan(at + ns(each), lambda: world.press(name, False))


@fault("file changed")
def file_changed(world: World, number: int) -> None:
    change_file(world, number)


# ── people ───────────────────────────────────────────────────────────────────────────────────────


@people("ring")
def ring(world: World, zones: list[str], seconds: float) -> None:
    world.order(wishes.RingByHand(tuple(zones), ns(seconds)))


@people("stop")
def stop(world: World) -> None:
    world.order(wishes.StopAll())


@people("quiet")
def quiet(world: World, zones: list[str], seconds: float) -> None:
    world.order(wishes.QuietZones(tuple(zones), world.utc + ns(seconds) if seconds else 0))


@people("follow")
def follow(world: World, days: int, plan: str) -> None:
    day = world.program.local(world.utc).date() + timedelta(days=days)
    world.order(wishes.Follow(day, plan))


@people("hold and go")
def hold_and_go(world: World, line: str, seconds: float) -> None:
    world.order(wishes.HoldLine(line))
    lasts(world, seconds, words.PEOPLE, lambda: world.order(wishes.GoLine(line)) and None, line)


@people("wires exchanged")
def wires_exchanged(world: World, line: str, seconds: float) -> None:
    exchange_wires(world, line)
    lasts(world, seconds, words.PEOPLE, lambda: world.order(wishes.GoLine(line)) and None, line)


@people("hold, read, set")
def hold_read_set(world: World, line: str) -> None:
    read_and_set(world, line)


@people("step")
def step(world: World, line: str, impulses: int) -> None:
    world.order(wishes.StepLine(line, impulses))


@people("drive")
def drive(world: World, line: str, shown: int) -> None:
    world.order(wishes.DriveLine(line, shown))


@people("trust")
def trust(world: World) -> None:
    """A person sets the clock by a good watch, and says that it is right."""
    if not world.powered or world.clock.synced:
        return
    if abs(world.clock.shift - world.clock.truth) > SECOND // 2:
        world.set_clock(world.clock.truth, synced=False)
    world.plan(world.t + 5 * SECOND, lambda: world.order(wishes.TrustClock()) and None)


@people("press")
def press(world: World, name: str, seconds: float) -> None:
    world.press(name, True)
    world.lasting.append(lambda: world.press(name, False))
    world.plan(world.t + ns(seconds), lambda: world.press(name, False))
