"""The keeper's tables: what rings when. As in installed.py, each Field is a key."""

from __future__ import annotations

from datetime import date, time
from typing import Annotated

from pydantic import Field

from controller.building import values as v
from controller.building.closings import Closings, closings_of
from controller.building.durations import MILLISECOND, MINUTE
from controller.building.table import Table


class Halves(Table):
    """When the halves of a day begin. A night belongs to the day on which it began."""

    day: v.TimeOfDay = Field(time(6), description="The day half begins.", examples=["06:00"])
    night: v.TimeOfDay = Field(
        time(18), description="The night half begins, later than the day half.", examples=["18:00"]
    )


class QuietRow(Table):
    """A zone's half-days without bells; one key a zone."""

    half_days: v.HalfDays = Field(
        alias="ZONE",
        description="When its timetable rings are silent.",
        examples=[["sat", "sun", "fri night"]],
    )


class Plan(Table):
    """A day's rings."""

    rings: v.Rings = Field(
        description="Its rings: their keys are in the next table.",
        examples=[[{"at": "08:30", "zones": ["north"], "for": "5s"}]],
    )


class PlanRing(Table):
    """One ring of a plan, for one zone or more. It has either `for` or `strokes`."""

    at: v.TimeOfDay = Field(description="When it begins.", examples=["08:30"])
    zones: v.ZoneNames = Field(description="Where it rings.", examples=[["north", "south"]])
    for_ns: v.Duration | None = Field(
        None,
        alias="for",
        ge=10 * MILLISECOND,
        le=2 * MINUTE,
        description="One closing of this length.",
        examples=["5s"],
    )
    strokes_ns: v.Strokes | None = Field(
        None, alias="strokes", description="Closings and pauses in turn.", examples=[[1, 0.5, 1]]
    )
    says: v.Text = Field("", description="What it is for.", examples=["First class"])

    @property
    def closings(self) -> Closings:
        """(from, until) in ns from the start."""
        return closings_of(self.strokes_ns or (self.for_ns or 0,))


class Week(Table):
    """Which plan a weekday has. A day left out has no rings."""

    mon: v.PlanName | None = Field(None, description="Monday's plan.", examples=["regular"])
    tue: v.PlanName | None = Field(None, description="Tuesday's plan.", examples=["regular"])
    wed: v.PlanName | None = Field(None, description="Wednesday's plan.", examples=["regular"])
    thu: v.PlanName | None = Field(None, description="Thursday's plan.", examples=["regular"])
    fri: v.PlanName | None = Field(None, description="Friday's plan.", examples=["regular"])
    sat: v.PlanName | None = Field(None, description="Saturday's plan.", examples=["none"])
    sun: v.PlanName | None = Field(None, description="Sunday's plan.", examples=["none"])


class EntryEvent(Table):
    """The calendar event that an entry was imported from. `understudy calendar import` writes it,
    to know the entry again. Taken away by hand, it makes the entry one of the keeper's own.
    """

    calendar: v.Text = Field(description="Which calendar it is in.", examples=["School year"])
    uid: v.Text = Field(description="Its UID there.", examples=["20260901-7@school.example"])
    mark: v.Text = Field(
        description="What the entry was like when it was imported, as a number: "
        "so it is seen whether a person changed it since.",
        examples=["4f1c9a02"],
    )


class CalendarEntry(Table):
    """Dates that depart from the week: one `on`, or a range `from` … `until`, both included."""

    on: v.Date | None = Field(None, description="The one date.", examples=["2026-12-18"])
    from_: v.Date | None = Field(
        None, alias="from", description="The first date of a range.", examples=["2026-12-19"]
    )
    until: v.Date | None = Field(
        None, description="The last date of the range, itself included.", examples=["2027-01-03"]
    )
    plan: v.PlanName = Field(
        description="The plan of these dates instead of week and tape; `none` for no rings, "
        "`usual` for week and tape.",
        examples=["none"],
    )
    says: v.Text = Field("", description="What it is for.", examples=["Winter break"])
    lift_quiet: v.Flag = Field(
        False, description="Whether quiet rows are lifted on these dates.", examples=[True]
    )
    event: Annotated[
        EntryEvent | None,
        v.Kind("what `understudy calendar import` wrote: { calendar, uid, mark }, each in quotes"),
    ] = Field(
        None,
        description="Where the entry was imported from: its keys are in the next table.",
        examples=[{"calendar": "School year", "uid": "7@school.example", "mark": "4f1c9a02"}],
    )

    @property
    def first(self) -> date:
        """The first date."""
        first = self.on or self.from_
        assert first is not None, "the file is refused without"
        return first

    @property
    def last(self) -> date:
        """The last date, itself included."""
        last = self.on or self.until
        assert last is not None, "the file is refused without"
        return last

    @property
    def single(self) -> bool:
        """Whether it is written with `on`: then it beats a range."""
        return self.on is not None


class ImportRule(Table):
    """Which events of a calendar file become calendar entries. The first rule that fits an event
    decides its plan; an event that no rule fits is left out.

    It fits an event that has one of its `categories`, or one of its `words` in its summary. Large
    and small letters are alike, and words count whole: "exam" does not fit "Example".
    """

    categories: v.Texts = Field(
        (), description="Categories, any one of them.", examples=[["Holiday", "School closed"]]
    )
    words: v.Texts = Field(
        (),
        description="Words or phrases of the summary, any one of them.",
        examples=[["winter break", "exams"]],
    )
    plan: v.PlanName = Field(
        description="The plan of its dates, as in [[calendar]].", examples=["none"]
    )
    lift_quiet: v.Flag = Field(
        False, description="Whether quiet rows are lifted on these dates.", examples=[True]
    )
    timed: v.Flag = Field(
        False,
        description="Whether events with times of day count too, for each date that they touch. "
        "Unless set only all-day events do.",
        examples=[True],
    )


class Holidays(Table):
    """Public holidays by the holidays library, observed days included."""

    country: v.Country = Field(
        description="Two capital letters, as in ISO 3166-1.", examples=["CA"]
    )
    subdivision: v.Subdivision | None = Field(
        None,
        description="Province, state, canton or nation, by its code in ISO 3166-2 without the "
        "country. Required where the country's own list lacks days that most of it keeps.",
        examples=["NS"],
    )
    plan: v.PlanName = Field(
        "none",
        description="The plan of public holidays instead of week and tape.",
        examples=["none"],
    )


class Tape(Table):
    """What the old tape rang, every day that the quiet rows allow, beside the week's plan."""

    length_ns: v.TapeTurn = Field(alias="length", description="One turn.", examples=["12h"])
    starts: v.TimeOfDay = Field(
        time(0), description="Clock time under the fingers at the tape's mark.", examples=["00:00"]
    )
    for_ns: v.Duration = Field(
        alias="for",
        ge=10 * MILLISECOND,
        le=2 * MINUTE,
        description="How long each hole rings.",
        examples=["5s"],
    )
    holes: v.Holes = Field(
        description="Its holes, zone by zone: the table [tape.holes].",
        examples=[{"north": ["08:30"]}],
    )

    @property
    def closings(self) -> Closings:
        """(from, until) in ns from the start of each of its rings."""
        return closings_of((self.for_ns,))


class HolesRow(Table):
    """A zone's holes; one key a zone. A hole rings at starts + offset, once a turn."""

    offsets: v.Offsets = Field(
        alias="ZONE",
        description="Offsets from the mark, from 00:00 up to the tape's length.",
        examples=[["08:30", "09:20"]],
    )
