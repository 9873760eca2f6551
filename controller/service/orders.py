"""What can be said to a running daemon through its socket: one JSON object a line, both ways.

    to the daemon   {"order": "ring", "zones": ["north"], "for": "3s", "id": 7}
    from it         {"id": 7, "ok": true, "says": "Ringing north, 3 s."}
                    {"id": 7, "ok": false, "says": "There is no zone nort; expected one of …"}

The classes below are the one description of the orders: their names, keys, limits and meaning. The
command line's help, the page and the documentation are made from it. `id`, where given, comes back
with the answer. `who` is the person for whom the keeper's page speaks; it is taken from the page's
own user alone, and from anybody else the order is refused. Every line is answered exactly once,
though not always in turn: one that is no order is refused, in words, and after one of more than
MOST_LINE_BYTES the caller is parted as well. The answer to `status` has the "state". `watch` is
answered, and from then on the state follows as {"state": {…}}, at once and whenever it has changed,
at most four times a second.

LOCAL is an ISO 8601 date or date and time of the building's own clock; lengths are written as in
the file ("3s").
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

MOST_TEXT = 1 << 20
MOST_LOGBOOK_ENTRIES = 500  # in one answer
MOST_WHO = 40  # letters of a person's name
MOST_ID = 1 << 53  # what every JSON reader keeps exact (RFC 8259, 6: IEEE 754 doubles)

NAME_PATTERN = r"^[a-z0-9-]{1,40}$"
DATE_PATTERN = r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$"


def _on_one_line(text: str) -> str:
    if not text.isprintable():  # it is logged and shown on terminals
        raise ValueError("printable text on one line")
    return text


OneLine = AfterValidator(_on_one_line)
Name = Annotated[str, Field(pattern=NAME_PATTERN)]
Local = Annotated[str, Field(max_length=40), OneLine]
TimeOfDay = Annotated[str, Field(max_length=8), OneLine]
FileName = Annotated[str, Field(max_length=200), OneLine]
Fingerprint = Annotated[str, Field(max_length=64), OneLine]
Zones = Annotated[list[Name], Field(min_length=1, max_length=100)]


class Words(BaseModel):
    """One thing said to the daemon."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    order: str
    id: int | None = Field(
        None, ge=0, le=MOST_ID, description="Any whole number; it comes back with the answer."
    )
    who: Annotated[str, Field(max_length=MOST_WHO), OneLine] = Field(
        "", description="In whose name; taken only from the user that runs the keeper's page."
    )


# ── to see ───────────────────────────────────────────────────────────────────────────────────────


class Status(Words):
    """Tell the state once: zones, lines, clock, faults, lasting orders and what comes next."""

    order: Literal["status"]


class Watch(Words):
    """Tell the state now, and again whenever it changes."""

    order: Literal["watch"]


class LogbookOrder(Words):
    """Read the logbook. The newest entries of a stretch of time, in its order."""

    order: Literal["logbook"]
    since: Local = Field("", description="From this LOCAL on; the last day unless said.")
    before: int | None = Field(
        None,
        ge=0,
        le=1 << 62,
        description="Only entries before this instant (ns since 1970): to read on into the past, "
        "the `at` of the oldest entry so far.",
    )
    most: int = Field(
        MOST_LOGBOOK_ENTRIES, ge=1, le=MOST_LOGBOOK_ENTRIES, description="So many at most."
    )


class Files(Words):
    """Give the building's files as the daemon runs them, their path and their fingerprint."""

    order: Literal["files"]


# ── bells ────────────────────────────────────────────────────────────────────────────────────────


class Ring(Words):
    """Ring zones by hand, now. Under the same limits, and joining what sounds there."""

    order: Literal["ring"]
    zones: Zones = Field(description="Which zones; `all` for every one.")
    for_: Annotated[str, Field(max_length=20), OneLine] = Field(
        "3s", alias="for", description="How long; never over a zone's `longest`."
    )


class Stop(Words):
    """Open every bell's relay at once. What is due later rings."""

    order: Literal["stop"]


class Quiet(Words):
    """Keep zones quiet. Their timetable rings are silenced until then."""

    order: Literal["quiet"]
    zones: Zones = Field(description="Which zones; `all` for every one.")
    until: Local = Field(description="Until this LOCAL.")


class LiftQuiet(Words):
    """Take an order `quiet` back."""

    order: Literal["lift-quiet"]
    zones: Zones = Field(description="Which zones; `all` for every one.")


class Follow(Words):
    """Let a date follow another plan; `usual` takes that back."""

    order: Literal["follow"]
    date: Annotated[str, Field(pattern=DATE_PATTERN)] = Field(
        description="The date, as 2026-11-25."
    )
    plan: Name = Field(description="A plan of the file, `none` for no rings, or `usual`.")


# ── lines of dials ───────────────────────────────────────────────────────────────────────────────


class LineWords(Words):
    """An order for one line of dials."""

    line: Name = Field(description="Which line.")


class Hold(LineWords):
    """Let a line stand still. Answered once an impulse in progress has ended."""

    order: Literal["hold"]


class Go(LineWords):
    """Let a held line go on: it comes right by itself."""

    order: Literal["go"]


class Set(LineWords):
    """Say what the dials show now. For a line that is unread or held; it goes then."""

    order: Literal["set"]
    shows: TimeOfDay = Field(description="HH:MM, or HH:MM:SS.")
    polarity: Literal["+", "-", ""] = Field(
        "",
        description="Which polarity came last. Unless said it is the one last given here; where "
        "none was, it is taken as -, and the line is doubtful until someone has watched.",
    )


class Step(LineWords):
    """Give extra impulses. They move the dials, not what is believed to be shown."""

    order: Literal["step"]
    impulses: int = Field(1, ge=1, le=1440, description="How many.")


class To(LineWords):
    """Drive the dials to a time and hold them. They can be read and set all alike then."""

    order: Literal["to"]
    shows: TimeOfDay = Field(description="HH:MM, or HH:MM:SS.")


class Right(LineWords):
    """Say that the dials are as believed. The line is doubtful no longer."""

    order: Literal["right"]


class Stood(LineWords):
    """Say that the dials stood at an impulse. The first after a `set`: they show one less."""

    order: Literal["stood"]


class Swapped(LineWords):
    """Say that a line's two wires were exchanged. It must be held."""

    order: Literal["swapped"]


class Moved(LineWords):
    """Say that the dials were moved unseen. The line is unread then."""

    order: Literal["moved"]


# ── the machine and the file ─────────────────────────────────────────────────────────────────────


class TrustClock(Words):
    """Say that the clock is right. It holds until the machine starts again or the clock jumps."""

    order: Literal["trust-clock"]


class Acknowledge(Words):
    """Take faults that have ended off the list. One that lasts stays."""

    order: Literal["acknowledge"]
    fault: Annotated[str, Field(max_length=100), OneLine] = Field(
        "", description="Its name; all that have ended unless said."
    )


class Preview(Words):
    """Tell what a reload, or an edit, would change in the coming fourteen days."""

    order: Literal["preview"]
    file: FileName = Field("", description="The name of the file that an edit would replace.")
    text: Annotated[str, Field(max_length=MOST_TEXT)] = Field("", description="Its whole new text.")


class Reload(Words):
    """Take the building's files as they are now."""

    order: Literal["reload"]
    fingerprint: Fingerprint = Field(
        "", description="Only if the files still have this fingerprint, as `preview` told it."
    )


class Edit(Words):
    """Replace the keeper's file as a whole: checked, written, reloaded, the old version kept."""

    order: Literal["edit"]
    file: FileName = Field(description="The file's name.")
    text: Annotated[str, Field(max_length=MOST_TEXT)] = Field(description="Its whole new text.")
    was: Fingerprint = Field(
        description="The fingerprint that the building had when the edit was begun."
    )


class Earlier(Words):
    """Give a file as it was before the last edit that was not undone: what an undo puts back."""

    order: Literal["earlier"]


class Backup(Words):
    """Give a copy of the store: it comes with the answer as an open file (SCM_RIGHTS)."""

    order: Literal["backup"]


_ALL: tuple[type[Words], ...] = (
    Status,
    Watch,
    LogbookOrder,
    Files,
    Ring,
    Stop,
    Quiet,
    LiftQuiet,
    Follow,
    Hold,
    Go,
    Set,
    Step,
    To,
    Right,
    Stood,
    Swapped,
    Moved,
    TrustClock,
    Acknowledge,
    Preview,
    Reload,
    Edit,
    Earlier,
    Backup,
)


def _name(kind: type[Words]) -> str:
    (name,) = kind.model_fields["order"].annotation.__args__  # type: ignore[union-attr]
    return str(name)


ORDERS: dict[str, type[Words]] = {_name(kind): kind for kind in _ALL}


def orders_markdown() -> str:
    """The table of the orders, for the documentation."""
    parts = []
    for name, kind in ORDERS.items():
        parts.append(f"| `{name}` | {_keys(kind)} | {' '.join((kind.__doc__ or '').split())} |")
    return "\n".join(["| order | keys | meaning |", "|---|---|---|", *parts]) + "\n"


def _keys(kind: type[Words]) -> str:
    keys = []
    for name, field in kind.model_fields.items():
        if name not in Words.model_fields:  # what any order may carry is said once
            optional = "" if field.is_required() else "?"
            keys.append(f"`{field.alias or name}`{optional} {field.description}")
    return "<br>".join(keys)
