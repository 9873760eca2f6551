"""What the page Now shows of a picture of the state: plain data, each thing with its acts."""

from __future__ import annotations

from datetime import datetime
from typing import Any, NamedTuple
from urllib.parse import urlencode

from controller.building.civil import utc_ns
from controller.building.durations import MILLISECOND
from controller.page.act_words import ALL, Link, link_to
from controller.pictures.spoken import day_text, in_how_long
from controller.service.state_words import (
    Picture,
    clock_words,
    coming_rings,
    headline,
    moment,
    short_moment,
    unsettled,
)


class Next(NamedTuple):
    """Rings that come together. `due` is in ms since 1970, for the script that counts down."""

    due: int
    at: str
    away: str
    zones: str
    seconds: str
    says: str


class Thing(NamedTuple):
    """A zone, a line, a fault: what it is called, how it stands, and what can be done."""

    name: str
    title: str
    state: str
    says: tuple[str, ...]
    acts: tuple[Link, ...] = ()


class NowShown(NamedTuple):
    """All of it."""

    well: bool
    headline: str
    building: str
    now: int  # ms since 1970
    clock: str  # HH:MM:SS
    day: str
    timezone: str
    trust: str
    trusted: bool
    next: tuple[Next, ...]
    settle: tuple[Thing, ...]
    zones: tuple[Thing, ...]
    all_zones: tuple[Link, ...]
    lines: tuple[Thing, ...]
    supply: str
    faults: tuple[Thing, ...]
    follow: tuple[Thing, ...]


def now_shown(picture: Picture) -> NowShown:
    """Raises `KeyError`, `TypeError` or `ValueError` for a picture of another version."""
    local = datetime.fromisoformat(picture["at"])
    zones = tuple(_zone(name, zone) for name, zone in picture["zones"].items())
    return NowShown(
        well=picture["well"],
        headline=headline(picture),
        building=picture["building"] or "Now",
        now=picture["at_utc"] // MILLISECOND,
        clock=f"{local:%H:%M:%S}",
        day=day_text(local.date()),
        timezone=picture["timezone"],
        trust=clock_words(picture["clock"]),
        trusted=picture["clock"]["trusted"],
        next=_next(picture),
        settle=_settle(picture),
        zones=zones,
        all_zones=_all_zones(picture),
        lines=tuple(_line(name, line, picture) for name, line in picture["lines"].items()),
        supply=_supply(picture),
        faults=tuple(_fault(fault, picture) for fault in picture["faults"]),
        follow=tuple(_followed(day, plan) for day, plan in picture["follow"].items()),
    )


def _next(picture: Picture) -> tuple[Next, ...]:
    return tuple(
        Next(
            utc_ns(datetime.fromisoformat(ring.at)) // MILLISECOND,
            short_moment(ring.at, picture["at"]),
            in_how_long(ring.away_ns),
            ", ".join(_title(picture["zones"], zone) for zone in ring.zones),
            f"{ring.seconds:g} s",
            ring.says,
        )
        for ring in coming_rings(picture)
    )


def _title(of: Picture, name: str) -> str:
    return str(of[name]["title"] or name) if name in of else name


def _settle(picture: Picture) -> tuple[Thing, ...]:
    """What is to be seen to, each with the acts that settle it."""
    found = []
    says: tuple[str, ...]
    for thing in unsettled(picture):
        line = picture["lines"].get(thing.name)
        if line is not None:
            title, says = line["title"] or thing.name, (line["says"],)
            acts = tuple(link_to(order, thing.name, title) for order in thing.orders)
        elif thing.name == "clock":
            title, says = "The clock", ("nobody vouches for it: look whether it is right",)
            acts = tuple(link_to(order) for order in thing.orders)
        else:
            title, says = thing.name, ("has ended",)
            acts = tuple(_about_fault(order, thing.name) for order in thing.orders)
        found.append(Thing(thing.name, title, "", says, acts))
    return tuple(found)


def _about_fault(order: str, name: str) -> Link:
    return Link(f"{link_to(order).to}?{urlencode({'fault': name})}", link_to(order).words, name)


def _zone(name: str, zone: Picture) -> Thing:
    title = zone["title"] or name
    quiet = "lift-quiet" if zone["state"] == "quiet" else "quiet"
    acts = tuple(link_to(order, name, title) for order in ("ring", quiet))
    return Thing(name, title, zone["state"], (zone["says"],), acts)


def _all_zones(picture: Picture) -> tuple[Link, ...]:
    """What can be done with all of them at once, where there is more than one."""
    if len(picture["zones"]) < 2:
        return ()
    orders = ("ring", "quiet", "lift-quiet") if picture["quiet"] else ("ring", "quiet")
    return tuple(link_to(order, ALL, "all zones") for order in orders)


def _line(name: str, line: Picture, picture: Picture) -> Thing:
    title = line["title"] or name
    last = line["last_impulse"]
    says = [line["says"]]
    if last:
        says.append(f"last impulse stored {short_moment(last, picture['at'])}")
    orders = [order for order in line["settle"] if order != "trust-clock"]
    acts = [link_to(order, name, title) for order in orders]
    return Thing(
        name,
        title,
        line["state"],
        tuple(says),
        (*acts, Link(f"/act/line/{name}", "All acts", title)),
    )


def _supply(picture: Picture) -> str:
    if not picture["supply"]["sensed"]:
        return ""
    return "The supply is there." if picture["supply"]["there"] else "The supply is AWAY."


def _fault(fault: Picture, picture: Picture) -> Thing:
    times = {
        when: short_moment(fault[when], picture["at"]) for when in ("since", "until") if fault[when]
    }
    lasts = f"{times['since']} to {times['until']}" if fault["until"] else f"since {times['since']}"
    state = "ended" if fault["until"] else "lasts"
    return Thing(fault["name"], fault["name"], state, (fault["says"], lasts))


def _followed(day: str, plan: str) -> Thing:
    date = day_text(datetime.fromisoformat(day).date())
    back = Link(f"/act/follow?date={day}&plan=usual", "Back to the usual plan", date)
    return Thing(day, date, plan, (f"follows {plan}",), (back,))


def last_moment(picture: dict[str, Any]) -> str:
    """When a picture was, in words; "" where it does not tell (another version's)."""
    try:
        return moment(picture["at"])
    except (KeyError, TypeError, ValueError):
        return ""
