"""A sounding that becomes another: a ring joins it, or the button that rings it is let go.

    stands ──ring by hand joins, button let go──▶ sent ──accepted──▶ stands, as amended
    stands ──ring of the timetable joins──▶ unsent ──its batch stored──▶ sent
                                                     sent ──too late──▶ stands, as before

A ring of the timetable is stored before the hand hears of it. Until then it can still be put off,
for neither a ring by hand nor the letting go of a button waits for a commit.
"""

from __future__ import annotations

from controller.engine.composing import edges_of, end_of, limited, row_of
from controller.engine.contract import Amend, Cancel
from controller.engine.soundings import let_wait, sounding_of, take_back, take_up
from controller.engine.state import Given, Sounding, Waiting
from controller.engine.supply import draw, supply_free
from controller.engine.turn import Turn
from controller.timetable.contact import cut_at

JOIN_NS = 50_000_000  # how far ahead a sounding under way can still be changed
_MOST_REFUSED = 5  # amendments, each told twice as far ahead; then it is left to its end


def join(turn: Turn, ring: Waiting, sounding: Sounding) -> None:
    """Let a ring join the sounding of its zone where their spans meet and the supply allows it."""
    put_off = sounding.joining if sounding.unsent and ring.by else None
    stands = _as_before(sounding) if put_off else sounding
    if stands.cancelling or stands.ended_by or stands.refused or stands.before is not None:
        return
    start = max(turn.mono_of(ring.due), turn.now.mono + JOIN_NS)
    if start > stands.end:
        return
    if start < min(stands.play.start_mono, turn.mono_of(stands.due)):
        # It comes before the first closing, which no amendment moves: both are judged afresh.
        take_back(turn, ring.zone, sounding)
        return
    joining = Given(ring, max(start, stands.play.start_mono))
    closed = turn.zones[ring.zone].closed
    closings, given, left_out = limited(turn, ring.zone, (*stands.rings, joining), closed)
    edges = edges_of(closings, stands.play.start_mono)
    if not given or (edges[-1] > stands.play.edges[-1] and not _extends(turn, ring, stands)):
        return
    grown = stands._replace(
        play=stands.play._replace(edges=edges),
        rings=given,
        left_out=(*stands.left_out, *left_out),
        short=stands.short or bool(left_out) or closings[-1][1] < end_of(joining),
    )
    take_up(turn, [ring])
    if put_off is not None:
        let_wait(turn, put_off.ring)
    if not ring.by:  # even where no edge changes it counts as given only once it is stored
        grown = grown._replace(joining=joining, before=stands, unsent=turn.batch)
    elif edges != stands.play.edges:
        grown = grown._replace(joining=joining, before=stands)
        turn.amends.append(Amend(grown.play.id, edges))
    _keep(turn, ring.zone, grown)


def _extends(turn: Turn, ring: Waiting, sounding: Sounding) -> bool:
    """Whether the supply carries this zone on beyond the end of its sounding."""
    if turn.building.bell_amps is None or draw(turn, ring.zone) == 0:
        return True
    return supply_free(turn, ring.zone, sounding.end) == sounding.end


def _keep(turn: Turn, name: str, sounding: Sounding) -> None:
    turn.zones[name] = turn.zones[name]._replace(sounding=sounding)
    turn.store(row_of(turn, name, sounding))


def _as_before(sounding: Sounding) -> Sounding:
    """What stands where an amendment under way is not to be."""
    assert sounding.before is not None
    return sounding.before._replace(
        cancelling=sounding.cancelling,
        ended_by=sounding.ended_by,
        batch=sounding.batch,
        late=sounding.late,
    )


def amendment_stored(turn: Turn, name: str, sounding: Sounding) -> None:
    """The hand may hear of the ring of the timetable that joins."""
    assert sounding.before is not None
    after = sounding._replace(unsent=0)
    if after.play.edges == sounding.before.play.edges:
        after = after._replace(joining=None, before=None)
    else:
        turn.amends.append(Amend(after.play.id, after.play.edges))
    turn.zones[name] = turn.zones[name]._replace(sounding=after)


def amended(turn: Turn, play: int, accepted: bool) -> None:
    """The hand's word on an amendment; too late, and the ring waits for a sounding of its own."""
    found = sounding_of(turn, play)
    if found is None or found[1].before is None or found[1].unsent:
        return
    name, sounding = found
    if accepted:
        after = sounding._replace(joining=None, before=None)
        turn.zones[name] = turn.zones[name]._replace(sounding=after)
    else:
        unheard(turn, name, sounding)
    shorten(turn, name)


def unheard(turn: Turn, name: str, sounding: Sounding) -> Sounding:
    """The hand did not take an amendment: what stood before goes on, and nothing joins it."""
    after = _as_before(sounding)._replace(refused=sounding.refused + 1)
    if sounding.joining is not None:
        let_wait(turn, sounding.joining.ring)
    _keep(turn, name, after)
    return after


# ── a button is let go ───────────────────────────────────────────────────────────────────────────


def let_go(turn: Turn) -> None:
    """Rings of buttons that are no longer pressed end; what else sounds in their zones goes on."""
    for ring in [ring for ring in turn.waiting if turn.was_let_go(ring.by)]:
        turn.waiting.remove(ring)
        turn.note(ring.by, "let go before it could ring")
    for name in turn.zones:
        shorten(turn, name)


def shorten(turn: Turn, name: str) -> None:
    """End the rings of buttons that are no longer pressed, once the hand has spoken of what is
    under way.
    """
    sounding = turn.zones[name].sounding
    if sounding is None or sounding.ended_by or (sounding.before and not sounding.unsent):
        return
    if sounding.refused >= _MOST_REFUSED:
        return
    stands = _as_before(sounding) if sounding.unsent else sounding
    soon = turn.now.mono + (JOIN_NS << stands.refused)
    begun = not stands.batch and stands.play.start_mono < soon
    until = soon - stands.late
    rings = [cut for one in stands.rings if (cut := _let_go_at(turn, one, until, begun=begun))]
    if rings == list(stands.rings):
        return
    if sounding.joining is not None:
        let_wait(turn, sounding.joining.ring)
    if not rings or (begun and stands.refused and not _others_sound(turn, stands)):
        _keep(turn, name, stands._replace(rings=tuple(rings), ended_by="let go"))
        turn.cancels.append(Cancel(stands.play.id, stop=True))
    elif min(one.start for one in rings) > stands.play.start_mono:  # which no amendment moves
        take_back(turn, name, stands._replace(rings=tuple(rings)))
    else:
        _amend_now(turn, name, stands, rings)


def _others_sound(turn: Turn, sounding: Sounding) -> bool:
    """Whether anything sounds on there beside what was let go."""
    now = turn.now.mono - sounding.late
    return any(end_of(one) > now for one in sounding.rings if not turn.was_let_go(one.ring.by))


def _let_go_at(turn: Turn, one: Given, until: int, *, begun: bool) -> Given | None:
    """What of a ring in a sounding is still to sound; None where nothing is."""
    if not turn.was_let_go(one.ring.by) or (begun and end_of(one) <= until):
        return one
    if not begun or one.start >= until:
        return None
    closings = cut_at(one.ring.closings, until - one.start)
    return Given(one.ring._replace(closings=closings), one.start)


def _amend_now(turn: Turn, name: str, stands: Sounding, rings: list[Given]) -> None:
    """The sounding ends sooner, or has a gap; rings for which it had ended too early wait again."""
    closings, given, left_out = limited(turn, name, rings, turn.zones[name].closed)
    if not given:  # a limit is lower now than when it began: the hand ends it there
        return
    for left in stands.left_out:
        let_wait(turn, left.ring)
    stands = stands._replace(left_out=())
    edges = edges_of(closings, stands.play.start_mono)
    after = stands._replace(
        play=stands.play._replace(edges=edges),
        rings=given,
        left_out=left_out,
        short=bool(left_out) or closings[-1][1] < max(end_of(one) for one in rings),
    )
    if edges != stands.play.edges:
        after = after._replace(before=stands)
        turn.amends.append(Amend(after.play.id, edges))
    _keep(turn, name, after)
