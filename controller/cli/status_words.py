"""The picture of the state in words for people: 80 plain columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from controller.cli.spoken import columns, paragraph
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


def status_lines(picture: Picture) -> list[str]:
    """The whole picture: whether all is well first, what to do about it, and what rings next."""
    coming = _section("next", next_rows(picture))
    return [*_paragraphs(headline(picture)), *body_lines(picture), *coming]


def body_lines(picture: Picture) -> Iterator[str]:
    """How everything stands, and what is to be settled."""
    title = picture["building"] or "Understudy"
    clock = clock_words(picture["clock"])
    yield from _paragraphs(f"{title}, {moment(picture['at'])}, {picture['timezone']}; {clock}.")
    yield from _section("zones", [_zone_row(*one) for one in picture["zones"].items()])
    yield from _section("lines of dials", line_rows(picture))
    yield from _section("supply", _supply_rows(picture))
    yield from _section("faults", [_fault_row(fault, picture) for fault in picture["faults"]])
    yield from _section("dates with a plan of their own", _follow_rows(picture))
    settle = to_settle(picture)
    if settle:
        yield from ("", "to settle")
        for text in settle:
            yield paragraph(text, "  ")


def to_settle(picture: Picture) -> list[str]:
    """What is to be done; things of which the same is to be done together."""
    found: dict[str, list[str]] = {}
    for thing in unsettled(picture):
        found.setdefault(thing.command, []).append(thing.name)
    return [f"{', '.join(who)}: {command}" for command, who in found.items()]


# ── rows ─────────────────────────────────────────────────────────────────────────────────────────


def _zone_row(name: str, zone: Picture) -> tuple[str, str, str]:
    return name, zone["title"], zone["says"]


def line_rows(picture: Picture) -> list[tuple[str, str, str]]:
    """Each line: what it shows, whether that is right, and when its last impulse was stored."""
    rows = []
    for name, line in picture["lines"].items():
        last = line["last_impulse"]
        stored = f"; last impulse {short_moment(last, picture['at'])}" if last else ""
        rows.append((name, line["title"], line["says"] + stored))
    return rows


def line_lines(picture: Picture, name: str) -> Iterator[str]:
    """One line, with all that is known of it."""
    line = picture["lines"][name]
    called = f"{name}, {line['title']}" if line["title"] else name
    yield paragraph(f"{called}: {line['says']}.", "")
    last = line["last_impulse"]
    rows = [
        ("last impulse", moment(last) if last else "none stored yet"),
        ("polarity of it", line["polarity"]),
        ("to settle", line["do"]),
    ]
    yield from columns([row for row in rows if row[1]], indent=2)


def _supply_rows(picture: Picture) -> list[tuple[str, ...]]:
    if not picture["supply"]["sensed"]:
        return []
    return [("the 24 V is there" if picture["supply"]["there"] else "the 24 V is AWAY",)]


def _fault_row(fault: Picture, picture: Picture) -> tuple[str, str, str]:
    since, until = (
        fault[when] and short_moment(fault[when], picture["at"]) for when in ("since", "until")
    )
    return fault["name"], fault["says"], f"{since} to {until}" if until else f"since {since}"


def _follow_rows(picture: Picture) -> list[tuple[str, str]]:
    return [
        (day_text(datetime.fromisoformat(day).date()), plan)
        for day, plan in picture["follow"].items()
    ]


def next_rows(picture: Picture) -> list[tuple[str, str, str, str, str]]:
    """The coming rings."""
    return [
        (moment(at), in_how_long(away), ", ".join(zones), f"{seconds:g} s", says)
        for at, away, zones, seconds, says in coming_rings(picture)
    ]


# ── layout ───────────────────────────────────────────────────────────────────────────────────────


def _section(title: str, rows: Sequence[Sequence[str]]) -> Iterator[str]:
    if rows:
        yield from ("", title)
        yield from columns(rows, indent=2)


def _paragraphs(text: str) -> list[str]:
    return paragraph(text, "").splitlines()
