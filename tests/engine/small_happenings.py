"""Whatever may happen to a small building, by chance; and how all of it is brought to rest.

People do and say what is true: who sets a line has brought its dials together, who says `right`,
`stood` or `moved` has looked, who says `swapped` has exchanged the wires.
"""

from __future__ import annotations

from datetime import date

from hypothesis import strategies as st
from small_buildings import BUTTONS, EVERY_LINE, LINES, ZONES
from small_premises import OTHER
from small_world import MILLISECOND, MINUTE, SECOND, SmallWorld

from controller.building.installed import Line
from controller.building.model import Building
from controller.dials.modelled import model_dials
from controller.engine import wishes
from controller.engine.contract import Cancel, ContactFault, FaultFound, NewBuilding, Tick

CLOCK_STEPS = [-3_600_000, -60_000, -2_000, -300, 40, 300, 2_000, 40_000, 3_600_000]  # ms
CONTACTS = [("zones.north", 0), ("lines.main", 0), ("lines.main", 1), ("lines.yard", 0)]
KINDS = {
    "press": st.sampled_from([*BUTTONS, *BUTTONS, "north_switch"]),
    "let go": st.sampled_from([*BUTTONS, *BUTTONS, "north_switch"]),
    "press other": st.sampled_from(["stop_button", "step_button"]),
    "let go other": st.sampled_from(["stop_button", "step_button"]),
    "supply": st.booleans(),
    "stick": st.sampled_from(CONTACTS),
    "mend": st.sampled_from(CONTACTS),
    "welded": st.tuples(st.sampled_from(LINES), st.booleans()),
    "fault": st.booleans(),
    "acknowledge": st.just(0),
    "tick": st.just(0),
    "clock": st.sampled_from(CLOCK_STEPS),
    "commit": st.sampled_from([0, 20, 900, 3_000]),
    "storing": st.booleans(),
    "hand lost": st.just(0),
    "hand ready": st.just(0),
    "stall": st.integers(1, 5_000),
    "deaf": st.integers(1, 2_000),
    "fails": st.booleans(),
    "trust": st.booleans(),
    "time server": st.booleans(),
    "word": st.just(0),
    "crash": st.just(0),
    "power": st.integers(100, 90_000),
    "ring": st.sampled_from(ZONES),
    "stop": st.just(0),
    "quiet": st.sampled_from(ZONES),
    "lift": st.sampled_from(ZONES),
    "hold": st.sampled_from(EVERY_LINE),
    "go": st.sampled_from(EVERY_LINE),
    "set": st.sampled_from(EVERY_LINE),
    "set unsaid": st.sampled_from(EVERY_LINE),
    "step": st.sampled_from(EVERY_LINE),
    "to": st.sampled_from(EVERY_LINE),
    "look": st.sampled_from(EVERY_LINE),
    "moved": st.sampled_from(EVERY_LINE),
    "swapped": st.sampled_from(EVERY_LINE),
    "follow": st.sampled_from(["other", "usual", "daily"]),
    "building": st.integers(0, 1),
}
PAIRS = (  # what is of little use alone
    {"press", "let go"},
    {"stick", "mend"},
    {"hand lost", "hand ready"},
    {"hold", "set", "go"},
)
WAITS = st.one_of(st.integers(0, 25_000), st.integers(0, 2_000), st.integers(0, 200))

NEAR = st.one_of(st.integers(-100, 100), st.integers(0, 900))  # ms


@st.composite
def histories(draw, most: int = 40) -> list[tuple[str, object]]:
    """What happens, of all kinds or of a few: they meet each other more often then."""
    kinds = set(KINDS)
    if draw(st.booleans()):
        kinds = draw(st.sets(st.sampled_from(sorted(KINDS)), min_size=2, max_size=6))
        kinds = kinds.union(*(pair for pair in PAIRS if pair & kinds))
    happenings = [st.tuples(st.just(kind), KINDS[kind]) for kind in sorted(kinds)]
    waits = st.tuples(st.just("wait"), WAITS)
    nexts = st.tuples(st.sampled_from(["next", "in lines", "in zones"]), NEAR)
    length = draw(st.integers(0, most))  # a list of at most so many would mostly be short
    each = st.one_of(waits, nexts, st.one_of(happenings))
    return draw(st.lists(each, min_size=length, max_size=length))


class SmallHistory:
    """A small world and what has happened to it."""

    def __init__(self, buildings: list[Building], start_utc: int) -> None:
        self.buildings = buildings
        self.world = SmallWorld(buildings[0], start_utc)
        self.corrected: set[str] = set()  # lines whose dials were stepped past what is believed
        self.said: dict[str, list[int]] = {}  # line → orders about its dials since it was last set

    def happen(self, what: str, how) -> None:
        world = self.world
        match what:
            case "wait":
                world.run(how * MILLISECOND)
            case "next" | "in lines" | "in zones":
                self._go_on(what.removeprefix("in "), how * MILLISECOND)
            case "tick":
                world.put(Tick())
                decided = len(world.decisions)
                world.put(Tick())
                (again,) = world.decisions[decided:]
                assert not any(again[:8]), "the same Tick again at the same Now decides nothing"
            case "clock":
                world.shift += how * MILLISECOND
                world.put(Tick())
            case "commit":
                world.commit_ns = how * MILLISECOND
            case "storing":
                world.storing = how
            case "trust":
                world.trust(how)
            case "time server":
                world.trusted = how
                world.put(Tick())
            case "crash":
                world.crash()
            case "power" if not world.unsaved:  # exactness is promised for what was stored
                world.power_cut(how * MILLISECOND)
            case "building":
                world.put(NewBuilding(self.buildings[how]))
            case "fault":
                world.put(FaultFound("disk", "the disk is full" if how else ""))
            case _:
                self._befall(what, how)

    def _go_on(self, to: str, past_ns: int) -> None:
        """On to just about when something happens, or to when contacts of lines or zones close."""
        world = self.world
        end = world.t + 70 * SECOND
        while (instant := world._next_instant()) is not None and instant < end:
            world.run(max(0, instant - world.t + (past_ns if to == "next" else 0)))
            if to == "next" or any(circuit.startswith(to) for circuit in world.closed_at):
                break
        if to != "next":
            world.run(max(0, past_ns))

    def _befall(self, what: str, how) -> None:
        """The hand, its inputs and its relays."""
        world = self.world
        match what:
            case "hand lost":
                world.lose_hand()
            case "hand ready":
                world.new_hand()
            case "stall":
                world.stall(how * MILLISECOND)
            case "deaf":
                world.deafen(how * MILLISECOND)
            case "fails" if world.rules is not None:
                for play in sorted(world.out.values()):  # the hand ends or refuses what it has
                    world._came_out(*world.rules.cancel(Cancel(play, stop=how), world.mono))
                world.settle()
            case "press" | "press other":
                world.press(how)
                if how == "step_button":
                    self.corrected.add("main")
            case "let go" | "let go other":
                world.let_go(how)
            case "supply":
                world.supply(how)
            case "stick":
                world.stick(*how)
            case "mend":
                world.mend(*how)
            case "welded":
                line, lasts = how
                world.put(ContactFault(f"lines.{line}", 0, "welded", lasts))
            case _:
                self._order(what, how)

    def _order(self, what: str, how) -> None:
        world = self.world
        match what:
            case "ring":
                world.order(wishes.RingByHand((how,), 3 * SECOND))
            case "stop":
                world.order(wishes.StopAll())
            case "quiet":
                world.order(wishes.QuietZones((how,), world.now.utc + 20 * SECOND))
            case "lift":
                world.order(wishes.QuietZones((how,), 0))
            case "word":
                world.order(wishes.TrustClock())
            case "acknowledge":
                world.order(wishes.Acknowledge(""))
            case "follow":
                world.order(wishes.Follow(date(2026, 11, 25), how))
            case "hold":
                world.order(wishes.HoldLine(how))
            case "go":
                world.order(wishes.GoLine(how))
            case "step":
                world.order(wishes.StepLine(how, 2))
                self.corrected.add(how)
            case "to":
                row = world.line(how)
                world.order(wishes.DriveLine(how, (row.shown + 4) % row.positions))
            case "set" | "set unsaid":
                self.read_and_set(how, said=what == "set")
            case "look":
                self.look(how)
            case "moved":
                self.move(how)
            case "swapped":
                self.exchange(how)

    # ── what a person does to a line ─────────────────────────────────────────────────────────

    def read_and_set(self, line: str, *, said: bool = True) -> None:
        """Bring the dials together and say what they show, and perhaps which polarity came last."""
        world, state = self.world, self.world.state.lines[line]
        if state.play is None and (state.row.held or not state.row.read):
            dial = world.dials[line][0]
            world.dials[line] = model_dials(dial.shows, dial.took)
            took = OTHER[dial.took] if line in world.premises.exchanged else dial.took
            order = wishes.SetLine(line, dial.shows, took or None if said else None)
            self.said[line] = [world.order(order)]
            self.corrected.discard(line)

    def look(self, line: str) -> None:
        """Look at dials at rest, and say what is to be seen."""
        world, state = self.world, self.world.state.lines[line]
        row = state.row
        if state.play is not None or row.step is not None or not row.read:
            return
        one_less = {(row.shown - 1) % row.positions}
        if world.shows(line) == {row.shown}:
            world.order(wishes.LineRight(line))
        elif row.doubtful and row.polarity_known and world.shows(line) == one_less:
            world.order(wishes.LineStood(line))

    def settle(self, line: str) -> None:
        """End the doubt: say what is to be seen; where that says nothing, set the dials."""
        self.look(line)
        if self.world.line(line).doubtful:
            self.world.order(wishes.HoldLine(line))
            self.read_and_set(line)

    def move(self, line: str) -> None:
        """Move the dials with a battery, and say so."""
        world = self.world
        if world.state.lines[line].play is None:
            dial = world.dials[line][0]
            positions = world.line(line).positions
            world.dials[line] = model_dials((dial.shows + 7) % positions, dial.took)
            self.said.setdefault(line, []).append(world.order(wishes.LineMoved(line)))

    def exchange(self, line: str) -> None:
        """Exchange the wires of a line that is held."""
        state = self.world.state.lines[line]
        if line in LINES and state.play is None and state.row.held:
            self.world.premises.exchanged ^= {line}
            order = self.world.order(wishes.LineSwapped(line))
            self.said.setdefault(line, []).append(order)

    # ── at rest ──────────────────────────────────────────────────────────────────────────────

    def calm_down(self) -> None:
        """All faults cease, commits are quick, the clock is trusted, the hand there; then quiet."""
        world = self.world
        world.commit_ns = 0
        world.trusted = world.storing = True
        for name in world.panel:
            world.let_go(name)
        world.premises.stuck.clear()
        world.new_hand()
        world.supply(True)
        for line in LINES:
            world.put(ContactFault(f"lines.{line}", 0, "welded", False))
        world.put(FaultFound("disk", ""))
        world.run(2 * MINUTE)
        world.order(wishes.RingByHand(ZONES, SECOND))  # so that a mended contact is seen to be
        for name in EVERY_LINE:
            self.read_and_set(name)
            world.order(wishes.GoLine(name))
        world.run(max(longest_wrong(line) for line in world.building.lines.values()))
        self._at_rest()
        for name in LINES:
            if world.line(name).doubtful:
                self.settle(name)
        world.run(5 * MINUTE)
        self._at_rest()

    def as_believed(self, line: str) -> bool:
        """Whether its dials are as believed, for all anybody did: nobody stepped them past it, and
        all that was said of them was heard. (What is not answered has to be said again.)
        """
        answers = [self.world.answer(order) for order in self.said.get(line, ())]
        heard = all(answer is not None and answer.ok for answer in answers)
        return heard and line not in self.corrected

    def _at_rest(self) -> None:
        """Go on until no step is just under way."""
        self.world.run(45 * SECOND - self.world.now.utc % (30 * SECOND))


def longest_wrong(line: Line) -> int:
    """How long dials can be wrong (ns): all their patience, or once round while time goes on."""
    pace = line.impulse_ns + line.gap_ns
    round_once = line.positions * pace * line.every_ns // (line.every_ns - pace)
    return max(line.patience_ns, round_once)
