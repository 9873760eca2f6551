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

from controller.building.model import Building, Line
from controller.dials.modelled import model_dials
from controller.engine import contract
from controller.engine.contract import Cancel, ContactFault, FaultFound, NewBuilding, Tick

CLOCK_STEPS = [-3_600_000, -60_000, -2_000, -300, 40, 300, 2_000, 40_000, 3_600_000]  # ms
CONTACTS = [("zones.north", 0), ("lines.main", 0), ("lines.main", 1), ("lines.yard", 0)]
waits = st.tuples(st.just("wait"), st.integers(0, 25_000))
short_waits = st.tuples(st.just("wait"), st.integers(0, 900))
presses = st.tuples(st.just("press"), st.sampled_from([*BUTTONS, *BUTTONS, "north_switch"]))
let_goes = st.tuples(st.just("let go"), st.sampled_from([*BUTTONS, *BUTTONS, "north_switch"]))
happenings = st.one_of(
    waits,
    waits,
    short_waits,
    short_waits,
    presses,
    let_goes,
    st.tuples(st.just("press"), st.sampled_from(["stop_button", "step_button"])),
    st.tuples(st.just("let go"), st.sampled_from(["stop_button", "step_button"])),
    st.tuples(st.just("supply"), st.booleans()),
    st.tuples(st.just("supply"), st.booleans()),
    st.tuples(st.just("stick"), st.sampled_from(CONTACTS)),
    st.tuples(st.just("mend"), st.sampled_from(CONTACTS)),
    st.tuples(st.just("welded"), st.tuples(st.sampled_from(LINES), st.booleans())),
    st.tuples(st.just("fault"), st.booleans()),
    st.tuples(st.just("acknowledge"), st.just(0)),
    st.tuples(st.just("tick"), st.just(0)),
    st.tuples(st.just("clock"), st.sampled_from(CLOCK_STEPS)),
    st.tuples(st.just("commit"), st.sampled_from([0, 20, 900, 3_000])),
    st.tuples(st.just("storing"), st.booleans()),
    st.tuples(st.just("hand lost"), st.just(0)),
    st.tuples(st.just("hand ready"), st.just(0)),
    st.tuples(st.just("stall"), st.integers(1, 5_000)),
    st.tuples(st.just("deaf"), st.integers(1, 2_000)),
    st.tuples(st.just("fails"), st.booleans()),
    st.tuples(st.just("trust"), st.booleans()),
    st.tuples(st.just("time server"), st.booleans()),
    st.tuples(st.just("word"), st.just(0)),
    st.tuples(st.just("crash"), st.just(0)),
    st.tuples(st.just("power"), st.integers(100, 90_000)),
    st.tuples(st.just("ring"), st.sampled_from(ZONES)),
    st.tuples(st.just("stop"), st.just(0)),
    st.tuples(st.just("quiet"), st.sampled_from(ZONES)),
    st.tuples(st.just("lift"), st.sampled_from(ZONES)),
    st.tuples(st.just("hold"), st.sampled_from(EVERY_LINE)),
    st.tuples(st.just("go"), st.sampled_from(EVERY_LINE)),
    st.tuples(st.just("set"), st.sampled_from(EVERY_LINE)),
    st.tuples(st.just("set unsaid"), st.sampled_from(EVERY_LINE)),
    st.tuples(st.just("step"), st.sampled_from(EVERY_LINE)),
    st.tuples(st.just("to"), st.sampled_from(EVERY_LINE)),
    st.tuples(st.just("look"), st.sampled_from(EVERY_LINE)),
    st.tuples(st.just("moved"), st.sampled_from(EVERY_LINE)),
    st.tuples(st.just("swapped"), st.sampled_from(EVERY_LINE)),
    st.tuples(st.just("follow"), st.sampled_from(["other", "usual", "daily"])),
    st.tuples(st.just("building"), st.integers(0, 1)),
)


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
            case "tick":
                world.put(Tick())
                decided = len(world.decisions)
                world.put(Tick())
                (again,) = world.decisions[decided:]
                assert not any(again[:9]), "the same Tick again at the same Now decides nothing"
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
            case "press":
                world.press(how)
                if how == "step_button":
                    self.corrected.add("main")
            case "let go":
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
                world.order(contract.RingByHand((how,), 3 * SECOND))
            case "stop":
                world.order(contract.StopAll())
            case "quiet":
                world.order(contract.QuietZones((how,), world.now.utc + 20 * SECOND))
            case "lift":
                world.order(contract.QuietZones((how,), 0))
            case "word":
                world.order(contract.TrustClock())
            case "acknowledge":
                world.order(contract.Acknowledge(""))
            case "follow":
                world.order(contract.Follow(date(2026, 11, 25), how))
            case "hold":
                world.order(contract.HoldLine(how))
            case "go":
                world.order(contract.GoLine(how))
            case "step":
                world.order(contract.StepLine(how, 2))
                self.corrected.add(how)
            case "to":
                row = world.line(how)
                world.order(contract.DriveLine(how, (row.shown + 4) % row.positions))
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
            order = contract.SetLine(line, dial.shows, took or None if said else None)
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
            world.order(contract.LineRight(line))
        elif row.doubtful and row.polarity_known and world.shows(line) == one_less:
            world.order(contract.LineStood(line))

    def move(self, line: str) -> None:
        """Move the dials with a battery, and say so."""
        world = self.world
        if world.state.lines[line].play is None:
            dial = world.dials[line][0]
            positions = world.line(line).positions
            world.dials[line] = model_dials((dial.shows + 7) % positions, dial.took)
            self.said.setdefault(line, []).append(world.order(contract.LineMoved(line)))

    def exchange(self, line: str) -> None:
        """Exchange the wires of a line that is held."""
        state = self.world.state.lines[line]
        if line in LINES and state.play is None and state.row.held:
            self.world.premises.exchanged ^= {line}
            order = self.world.order(contract.LineSwapped(line))
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
        world.order(contract.RingByHand(ZONES, SECOND))  # so that a mended contact is seen to be
        for name in EVERY_LINE:
            self.read_and_set(name)
            world.order(contract.GoLine(name))
        world.run(max(longest_wrong(line) for line in world.building.lines.values()))
        self._at_rest()
        for name in LINES:
            if world.line(name).doubtful:
                self.look(name)
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
