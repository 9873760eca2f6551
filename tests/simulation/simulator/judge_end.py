"""What must be once things are in order again: dials right, and every due ring accounted for.

    given once, whole or cut · or missed, with a reason · or logged as cut

Exempt, by name and counted: what was given and could not be stored before the power went.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import words
from simulator.words import HOUR, MILLISECOND, MINUTE, SECOND, Violation

if TYPE_CHECKING:
    from simulator.judge import Judge

SETTLES_NS = 2 * HOUR + 40 * MINUTE  # the longest wait, and a catch-up once round


def look_at_dials(judge: Judge) -> None:
    """Where nothing has been the matter for long enough, every dial is right."""
    world = judge.world
    if world.touched(world.t - SETTLES_NS, world.t) or not judge.trusted:
        return
    program, utc = judge.program, world.utc
    if program.offset(utc) != program.offset(utc - SETTLES_NS):
        return
    for name in program.lines:
        _look_at_line(judge, name)


def _look_at_line(judge: Judge, name: str) -> None:
    line, daemon = judge.lines[name], judge.world.daemon
    if line.held or line.unread or line.exempt or daemon is None or line.closed is not None:
        return
    row = daemon.state.lines[name].row
    if not row.read:
        return  # a line that is new in the file: it stands and asks
    if line.rules.alternating and row.doubtful and not row.polarity_known:
        raise Violation("an alternating line is right", f"{name} is doubtful: {row}")
    if row.doubtful or line.right():
        return
    kind = "an alternating" if line.rules.alternating else "a single"
    says = f"{name} shows {line.look()}, true is {line.true()}, believed {row}"
    raise Violation(f"{kind} line is right", says)


def account_for(judge: Judge, start: int, end: int) -> dict[str, int]:
    """Every ring due by the right clock in the span is accounted for; how many of each kind."""
    counts = {"given": 0, "cut": 0, "missed": 0, "loose": 0}
    world = judge.world
    ledger = judge.ledger
    missed, begun, spans = ledger.ever_missed(), ledger.ever_begun(), ledger.counted()
    missed_now = ledger.missed()
    for ring in judge.program.between(start + world.clock.shift, end + world.clock.shift, {}):
        if ledger.need_not_know(ring.due) or not _firm(judge, ring.zone, ring.written):
            counts["loose"] += 1
            continue
        identity = ring.zone, ring.written
        if identity in judge.given:
            counts["given"] += 1
            not_told = judge.exempt_rings, judge.stuck_rings, ledger.forgotten
            excused = any(identity in some for some in not_told)
            if identity in missed_now and not excused:
                raise Violation("given or missed, not both", f"{ring}")
        elif identity in begun:
            counts["cut"] += 1
        elif identity in missed or any(a <= ring.due <= b for a, b in spans):
            counts["missed"] += 1
        else:
            raise Violation("every due ring is accounted for", f"nothing is known of {ring}")
    return counts


def _firm(judge: Judge, zone: str, written: str) -> bool:
    """Whether every file that was there has this ring, and no order ever changed its date."""
    if any(written[:10] == day for day in judge.people.ever_followed):
        return False
    return all(p.ring(zone, written, {}) is not None for p in judge.programs_seen)


def look_at_bells(judge: Judge, since: int) -> None:
    """On the quiet day every ring of the timetable was given, in time and whole."""
    world = judge.world
    end = world.t - judge.program.grace - 10 * SECOND
    for ring in judge.program.between(
        since + world.clock.shift, end + world.clock.shift, judge.follow
    ):
        outside = ring.due - world.clock.shift
        if world.touched(outside - 2 * MINUTE, outside + 2 * MINUTE, words.FILE, words.PEOPLE):
            continue
        if (ring.zone, ring.written) in judge.given or _limits_could_end(judge, ring):
            continue
        raise Violation("a quiet day gives every ring", f"{ring} was not given")


def _limits_could_end(judge: Judge, ring) -> bool:
    """Whether others of its zone, or the supply, could have been in its way."""
    near = judge.program.between(ring.due - MINUTE, ring.due + MINUTE, judge.follow)
    others = [one for one in near if one.written != ring.written or one.zone != ring.zone]
    same = any(one.zone == ring.zone for one in others)
    return same or (judge.program.amps is not None and bool(others))


def nothing_is_out(judge: Judge) -> None:
    """At the very end no relay is closed that should not be."""
    for zone in judge.zones.values():
        limit = zone.rules.longest + 100 * MILLISECOND
        if zone.since is not None and judge.world.t - zone.since > limit:
            raise Violation("no closing beyond `longest`", f"{zone.name} sounds on at the end")
