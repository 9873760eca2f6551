"""What somebody asked for: who does it, and the orders that change what the timetable rings."""

from __future__ import annotations

from datetime import date, timedelta

from controller.building.durations import DAY
from controller.building.values import NO_RINGS, USUAL
from controller.engine import wishes
from controller.engine.bells import take_back_unbegun
from controller.engine.contract import Order
from controller.engine.faults import acknowledge
from controller.engine.line_orders import obey_for_line
from controller.engine.records import FollowRow, QuietRow
from controller.engine.ringing import ring_by_hand, stop_all, unknown_zones
from controller.engine.soundings import end_sounding
from controller.engine.trust import take_word
from controller.engine.turn import Turn

LONGEST_QUIET_NS = 400 * DAY
COUNTED_NS = 14 * DAY  # as far ahead as an answer counts rings
MOST_FOLLOWED = 366  # dates with an order of their own


def obey(turn: Turn, order: Order) -> None:
    """Do what an order asks and answer it, in words."""
    match order.what:
        case wishes.RingByHand():
            ring_by_hand(turn, order)
        case wishes.StopAll():
            stop_all(turn, order)
        case wishes.QuietZones(zones, until):
            _quiet(turn, order, zones, until)
        case wishes.Follow(day, plan):
            _follow(turn, order, day, plan)
        case wishes.TrustClock():
            take_word(turn, order)
        case wishes.Acknowledge(name):
            acknowledge(turn, order, name)
        case wishes.Noted(text):
            turn.note(order.who, text)
            turn.answer(order.id, "Noted.")
        case wishes.Finish():
            turn.store_owed = True
            turn.answer(order.id, "What was owed to the store is stored.")
        case _:
            obey_for_line(turn, order)


def _quiet(turn: Turn, order: Order, zones: tuple[str, ...], until: int) -> None:
    unknown = [name for name in zones if name not in turn.building.zones]
    if unknown:
        turn.refuse(order.id, unknown_zones(turn, unknown))
        return
    when = _day_and_time(turn, until)
    if until and until <= turn.now.utc:
        turn.refuse(order.id, f"{when} is past.")
        return
    if until > turn.now.utc + LONGEST_QUIET_NS:
        turn.refuse(order.id, f"{when} is too far away; expected within 400 days.")
        return
    for name in zones:
        turn.zones[name] = turn.zones[name]._replace(quiet_until=until)
        turn.store(QuietRow(name, until, order.who))
        if until:
            end_sounding(turn, name, "quiet")
    which = ", ".join(zones)
    text = f"{which}: quiet until {when}." if until else f"{which}: rings again."
    turn.note(order.who, text)
    turn.answer(order.id, text + _coming_rings(turn, zones, until))


def _coming_rings(turn: Turn, zones: tuple[str, ...], until: int) -> str:
    """How many rings an order `quiet` silences, and which comes next in these zones."""
    start, table = turn.now.utc, turn.timetable
    said = ""
    if until:
        soon = min(until, start + COUNTED_NS)
        silenced = sum(ring.zone in zones for ring in table.window(start, soon))
        days = " in the next 14 days" if until > soon else ""
        said = f" Rings silenced{days}: {silenced}."
    dues = [next((r.due for r in table.upcoming_of(z, max(start, until))), None) for z in zones]
    after = min((due for due in dues if due is not None), default=None)
    return said if after is None else f"{said} Next ring there: {_day_and_time(turn, after)}."


def _day_and_time(turn: Turn, utc: int) -> str:
    return f"{turn.building.civil.aware(utc):%a %d %b %Y %H:%M}"


def _follow(turn: Turn, order: Order, day: date, plan: str) -> None:
    if plan not in (NO_RINGS, USUAL, *turn.building.plans):
        plans = ", ".join((NO_RINGS, USUAL, *turn.building.plans))
        turn.refuse(order.id, f"There is no plan {plan}; expected {plans}.")
        return
    today = turn.building.civil.date_at(turn.now.utc)
    if turn.now.trusted and day < today:
        turn.refuse(order.id, f"{day:%a %d %b %Y} is past.")
        return
    _forget_past_dates(turn, today)
    iso = day.isoformat()
    kept = tuple((its, name) for its, name in turn.follow if its != iso)
    if len(kept) >= MOST_FOLLOWED and plan != USUAL:
        turn.refuse(order.id, f"{MOST_FOLLOWED} dates have an order of their own already.")
        return
    turn.follow = kept if plan == USUAL else (*kept, (iso, plan))
    turn.store(FollowRow(iso, plan, order.who))
    text = f"{iso} follows {plan}" if plan != USUAL else f"{iso}: the one-off order is taken back"
    turn.note(order.who, text)
    turn.replan()
    take_back_unbegun(turn)
    turn.answer(order.id, f"{text}. {_rings_of(turn, day)}")


def _forget_past_dates(turn: Turn, today: date) -> None:
    """Orders for dates that are over say nothing any more."""
    yesterday = (today - timedelta(days=1)).isoformat()  # a night belongs to the day it began on
    for iso, _ in turn.follow:
        if turn.now.trusted and iso < yesterday:
            turn.store(FollowRow(iso, USUAL, ""))
    if turn.now.trusted:
        turn.follow = tuple(one for one in turn.follow if one[0] >= yesterday)


def _rings_of(turn: Turn, day: date) -> str:
    """What rings on a date, in a few words."""
    rings = turn.timetable.day(day).rings
    if not rings:
        return f"No ring on {day:%a %d %b}."
    first, last = (turn.building.civil.aware(ring.due) for ring in (rings[0], rings[-1]))
    return f"{len(rings)} rings on {day:%a %d %b}, from {first:%H:%M} to {last:%H:%M}."
