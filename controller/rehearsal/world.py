"""A world on virtual time for the daemon's own engine and the hand's own rules.

Outside time runs evenly; the system's clock is outside time plus whatever it was stepped by; the
monotonic clock starts anew with every boot. A commit takes no time. Nothing here decides anything
about bells or dials: it moves time to whatever comes next, and carries words and levels across.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from heapq import heappop, heappush
from typing import TYPE_CHECKING

from controller.building.civil import SECOND
from controller.building.wiring import wiring_of
from controller.circuits.rules import HandRules, Switch
from controller.dials.modelled import ModelDial, after_impulse, model_dials
from controller.dials.position import face_text, true_position
from controller.engine.contract import Decision, HandReady, Input, Now, Outcome, Play, Stored, Tick
from controller.engine.records import LineRow, MissCount, MissRow, Record, SoundingRow, StepRow
from controller.engine.recover import recover
from controller.engine.state import FAR, State
from controller.engine.step import step
from controller.rehearsal.noted import IMPULSE, MISSED, RING, Noted
from controller.rehearsal.record import (
    EndRecord,
    ImpulseRecord,
    LineEnd,
    MissedRecord,
    RehearsalRecord,
    RingRecord,
)
from controller.rehearsal.script import Script
from controller.timetable.contact import MINUTE

if TYPE_CHECKING:
    from controller.building.model import Building

FIRST_MONO = 1_000 * SECOND  # a machine has been up for a while when a rehearsal begins
RUN_ON = 3_600 * SECOND  # at most so long after the end for what began before it
_MOST_AT_ONCE = 10_000  # inputs at one instant; more means that somebody goes in circles


def rehearse(building: Building, script: Script) -> Iterator[RehearsalRecord]:
    """Run `building` through `script`; records in order of `at`, the end record last."""
    return World(building, script).records()


class World:
    """Everything around the engine for one rehearsal."""

    def __init__(self, building: Building, script: Script) -> None:
        self.building = building
        self.script = script
        self.t = script.start_utc
        self.shift = 0
        self.shifts: list[tuple[int, int]] = []  # outside, shift from then on
        self.boots = 0
        self.boot = ""
        self.mono_zero = 0
        self.store: dict[tuple[str, ...], Record] = {}
        self.state: State | None = None  # None while the power is away
        self.rules: HandRules | None = None
        self.inputs: deque[Input] = deque()
        self.look = FAR  # outside: when the engine wants to look again
        self.hand_due = FAR  # outside: when the hand has something to do
        self.out: dict[int, Play] = {}  # plays the hand has
        self.steps: dict[int, tuple[str, StepRow, int]] = {}  # play → line, step, shown before
        self.soundings: dict[int, SoundingRow] = {}
        self.noted = Noted()
        self.zone_place = {name: n for n, name in enumerate(building.zones)}
        self.line_place = {name: n for n, name in enumerate(building.lines)}
        self.dials: dict[str, tuple[ModelDial, ...]] = {}
        self.faces = {
            name: [face_text(line, shown) for shown in range(line.positions)]
            for name, line in building.lines.items()
        }
        self.closed_at: dict[str, int] = {}  # circuit → outside
        self._set_dials()
        self._turn_on()

    # ── the beginning, and after every cut ───────────────────────────────────────────────────

    def _set_dials(self) -> None:
        for name, line in self.building.lines.items():
            true = true_position(line, self.building.civil, self.t)
            shown, polarity = self.script.dials.get(name, (true, "-"))
            self.dials[name] = model_dials(shown, "" if line.drive == "single" else polarity)
            row = LineRow(
                name,
                True,
                shown,
                line.positions,
                polarity,
                False,
                not self.script.lines,
                None,
                0,
            )
            self.store[row.key] = row

    def _turn_on(self) -> None:
        """The machine is up, its clock right, its daemon starting."""
        first = self.boots == 0
        self.boots += 1
        self.boot = f"boot-{self.boots}"
        self._shifted(0)
        self.mono_zero = self.t - FIRST_MONO
        now = self._now()
        self.state = recover(self.building, list(self.store.values()), now)
        # At the start of a rehearsal hand and lines have been at rest; later each hand is new.
        rested = now.mono - MINUTE if first else now.mono
        hand = f"hand-{self.boots}"
        self.rules = HandRules(hand, wiring_of(self.building).circuits, rested)
        self.inputs.append(HandReady(hand))
        self._settle()

    def _turn_off(self) -> None:
        """All power goes: contacts open, the engine and the hand are gone."""
        assert self.rules is not None
        switches, outcomes = self.rules.open_all(self._mono())
        self._switched(switches)
        for outcome in outcomes:
            play = self.out.pop(outcome.play)
            start, end = outcome.start, outcome.end
            if outcome.how == "never_began":  # stored as begun, and so never given: 0 s of it
                start = end = play.start_mono
            else:
                self._note_impulse(play, outcome)
            sounding = self.soundings.get(outcome.play)
            if sounding is not None:
                self._note_ring(sounding, start, end, cut=True)
        self.out.clear()
        self.soundings.clear()
        self.inputs.clear()
        self.state, self.rules, self.look, self.hand_due = None, None, FAR, FAR

    # ── time ─────────────────────────────────────────────────────────────────────────────────

    def _shifted(self, shift: int) -> None:
        self.shift = shift
        self.shifts.append((self.t, shift))

    def _mono(self) -> int:
        return self.t - self.mono_zero

    def _now(self) -> Now:
        return Now(self.t + self.shift, self.t - self.mono_zero, self.boot, True)

    def run(self) -> Iterator[RehearsalRecord]:
        """Move from event to event until the window is over and what began in it has ended."""
        events = self._events()
        stop = self.script.until_utc
        while True:
            instant = self._next_instant(events)
            if instant == FAR or (instant >= stop and not self._unfinished()):
                break
            if instant > stop + RUN_ON + self._down_until(events):
                break
            if instant > self.t:
                self.t = instant
            if events and events[0][0] <= self.t:
                self._happen(*heappop(events)[1:])
            elif self.state is not None:
                self._go_on()
            if self.noted:
                yield from self.noted.before(self._low_water())
        yield from self.noted.before(None)

    def records(self) -> Iterator[RehearsalRecord]:
        """All of it, and how it ended."""
        yield from self.run()
        yield self.end_record()

    def _events(self) -> list[tuple[int, int, str, int]]:
        """What the script lets happen: (outside, order, what, how much)."""
        events: list[tuple[int, int, str, int]] = []
        down_until = 0
        for cut in sorted(self.script.cuts):
            back = cut.start_utc + cut.duration_ns + self.script.boot_ns
            if cut.start_utc >= down_until:
                heappush(events, (cut.start_utc, 0, "off", 0))
            else:  # the power goes again before the engine is up
                events = [event for event in events if event[2] != "on" or event[0] < cut.start_utc]
                back = max(back, down_until)
            heappush(events, (back, 1, "on", 0))
            down_until = back
        for change in self.script.steps:
            heappush(events, (change.at_utc, 2, "step", change.by_ns))
        return events

    def _down_until(self, events: list[tuple[int, int, str, int]]) -> int:
        """How long the run-on is put off by a cut that lasts beyond the window."""
        if self.state is not None or not events:
            return 0
        return max(0, events[0][0] - self.script.until_utc)

    def _happen(self, _: int, what: str, by: int) -> None:
        if what == "off":
            if self.state is not None:
                self._turn_off()
        elif what == "on":
            self._turn_on()
        elif self.state is not None:
            self._shifted(self.shift + by)
            self.inputs.append(Tick())
            self._settle()

    def _next_instant(self, events: list[tuple[int, int, str, int]]) -> int:
        instant = self.look if self.look < self.hand_due else self.hand_due
        return min(instant, events[0][0]) if events else instant

    def _go_on(self) -> None:
        """The hand first, then whoever wanted to look again."""
        if self.hand_due <= self.t:
            self._hand_advances()
        if self.look <= self.t:
            self.inputs.append(Tick())
        self._settle()

    def _unfinished(self) -> bool:
        """Whether something that belongs to the window is still to end."""
        until = self.script.until_utc
        if self.state is None:
            return True
        return (
            any(ring.due - self.shift < until for ring in self.state.waiting)
            or any(self._in_window(row) for row in self.soundings.values())
            or any(play.start_mono + self.mono_zero < until for play in self.out.values())
        )

    # ── engine and hand ──────────────────────────────────────────────────────────────────────

    def _settle(self) -> None:
        """Let engine and hand speak until both have nothing more to do at this instant."""
        for _ in range(_MOST_AT_ONCE):
            if self.inputs:
                self._step(self.inputs.popleft())
            elif self.hand_due > self.t or not self._hand_advances():
                return
        raise AssertionError("engine and hand go in circles at one instant")

    def _hand_advances(self) -> bool:
        assert self.rules is not None
        now = self.t - self.mono_zero
        instant = self.rules.next_instant()
        if instant is None or instant > now:
            self.hand_due = FAR if instant is None else instant + self.mono_zero
            return False
        switches, outcomes = self.rules.advance(now)
        self._switched(switches)
        self._came_out(outcomes)
        return True

    def _step(self, given: Input) -> None:
        assert self.state is not None
        self.state, decision = step(self.building, self.state, self._now(), given)
        if decision.batch:
            for record in decision.records:
                self._stored(record)
            self.inputs.append(Stored(decision.batch, True))
        self._carry_out(decision)
        self.look = FAR
        if decision.look_again_utc is not None:
            self.look = decision.look_again_utc - self.shift
        if decision.look_again_mono is not None:
            self.look = min(self.look, decision.look_again_mono + self.mono_zero)

    def _carry_out(self, decision: Decision) -> None:
        if not (decision.plays or decision.at_once or decision.cancels or decision.amends):
            return
        assert self.rules is not None
        now = self._mono()
        self.hand_due = self.t  # so it is asked
        for cancel in decision.cancels:
            switches, outcomes = self.rules.cancel(cancel, now)
            self._switched(switches)
            self._came_out(outcomes)
        for play in (*decision.plays, *decision.at_once):
            beyond = play.start_mono + self.mono_zero >= self.script.until_utc
            if beyond and play.id in self.steps:
                continue  # the dials are judged at the end of the window
            refused = self.rules.take(play, now)
            if refused is None:
                self.out[play.id] = play
            else:
                self._came_out([refused])
        for amend in decision.amends:
            self.inputs.append(self.rules.amend(amend, now))

    def _came_out(self, outcomes: list[Outcome]) -> None:
        for outcome in outcomes:
            play = self.out.pop(outcome.play, None)
            if play is not None and outcome.how != "never_began":
                self._note_impulse(play, outcome)
            self.inputs.append(outcome)

    def _switched(self, switches: list[Switch]) -> None:
        """Contacts move, and the dials with them."""
        for switch in switches:
            kind, name = switch.circuit.split(".", 1)
            if switch.closed:
                self.closed_at[switch.circuit] = self.t
            elif kind == "lines":
                line = self.building.lines[name]
                polarity = "" if line.drive == "single" else "+-"[switch.relay]
                self.dials[name] = after_impulse(
                    self.dials[name],
                    polarity,  # type: ignore[arg-type]
                    self.t - self.closed_at.pop(switch.circuit),
                    line.impulse_ns,
                    line.positions,
                )

    # ── the store and the record ─────────────────────────────────────────────────────────────

    def _stored(self, record: Record) -> None:
        self.store[record.key] = record
        match record:
            case SoundingRow():
                if record.how == "begun":
                    self.soundings[record.play] = record
                elif self.soundings.pop(record.play, None) and record.how != "void":
                    end = record.start_mono + (record.edges[-1] if record.edges else 0)
                    self._note_ring(record, record.start_mono, end, cut=record.how == "cut")
            case LineRow(line, step=step_row) if step_row is not None:
                self.steps[step_row.play] = (line, step_row, record.shown)
            case MissRow(zone, _, due, why) if why:
                if due - self.shift < self.script.until_utc:
                    missed = MissedRecord(self.t, zone, due, why, self._clock(self.t))
                    self.noted.add(MISSED, self.zone_place.get(zone, 0), missed)
            case MissCount(rings=rings):
                self.noted.counts[MISSED] += rings
            case _:
                pass

    def _note_ring(self, row: SoundingRow, start: int, end: int, *, cut: bool) -> None:
        if not self._in_window(row):
            return
        at = start + self.mono_zero
        record = RingRecord(
            at, row.zone, row.due, end - start, row.says, cut, bool(row.by), self._clock(at)
        )
        self.noted.add(RING, self.zone_place.get(row.zone, 0), record)

    def _in_window(self, row: SoundingRow) -> bool:
        """Whether its first ring was due in the window, by the clock as it stood when it began."""
        began = row.start_mono + self.mono_zero
        return row.due - self._shift_at(began) < self.script.until_utc

    def _note_impulse(self, play: Play, outcome: Outcome) -> None:
        if play.id not in self.steps:
            return
        name, step_row, before = self.steps.pop(play.id)
        line = self.building.lines[name]
        at = outcome.start + self.mono_zero
        record = ImpulseRecord(
            at,
            name,
            step_row.polarity,
            self.faces[name][(before + step_row.counts) % line.positions],
            step_row.again,
            outcome.how == "cut",
            self._clock(at),
        )
        self.noted.add(IMPULSE, self.line_place[name], record)

    def _clock(self, at: int) -> int | None:
        shift = self._shift_at(at)
        return at + shift if shift else None

    def _shift_at(self, outside: int) -> int:
        for since, shift in reversed(self.shifts):
            if since <= outside:
                return shift
        return 0

    def _low_water(self) -> int:
        """Nothing that is still to be recorded can have begun before this."""
        first = self.t
        for play in self.out.values():
            first = min(first, play.start_mono + self.mono_zero)
        return first

    def end_record(self) -> EndRecord:
        """How it ended: the dials' own word, not the engine's; right by the system's clock."""
        civil, until = self.building.civil, self.script.until_utc
        last = until - 1 + self._shift_at(until - 1)
        lines = {}
        for name, line in self.building.lines.items():
            true = true_position(line, civil, last)
            shows = [dial.shows for dial in self.dials[name]]
            row = self.store["line", name]
            assert isinstance(row, LineRow)
            texts = tuple(dict.fromkeys(face_text(line, shown) for shown in shows))
            lines[name] = LineEnd(texts, all(shown == true for shown in shows), row.doubtful)
        counts = self.noted.counts
        return EndRecord(until, counts[RING], counts[IMPULSE], counts[MISSED], lines)
