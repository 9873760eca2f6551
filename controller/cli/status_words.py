"""The picture of the state in words for people: 80 plain columns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from itertools import groupby
from typing import Any

from controller.building.civil import utc_ns
from controller.cli.spoken import columns, day_text, in_how_long, paragraph

Picture = Mapping[str, Any]
_VOUCHES = {
    "kernel": "clock right by the kernel's word",
    "rtc": "clock right by the RTC's word",
    "person": "clock right by a person's word",
    "earlier": "clock right as it was last set; nobody keeps it now",
    "as-if-right": "clock taken to be right (--as-if-right)",
    "nobody": "clock NOT TRUSTED: nobody vouches for it",
}
_WORTH_A_WORD = 1.0  # seconds
_TRUST = "once you have seen that the clock is right: understudy trust-clock"


def status_lines(picture: Picture) -> list[str]:
    """The whole picture: whether all is well first, what to do about it, and what rings next."""
    coming = _section("next", next_rows(picture))
    return [*_paragraphs(headline(picture)), *body_lines(picture), *coming]


def body_lines(picture: Picture) -> Iterator[str]:
    """How everything stands, and what is to be settled."""
    title = picture["building"] or "Understudy"
    clock = _clock_words(picture["clock"])
    yield from _paragraphs(f"{title}, {moment(picture['at'])}, {picture['timezone']}; {clock}.")
    yield from _section("zones", [_zone_row(*one) for one in picture["zones"].items()])
    yield from _section("lines of dials", line_rows(picture))
    yield from _section("supply", _supply_rows(picture))
    yield from _section("faults", [_fault_row(fault, picture) for fault in picture["faults"]])
    yield from _section("dates with a plan of their own", _follow_rows(picture))
    settle = [f"{', '.join(who)}: {how}" for how, who in to_settle(picture).items()]
    if settle:
        yield from ("", "to settle")
        for text in settle:
            yield paragraph(text, "  ")


def headline(picture: Picture) -> str:
    """Whether all is well, and if not, why."""
    if not picture["well"]:
        return f"NOT WELL: {'; '.join(_why_not(picture))}."
    number = sum(len(who) for who in to_settle(picture).values())
    if number:
        return f"Running; {number} thing{'' if number == 1 else 's'} to settle, see below."
    return "All is well."


def _clock_words(clock: Mapping[str, Any]) -> str:
    """Who vouches for it, and by how much it may be wrong where that is worth a word."""
    words = _VOUCHES.get(clock["by"], clock["by"])
    error = clock.get("error_seconds")
    return words if error is None or error < _WORTH_A_WORD else f"{words}, to within {error:.0f} s"


def _why_not(picture: Picture) -> list[str]:
    lasting = {fault["name"]: fault["says"] for fault in picture["faults"] if not fault["until"]}
    why = [says if name == says else f"{name}: {says}" for name, says in lasting.items()]
    if not picture["clock"]["trusted"] and "clock" not in lasting:
        why.append("the clock is not trusted")
    if not picture["supply"]["there"] and "supply" not in lasting:
        why.append("the supply is away")
    if not picture["storing"] and "store" not in lasting:
        why.append("the store cannot be written")
    return why or ["nothing holds the relays at present"]


def to_settle(picture: Picture) -> dict[str, list[str]]:
    """What is to be done, and for what."""
    found: dict[str, list[str]] = {}
    if not picture["clock"]["trusted"]:
        found[_TRUST] = ["clock"]
    for name, line in picture["lines"].items():
        if line["do"] and line["do"] != _TRUST:
            found.setdefault(line["do"], []).append(name)
    ended = [fault["name"] for fault in picture["faults"] if fault["until"]]
    if ended:
        found["it has ended; seen? understudy acknowledge"] = ended
    return found


# ── rows ─────────────────────────────────────────────────────────────────────────────────────────


def _zone_row(name: str, zone: Picture) -> tuple[str, str, str]:
    return name, zone["title"], zone["says"]


def line_rows(picture: Picture) -> list[tuple[str, str, str]]:
    """Each line: what it shows, whether that is right, and when its last impulse was stored."""
    rows = []
    for name, line in picture["lines"].items():
        last = line["last_impulse"]
        stored = f"; last impulse {_short(last, picture['at'])}" if last else ""
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
        fault[when] and _short(fault[when], picture["at"]) for when in ("since", "until")
    )
    return fault["name"], fault["says"], f"{since} to {until}" if until else f"since {since}"


def _follow_rows(picture: Picture) -> list[tuple[str, str]]:
    return [
        (day_text(datetime.fromisoformat(day).date()), plan)
        for day, plan in picture["follow"].items()
    ]


def next_rows(picture: Picture) -> list[tuple[str, str, str, str, str]]:
    """The coming rings, those of one instant and length together."""
    now = utc_ns(datetime.fromisoformat(picture["at"]))
    rows = []
    for (at, says, seconds), rings in groupby(
        picture["next"], key=lambda ring: (ring["at"], ring["says"], ring["seconds"])
    ):
        away = in_how_long(utc_ns(datetime.fromisoformat(at)) - now)
        zones = ", ".join(ring["zone"] for ring in rings)
        rows.append((moment(at), away, zones, f"{seconds:g} s", says))
    return rows


# ── layout ───────────────────────────────────────────────────────────────────────────────────────


def moment(iso: str) -> str:
    """ "Wed 2026-11-25 10:41:07" of an ISO 8601 local time with its offset."""
    local = datetime.fromisoformat(iso)
    return f"{day_text(local.date())} {local:%H:%M:%S}"


def _short(iso: str, now_iso: str) -> str:
    """As `moment`, without the day where that is today."""
    return moment(iso).rsplit(" ", 1)[1] if iso[:10] == now_iso[:10] else moment(iso)


def _section(title: str, rows: Sequence[Sequence[str]]) -> Iterator[str]:
    if rows:
        yield from ("", title)
        yield from columns(rows, indent=2)


def _paragraphs(text: str) -> list[str]:
    return paragraph(text, "").splitlines()
