"""How rings become soundings.

    timetable ──lead before due──▶ waiting ──stored, sent──▶ sounding ──outcome──▶ given
                                   waiting ──grace past, quiet, a limit──▶ missed
                                                             sounding ──never_began──▶ waiting

- A ring enters once; identities (zone, date and time as written) are never given twice.
- Waiting rings start strictly in order of (due, place in the file); none that draws on the supply
  overtakes another. One not begun within grace of its due instant is missed.
- Rings of a zone whose spans, as given, overlap or touch are one sounding and one play; the limits
  `longest` and `a_minute` may end it early; its rings not begun by then are missed.
"""

from __future__ import annotations

from collections.abc import Iterable

from controller.engine.composing import (
    chain,
    closings_of,
    edges_of,
    end_of,
    limited,
    row_of,
)
from controller.engine.contract import Outcome, Play
from controller.engine.growing import amendment_stored, join, unheard
from controller.engine.senses import supply_bears
from controller.engine.soundings import let_wait, take_back, take_up, unbegun
from controller.engine.state import Given, Sounding, Waiting, ZoneState
from controller.engine.supply import draw, supply_free
from controller.engine.turn import Turn
from controller.timetable.contact import MINUTE, Closing, cut_at

RETRY_NS = 1_000_000_000  # after the hand refused a play


def start_soundings(turn: Turn) -> None:
    """Let every waiting ring begin that may, in order; settle those that no longer can."""
    if not turn.waiting:
        return
    places = {name: number for number, name in enumerate(turn.building.zones)}
    not_before = 0  # mono: a ring that waits for the supply holds back those behind it
    for ring in sorted(turn.waiting, key=lambda w: (w.due, places.get(w.zone, 0), w.written)):
        if ring in turn.waiting:  # it may have gone with the sounding of one before it
            not_before = _consider(turn, ring, not_before)


def _consider(turn: Turn, ring: Waiting, not_before: int) -> int:
    """Begin, keep or settle one waiting ring; return what those behind it must wait for (mono)."""
    now = turn.now
    zone = turn.zones[ring.zone]
    if ring.by and ring.due > now.utc:  # the clock was set back: a ring by hand is for now
        ring = _replace(turn, ring, ring._replace(due=now.utc))
    deadline = ring.due + turn.building.clock.grace_ns
    if not (now.trusted or ring.by):
        return not_before
    silenced = _silenced_by(turn, ring, zone)
    if silenced:
        if now.utc >= ring.due:
            _settle(turn, ring, silenced)
        else:
            turn.look_again_utc(ring.due)
        return not_before
    if now.utc > deadline:
        _settle(turn, ring, _why_late(turn, ring))
        return not_before
    turn.look_again_utc(deadline if now.utc < deadline else deadline + 1)
    if turn.hand is None:
        return not_before
    if not supply_bears(turn):
        if not ring.waited:
            _replace(turn, ring, ring._replace(waited=True))
        return not_before
    if ring.not_before > now.mono:  # not even ahead of time: a hand that refuses, refuses at once
        turn.look_again_mono(ring.not_before)
        return not_before
    start = max(now.mono, turn.mono_of(ring.due))
    if zone.sounding is not None:
        join(turn, ring, zone.sounding)
        return not_before
    latest = turn.mono_of(deadline)
    if draw(turn, ring.zone) > 0 and turn.building.bell_amps is not None:
        wanted = max(start, not_before)
        fits = supply_free(turn, ring.zone, wanted)
        not_before = min(latest, latest if fits is None else fits)
        if fits is None or fits > start:
            ring = _replace(turn, ring, ring._replace(waited=True))
        start = latest + 1 if fits is None else fits
    if start > latest:
        if now.utc >= deadline:
            _settle(turn, ring, _why_late(turn, ring))
    elif start > now.mono + turn.building.clock.lead_ns:
        turn.look_again_mono(start - turn.building.clock.lead_ns)
    else:
        _begin(turn, ring, zone, start)
    return not_before


def _silenced_by(turn: Turn, ring: Waiting, zone: ZoneState) -> str:
    """Why this ring is not to sound though its time comes; "" where it is."""
    if turn.switched_off(ring.zone):
        return "panel"
    if not ring.by and zone.quiet_until > max(turn.now.utc, ring.due):
        return "quiet"
    return ""


def _replace(turn: Turn, ring: Waiting, by: Waiting) -> Waiting:
    turn.waiting[turn.waiting.index(ring)] = by
    return by


def _settle(turn: Turn, ring: Waiting, why: str) -> None:
    turn.waiting.remove(ring)
    turn.miss(ring, why)


def _why_late(turn: Turn, ring: Waiting) -> str:
    if ring.waited:
        return "supply"
    return "relay" if ring.refused else why_missed(turn, ring.due)


def why_missed(turn: Turn, due: int) -> str:
    """Why nobody rang what was due then: the daemon was off, the clock untrusted, or just late."""
    if turn.off_until is not None and due < turn.off_until:
        return "off"
    if turn.trusted_from is None or due < turn.trusted_from:
        return "untrusted"
    return "late"


# ── a new sounding ───────────────────────────────────────────────────────────────────────────────


def _begin(turn: Turn, ring: Waiting, zone: ZoneState, start: int) -> None:
    rings = [Given(ring, start)] if ring.by else chain(turn, ring, start)
    closings, given, left_out = limited(turn, ring.zone, rings, zone.closed)
    if not closings:
        if turn.now.mono >= start:
            _settle(turn, ring, left_out[0].why)
        else:
            turn.look_again_mono(start)
        return
    assert turn.hand is not None
    latest = turn.mono_of(ring.due + turn.building.clock.grace_ns)
    play = Play(
        turn.new_play(),
        turn.hand,
        f"zones.{ring.zone}",
        0,
        start,
        max(latest, start),
        edges_of(closings, start),
    )
    sounding = Sounding(
        play,
        min(one.ring.due for one in given),
        turn.utc_of(start),
        given,
        left_out,
        short=bool(left_out) or closings[-1][1] < max(end_of(one) for one in rings),
    )
    take_up(turn, (*(g.ring for g in given), *(left.ring for left in left_out)))
    if all(one.ring.by for one in given):
        turn.at_once.append(play)
    else:
        turn.plays.append(play)
        sounding = sounding._replace(batch=turn.batch)
    turn.zones[ring.zone] = zone._replace(sounding=sounding)
    turn.store(row_of(turn, ring.zone, sounding))


def stored(turn: Turn, batch: int) -> None:
    """What waited for this batch goes to the hand: a play, or a ring that joins one.

    A play that had to wait beyond its start begins now, and ends as much later.
    """
    for name, zone in turn.zones.items():
        sounding = zone.sounding
        if sounding is None:
            continue
        if sounding.batch == batch:
            late = max(0, turn.now.mono - sounding.play.start_mono)
            sounding = sounding._replace(batch=0, late=late)
            turn.zones[name] = zone._replace(sounding=sounding)
        if sounding.unsent == batch:
            amendment_stored(turn, name, sounding)


def take_back_unbegun(turn: Turn) -> None:
    """The timetable was changed: what has not begun is judged afresh, as it is written now."""
    for name, zone in turn.zones.items():
        sounding = zone.sounding
        if sounding is None or sounding.cancelling or not unbegun(turn, sounding):
            continue
        if not all(one.ring.by for one in sounding.rings):
            take_back(turn, name, sounding)


# ── the end of a sounding ────────────────────────────────────────────────────────────────────────


def sounding_ended(turn: Turn, name: str, sounding: Sounding, outcome: Outcome) -> None:
    """The hand's word on a sounding: given, cut, or never begun and so judged afresh."""
    zone = turn.zones[name]
    if outcome.how == "never_began":
        _never_began(turn, name, sounding)
        return
    if sounding.before is not None and _before_it_heard(sounding, sounding.before, outcome):
        sounding = unheard(turn, name, sounding)
    closings = cut_at(closings_of(sounding.play.edges, outcome.start), outcome.end)
    begun = outcome.start - sounding.play.start_mono  # a late play shifts whole
    given = [one for one in sounding.rings if one.start + begun < outcome.end]
    unbegun = [one.ring for one in sounding.rings if one.start + begun >= outcome.end]
    turn.zones[name] = zone._replace(
        sounding=None, closed=(*_of_last_minute(zone.closed, outcome.end), *closings)
    )
    cut = outcome.how == "cut" and sounding.ended_by != "let go"
    cut = cut or sounding.short or turn.supply_failed(outcome)
    ended = sounding._replace(rings=tuple(given), start_utc=turn.utc_of(outcome.start))
    turn.store(
        row_of(turn, name, ended)._replace(
            start_mono=outcome.start,
            edges=edges_of(closings, outcome.start),
            how="cut" if cut else "done",
        )
    )
    for ring in unbegun:
        turn.miss(ring, sounding.ended_by or "relay")
    for left in sounding.left_out:
        turn.miss(left.ring, left.why)


def _before_it_heard(sounding: Sounding, before: Sounding, outcome: Outcome) -> bool:
    """Whether it ended before the hand heard of the amendment under way."""
    if sounding.unsent:
        return True
    if outcome.how == "cut":
        return False
    lasted = outcome.end - outcome.start
    if sounding.joining is not None:
        return lasted < sounding.play.edges[-1]
    return lasted >= before.play.edges[-1]


def _never_began(turn: Turn, name: str, sounding: Sounding) -> None:
    """Void it in the store and judge its rings afresh."""
    turn.zones[name] = turn.zones[name]._replace(sounding=None)
    turn.store(row_of(turn, name, sounding)._replace(how="void"))
    stopped = sounding.ended_by
    rings = [one.ring for one in sounding.rings] + [left.ring for left in sounding.left_out]
    for ring in rings:
        if ring.by and stopped:
            continue
        if not ring.by:
            turn.forget_given([(ring.zone, ring.written)])
            still_due = turn.as_written_now(ring)
            if still_due is None:
                continue
            ring = still_due
        if not sounding.cancelling and not stopped:
            ring = ring._replace(refused=True, not_before=turn.now.mono + RETRY_NS)
        let_wait(turn, ring)


def _of_last_minute(closings: Iterable[Closing], now: int) -> tuple[Closing, ...]:
    return tuple(closing for closing in closings if closing[1] > now - MINUTE)


def cancel_misplanned(turn: Turn) -> None:
    """Take back every sounding that has not begun and was planned on a clock stepped since."""
    for name, zone in turn.zones.items():
        sounding = zone.sounding
        if sounding is None or sounding.cancelling or all(one.ring.by for one in sounding.rings):
            continue
        planned = sounding.start_utc, sounding.play.start_mono
        if unbegun(turn, sounding) and turn.stepped(*planned):
            take_back(turn, name, sounding)
