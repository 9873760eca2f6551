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

from controller.building.closings import Closings
from controller.engine.composing import (
    chain,
    closings_of,
    edges_of,
    end_of,
    limited,
    row_of,
)
from controller.engine.contract import Amend, Cancel, Outcome, Play
from controller.engine.state import Given, Sounding, Waiting, ZoneState
from controller.engine.supply import draw, supply_free
from controller.engine.turn import Turn
from controller.timetable.contact import MINUTE, Closing, cut_at

JOIN_NS = 50_000_000  # how far ahead a sounding under way can still be changed
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
    if not turn.supply_there:
        _replace(turn, ring, ring._replace(waited=True))
        return not_before
    if ring.not_before > now.mono:  # not even ahead of time: a hand that refuses, refuses at once
        turn.look_again_mono(ring.not_before)
        return not_before
    start = max(now.mono, turn.mono_of(ring.due))
    if zone.sounding is not None:
        _join(turn, ring, zone, zone.sounding)
        return not_before
    latest = turn.mono_of(deadline)
    if draw(turn, ring.zone) > 0 and turn.building.bell_amps is not None:
        wanted = max(start, not_before)
        fits = supply_free(turn, ring.zone, wanted)
        not_before = min(latest, latest if fits is None else fits)
        if fits is None or fits > start:
            _replace(turn, ring, ring._replace(waited=True))
            ring = ring._replace(waited=True)
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


def _replace(turn: Turn, ring: Waiting, by: Waiting) -> None:
    turn.waiting[turn.waiting.index(ring)] = by


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
    _take_up(turn, (*(g.ring for g in given), *(left.ring for left in left_out)))
    if all(one.ring.by for one in given):
        turn.at_once.append(play)
    else:
        turn.plays.append(play)
        sounding = sounding._replace(batch=turn.batch)
    turn.zones[ring.zone] = zone._replace(sounding=sounding)
    turn.store(row_of(turn, ring.zone, sounding))


def stored(turn: Turn, batch: int) -> None:
    """A play that had to wait for the store beyond its start begins now, and ends as much later."""
    for name, zone in turn.zones.items():
        sounding = zone.sounding
        if sounding is not None and sounding.batch == batch:
            late = max(0, turn.now.mono - sounding.play.start_mono)
            turn.zones[name] = zone._replace(sounding=sounding._replace(batch=0, late=late))


def _take_up(turn: Turn, rings: Iterable[Waiting]) -> None:
    """These rings belong to a sounding now: they wait no longer and enter no second time."""
    taken = list(rings)
    turn.waiting = [ring for ring in turn.waiting if ring not in taken]
    turn.remember_given((ring.zone, ring.written) for ring in taken if not ring.by)
    for ring in taken:
        turn.withdraw_miss(ring)


# ── a sounding that grows ────────────────────────────────────────────────────────────────────────


def _join(turn: Turn, ring: Waiting, zone: ZoneState, sounding: Sounding) -> None:
    """Let a ring join the sounding of its zone where their spans meet and the supply allows it."""
    if sounding.cancelling or sounding.ended_by or sounding.before is not None:
        return
    start = max(turn.mono_of(ring.due), turn.now.mono + JOIN_NS)
    if start > sounding.end or sounding.too_late:
        return
    if start < min(sounding.play.start_mono, turn.mono_of(sounding.due)):
        # It comes before the first closing, which no amendment moves: both are judged afresh.
        take_back(turn, ring.zone, sounding)
        return
    start = max(start, sounding.play.start_mono)
    joining = Given(ring, start)
    closings, given, left_out = limited(turn, ring.zone, (*sounding.rings, joining), zone.closed)
    edges = edges_of(closings, sounding.play.start_mono)
    if not given or (edges[-1] > sounding.play.edges[-1] and not _extends(turn, ring, sounding)):
        return
    grown = sounding._replace(
        play=sounding.play._replace(edges=edges),
        rings=given,
        left_out=(*sounding.left_out, *left_out),
        short=sounding.short or bool(left_out) or closings[-1][1] < end_of(joining),
    )
    changes = edges != sounding.play.edges
    if changes:
        grown = grown._replace(joining=joining, before=sounding)
    _take_up(turn, [ring])
    turn.zones[ring.zone] = zone._replace(sounding=grown)
    turn.store(row_of(turn, ring.zone, grown))
    if changes:
        amends = turn.amends_at_once if ring.by else turn.amends
        amends.append(Amend(grown.play.id, edges))


def amend_now(
    turn: Turn, name: str, sounding: Sounding, closings: Closings, rings: tuple[Given, ...]
) -> None:
    """Let a sounding end sooner: a ring by hand of it is over."""
    edges = edges_of(closings, sounding.play.start_mono)
    if edges == sounding.play.edges:
        return
    play = sounding.play._replace(edges=edges)
    after = sounding._replace(play=play, rings=rings, before=sounding)
    turn.zones[name] = turn.zones[name]._replace(sounding=after)
    turn.store(row_of(turn, name, after))
    turn.amends_at_once.append(Amend(play.id, edges))


def _extends(turn: Turn, ring: Waiting, sounding: Sounding) -> bool:
    """Whether the supply carries this zone on beyond the end of its sounding."""
    if turn.building.bell_amps is None or draw(turn, ring.zone) == 0:
        return True
    return supply_free(turn, ring.zone, sounding.end) == sounding.end


def amended(turn: Turn, play: int, accepted: bool) -> None:
    """The hand's word on an amendment; too late, and the ring waits for a sounding of its own."""
    found = sounding_of(turn, play)
    if found is None or found[1].before is None:
        return
    name, sounding = found
    if accepted:
        after = sounding._replace(joining=None, before=None)
    else:
        assert sounding.before is not None
        after = sounding.before._replace(
            cancelling=sounding.cancelling,
            ended_by=sounding.ended_by,
            batch=sounding.batch,
            late=sounding.late,
            let_go=sounding.let_go,
            too_late=True,
        )
        if sounding.joining is not None:
            _back_to_waiting(turn, sounding.joining.ring)
        turn.store(row_of(turn, name, after))
    turn.zones[name] = turn.zones[name]._replace(sounding=after)


def _back_to_waiting(turn: Turn, ring: Waiting) -> None:
    turn.forget_given([(ring.zone, ring.written)] if not ring.by else [])
    turn.waiting.append(ring)


def take_back_unbegun(turn: Turn) -> None:
    """The timetable was changed: what has not begun is judged afresh, as it is written now."""
    for name, zone in turn.zones.items():
        sounding = zone.sounding
        if sounding is None or sounding.cancelling or sounding.play.start_mono <= turn.now.mono:
            continue
        if not all(one.ring.by for one in sounding.rings):
            take_back(turn, name, sounding)


# ── the end of a sounding ────────────────────────────────────────────────────────────────────────


def sounding_of(turn: Turn, play: int) -> tuple[str, Sounding] | None:
    """The zone and sounding to which a play belongs."""
    for name, zone in turn.zones.items():
        if zone.sounding is not None and zone.sounding.play.id == play:
            return name, zone.sounding
    return None


def sounding_ended(turn: Turn, name: str, sounding: Sounding, outcome: Outcome) -> None:
    """The hand's word on a sounding: given, cut, or never begun and so judged afresh."""
    zone = turn.zones[name]
    if outcome.how == "never_began":
        _never_began(turn, name, sounding)
        return
    if sounding.before is not None and outcome.how == "done":
        lasted = outcome.end - outcome.start
        grows = sounding.joining is not None
        if lasted < sounding.play.edges[-1] if grows else lasted >= sounding.before.play.edges[-1]:
            # It ended before the hand heard of the amendment.
            amended(turn, sounding.play.id, accepted=False)
            zone = turn.zones[name]
            assert zone.sounding is not None
            sounding = zone.sounding
    closings = cut_at(closings_of(sounding.play.edges, outcome.start), outcome.end)
    begun = outcome.start - sounding.play.start_mono  # a late play shifts whole
    given = [one for one in sounding.rings if one.start + begun < outcome.end]
    unbegun = [one.ring for one in sounding.rings if one.start + begun >= outcome.end]
    turn.zones[name] = zone._replace(
        sounding=None, closed=(*_of_last_minute(zone.closed, outcome.end), *closings)
    )
    cut = outcome.how == "cut" or sounding.short or turn.supply_failed(outcome)
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
        _back_to_waiting(turn, ring)


def _of_last_minute(closings: Iterable[Closing], now: int) -> tuple[Closing, ...]:
    return tuple(closing for closing in closings if closing[1] > now - MINUTE)


def cancel_misplanned(turn: Turn) -> None:
    """Take back every sounding that has not begun and was planned on a clock stepped since."""
    for name, zone in turn.zones.items():
        sounding = zone.sounding
        if sounding is None or sounding.cancelling or all(one.ring.by for one in sounding.rings):
            continue
        if turn.stepped(sounding.start_utc, sounding.play.start_mono):
            take_back(turn, name, sounding)


def take_back(turn: Turn, name: str, sounding: Sounding) -> None:
    """Cancel a play that has not begun; what it was for is judged afresh."""
    turn.zones[name] = turn.zones[name]._replace(sounding=sounding._replace(cancelling=True))
    turn.cancels.append(Cancel(sounding.play.id, stop=False))


def end_sounding(turn: Turn, name: str, why: str) -> bool:
    """Open a zone's contact before its time; whether there was a sounding to end."""
    zone = turn.zones[name]
    if zone.sounding is None:
        return False
    turn.zones[name] = zone._replace(sounding=zone.sounding._replace(ended_by=why))
    turn.cancels.append(Cancel(zone.sounding.play.id, stop=True))
    return True
