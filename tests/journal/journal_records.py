"""Records for the tests of the store: plain ones of a winter's morning, and any lawful ones."""

from __future__ import annotations

from collections.abc import Iterable

from hypothesis import strategies as st

from controller.engine.records import (
    EraRow,
    FaultRow,
    FollowRow,
    LineRow,
    MissCount,
    MissRow,
    NoteRow,
    QuietRow,
    Record,
    SoundingRow,
    Stamp,
    StepRow,
    TrustRow,
)

SECOND = 1_000_000_000
MINUTE = 60 * SECOND
DAY = 1440 * MINUTE
MORNING = 1_795_609_800 * SECOND  # 2026-11-25T12:30:00Z
BOOT = "0f6bba20-6a3c-4b52-9d5f-2f5e5a7c1d11"


def stamp(number: int) -> Stamp:
    """The stamp of the minute `number` after the morning began."""
    utc = MORNING + number * MINUTE
    return Stamp(utc, number * MINUTE, BOOT, True, utc, MORNING, number)


def impulse(number: int, line: str = "main") -> LineRow:
    """A line of dials whose impulse `number` was stored and is not known to have ended."""
    utc = MORNING + number * MINUTE
    polarity = "-" if number % 2 else "+"
    step = StepRow(number, polarity, utc, number * MINUTE, BOOT, True, False)
    return LineRow(line, True, number % 720, 720, polarity, False, False, step, utc)


def sounding(
    play: int, how: str = "done", *, at: int = MORNING, zone: str = "north"
) -> SoundingRow:
    """A sounding of five seconds."""
    return SoundingRow(
        play, zone, at, at, 7 * MINUTE, BOOT, (0, 5 * SECOND), ("2026-11-25T08:30:00",),
        "First class", "", how,
    )  # fmt: skip


def note(number: int, text: str = "set to 08:30", *, at: int = MORNING) -> NoteRow:
    return NoteRow(number, at, "restorer", text)


def welded(line: str = "main", *, since: int = MORNING, until: int = 0) -> FaultRow:
    """A fault of a line's relay, which lasts unless told until when."""
    says = "the contact stays closed by its sense input"
    return FaultRow(f"lines.{line}+ welded", says, since, until, False)


def standing(records: Iterable[Record]) -> set[Record]:
    """What must be read back after `records`, said without a database: by key, newest last."""
    newest = {record.key: record for record in records}
    notes = [record for record in newest.values() if isinstance(record, NoteRow)]
    last_note = max(notes, key=lambda record: record.number, default=None)
    return {
        record
        for record in newest.values()
        if not _taken_back(record) and (not isinstance(record, NoteRow) or record == last_note)
    }


def _taken_back(record: Record) -> bool:
    match record:
        case SoundingRow(how="void") | MissRow(why="") | QuietRow(until=0):
            return True
        case FollowRow(plan="usual"):
            return True
        case FaultRow(acknowledged=True):
            return record.until != 0
    return False


# ── any lawful record; few different keys, so that many stand for one before ─────────────────────

WHOLE = st.integers(-(2**63), 2**63 - 1)
TEXT = st.text(st.characters(exclude_categories=("Cs",)), max_size=60)
NAMES = st.sampled_from(["north", "south", "main", "o'hara", "é—ß"])
NUMBERS = st.one_of(st.integers(0, 5), st.integers(0, 2**63 - 1))
POLARITIES = st.sampled_from(["+", "-"])
WRITTEN = st.sampled_from(["2026-11-25T08:30:00", "2026-11-25T08:30:30", "2026-11-26T08:30:00"])
STEPS_OUT = st.builds(
    StepRow, NUMBERS, st.sampled_from(["+", "-", ""]), WHOLE, WHOLE, TEXT, st.booleans(),
    st.booleans(),
)  # fmt: skip
RECORDS = st.one_of(
    st.builds(
        Stamp, WHOLE, WHOLE, TEXT, st.booleans(), st.none() | WHOLE, st.none() | WHOLE, NUMBERS
    ),
    st.builds(
        SoundingRow, NUMBERS, NAMES, WHOLE, WHOLE, WHOLE, TEXT,
        st.lists(st.integers(0, 2**62), max_size=6).map(tuple),
        st.lists(WRITTEN | TEXT, max_size=3).map(tuple),
        TEXT, TEXT, st.sampled_from(["begun", "done", "cut", "void"]), NUMBERS,
    ),
    st.builds(MissRow, NAMES, WRITTEN, WHOLE, st.sampled_from(["", "late", "off", "a-minute"])),
    st.builds(MissCount, NUMBERS, st.integers(0, 3), WHOLE, TEXT),
    st.builds(
        LineRow, NAMES, st.booleans(), NUMBERS, NUMBERS, POLARITIES, st.booleans(),
        st.booleans(), st.none() | STEPS_OUT, WHOLE, st.booleans(), st.just(-1) | NUMBERS,
    ),
    st.builds(QuietRow, NAMES, st.just(0) | WHOLE, TEXT),
    st.builds(FollowRow, WRITTEN, st.sampled_from(["usual", "none", "early-close"]), TEXT),
    st.builds(NoteRow, NUMBERS, WHOLE, TEXT, TEXT),
    st.builds(FaultRow, NAMES, TEXT, WHOLE, st.just(0) | WHOLE, st.booleans()),
    st.builds(EraRow, NUMBERS, WHOLE),
    st.builds(TrustRow, TEXT, WHOLE, TEXT),
)  # fmt: skip
BATCHES = st.lists(st.lists(RECORDS, max_size=8), max_size=6)
