"""One bench run from its start to its end: hand, store, record; and every way out of it."""

from __future__ import annotations

import contextlib
import getpass
import platform
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from controller.bench.conduct import Conductor, End, HandGone, Stopped, Words
from controller.bench.inputs import inputs
from controller.bench.lines import lines
from controller.bench.moved import Belief
from controller.bench.plan import Plan
from controller.bench.record import Heading, Record, to_json, with_result, write_whole
from controller.bench.relays import relays
from controller.bench.steps import Result, Script
from controller.bench.terminal import Terminal
from controller.bench.times import endurance, times
from controller.building.differences import installers_fingerprint
from controller.building.wiring import Wiring, wiring_of
from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.fakeboard.spawning import start_or_find
from controller.circuits.folders import make_folder
from controller.circuits.hand_link import HandLink
from controller.circuits.lines import PinsFault
from controller.circuits.release import release
from controller.journal.faults import StoreFault

if TYPE_CHECKING:
    from controller.building.model import Building

SCRIPTS: dict[str, Callable[[Plan], Script]] = {
    "relays": relays,
    "lines": lines,
    "times": times,
    "endurance": endurance,
    "inputs": inputs,
}
_KEPT_EVERY_SECONDS = 60.0  # of a test under way
_SIGNALS = {
    signal.SIGINT: "stopped by Ctrl-C",
    signal.SIGTERM: "told to end (SIGTERM)",
    signal.SIGHUP: "its terminal was closed (SIGHUP)",
}


class Places(NamedTuple):
    """Where everything lies."""

    path: Path  # the building's file
    runtime: Path
    state: Path
    records: Path


class Ended(NamedTuple):
    """How a run ended."""

    record: Record
    file: Path  # the record as JSON


def run_bench(
    building: Building,
    places: Places,
    plan: Plan,
    tests: Sequence[str],
    words: Words,
    person: Terminal,
    *,
    by: str,
    fake: bool,
) -> Ended:
    """Carry tests out, and keep what came of them.

    Raises `PinsFault` or `StoreFault` where it cannot begin, in words; all relays are open then,
    as they are after every end.
    """
    make_folder(places.runtime)
    make_folder(places.records)
    wiring = wiring_of(building)
    board = _board(places, wiring.to_json()) if fake else None
    by = by or getpass.getuser()
    belief = Belief(places.state, places.runtime, by)
    try:
        with _signals(words):
            link = HandLink("bench")
            link.take(wiring, places.runtime, board, measures=True)
            keeper = _Keeper(building, places, by, board)
            conductor = Conductor(link, wiring, words, person, belief.moves)
            try:
                link.listen(lambda word: words.put(HandGone() if word is None else word))
                for test in tests:
                    for note in conductor.conduct(SCRIPTS[test](plan)):
                        keeper.keep(note.result, whole=note.done == note.of)
            except Stopped as stopped:
                keeper.stopped = f"{stopped}, in the test {test}"
            except Exception as fault:
                keeper.stopped = str(fault)
                raise
            finally:
                person.close()
                _let_go(link, places, person)
                keeper.end(tuple(belief.unread))
                _tell_rung(conductor, wiring, belief, person)
    finally:
        belief.close()
    if belief.unread:
        person.say("")
        person.say(_unread_text(belief))
    return Ended(keeper.record, keeper.file)


def _board(places: Places, wiring: str) -> Path:
    """The fake board that runs, or one that is started. `PinsFault` where it is another's."""
    socket, _ = start_or_find(places.path.absolute(), places.runtime)
    with BoardClient(socket) as board:
        if board.state()["wiring"] != wiring:
            raise PinsFault(
                "The fake board that runs is wired otherwise than the file. End it: "
                f"understudy fake-board {places.path} end --runtime {places.runtime}"
            )
    return socket


def _let_go(link: HandLink, places: Places, person: Terminal) -> None:
    """All relays open: by the hand, and where it did not end well by what it wrote down."""
    link.end()
    if link.close() == 0:
        return
    try:
        said = release(places.runtime, places.path)
    except PinsFault as fault:
        said = [str(fault)]
    for line in said:
        person.say(line)


def _tell_rung(conductor: Conductor, wiring: Wiring, belief: Belief, person: Terminal) -> None:
    """Let a daemon that is started next know for how long bells were on; or the person."""
    closed = conductor.closed_lately(time.monotonic_ns())
    zones = {
        zone.name.removeprefix("zones."): (zone, closed[zone.name])
        for zone in wiring.circuits
        if zone.kind == "zone" and zone.name in closed
    }
    try:
        belief.rang({name: closings for name, (_, closings) in zones.items()})
        untold = not belief.stored
    except StoreFault as fault:
        person.say(f"Not stored: {fault}")
        untold = True
    full = [
        name
        for name, (zone, closings) in zones.items()
        if sum(end - start for start, end in closings) + zone.longest_ns > zone.a_minute_ns
    ]
    if untold and full:
        person.say(
            f"Wait a minute before a daemon is started: no store tells it for how long "
            f"{', '.join(full)} was on just now, and `a_minute` could be exceeded."
        )


def _unread_text(belief: Belief) -> str:
    names = ", ".join(belief.unread)
    if not belief.stored:
        return f"Moved: {names}. There is no store yet, so nothing was believed of their dials."
    return (
        f"Moved, and unread in the store now: {names}. They stand until somebody says what their "
        "dials show (understudy first-start, or understudy lines LINE set)."
    )


@contextlib.contextmanager
def _signals(words: Words) -> Iterator[None]:
    """Signals end the bench by a word, so that relays open and the record is kept."""
    before = {}
    for number, why in _SIGNALS.items():
        if signal.getsignal(number) != signal.SIG_IGN:  # as nohup has it for a closed terminal
            before[number] = signal.signal(number, lambda *_, why=why: words.put(End(why)))
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


class _Keeper:
    """The record and its files."""

    def __init__(self, building: Building, places: Places, by: str, board: Path | None) -> None:
        self.stopped = ""
        self._civil = building.civil
        began = self._local()
        heading = Heading(
            building.name,
            str(places.path),
            installers_fingerprint(building),
            by,
            began,
            f"the pins of {platform.node()}" if board is None else "the fake board",
            _version(),
        )
        self.record = Record(heading, (), (), "", "")
        stamp = began[:19].replace(":", "-")
        self.file = places.records / f"bench-{stamp}.json"
        self._kept_at = 0.0

    def keep(self, result: Result, *, whole: bool) -> None:
        """Take a result; written at once where it is final, else now and then."""
        self.record = with_result(self.record, result)
        if whole or time.monotonic() - self._kept_at >= _KEPT_EVERY_SECONDS:
            self._write()

    def end(self, unread: tuple[str, ...]) -> None:
        """No more comes: write the record and its pages."""
        from controller.bench.page import html
        from controller.bench.paper import pdf

        self.record = self.record._replace(unread=unread, ended=self._local(), stopped=self.stopped)
        self._write()
        write_whole(self.file.with_suffix(".html"), html(self.record).encode())
        write_whole(self.file.with_suffix(".pdf"), pdf(self.record))

    def _write(self) -> None:
        self._kept_at = time.monotonic()
        write_whole(self.file, to_json(self.record).encode())

    def _local(self) -> str:
        return self._civil.aware(time.time_ns()).isoformat(timespec="seconds")


def _version() -> str:
    try:
        return version("understudy")
    except PackageNotFoundError:
        return "not installed"
