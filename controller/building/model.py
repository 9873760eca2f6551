"""What the building is. The Fields below are the one table of keys: type, default, limits, unit,
meaning and an example of each; the README's table and the error messages are made from it.

Lengths of time are integer nanoseconds, in attributes that end in `_ns`; the key in the file is the
alias, and is written with its unit. Everything is frozen; dicts keep the file's order.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from controller.building import values as v
from controller.building.civil import CivilTime
from controller.building.closings import Closings, closings_of
from controller.building.durations import DAY, MILLISECOND, MINUTE, SECOND

SINGLE_STROKE_LONGEST_NS = SECOND  # a coil made for single strokes is not held longer


class Table(BaseModel):
    """One table of the file: its keys are known, and nothing else is allowed in it."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class Premises(Table):
    """The building itself."""

    name: v.Text = Field("", description="What the building is called.", examples=["Elm House"])
    timezone: v.TimeZone = Field(
        description="Whose local time rings and dials follow.", examples=["America/Halifax"]
    )


class Supply(Table):
    """The extra-low-voltage DC supply that bells and dials share."""

    volts: v.Volts = Field(24.0, description="Nominal voltage.", examples=[24.0])
    amps: v.Amperes | None = Field(
        None,
        description="What it can give in all. Unless set it is taken as unlimited.",
        examples=[5.0],
    )
    sense: v.Pin | None = Field(
        None, description="Input that is active while the supply is there.", examples=[26]
    )


class Battery(Table):
    """The lead-acid battery that the supply keeps charged, and what is asked of it."""

    cells: v.Count = Field(
        12, ge=3, le=30, description="How many cells in series, of 2 V.", examples=[12]
    )
    amp_hours: v.AmpHours | None = Field(None, description="Its rated capacity.", examples=[26.0])
    rate_hours: v.Hours = Field(
        20.0, description="Over how many hours that capacity is rated.", examples=[20.0]
    )
    peukert: v.Times = Field(
        1.2, ge=1, le=2, description="Peukert's exponent, from its data sheet.", examples=[1.2]
    )
    ageing: v.Times = Field(
        1.25,
        ge=1,
        le=2,
        description="How many times what is needed it is bought for, since it ages.",
        examples=[1.25],
    )
    hours: v.Hours | None = Field(
        None, description="How long it is to carry the house without mains.", examples=[24.0]
    )
    steady_amps: v.Amperes | None = Field(
        None,
        description="What it carries all the time beside bells and dials: the controller, its "
        "relay board, lamps.",
        examples=[0.3],
    )
    end_cell_volts: v.CellVolts = Field(
        1.75, description="A cell at the end of its discharge.", examples=[1.75]
    )
    float_cell_volts: v.CellVolts = Field(
        2.27, description="A cell on float charge.", examples=[2.27]
    )
    boost_cell_volts: v.CellVolts = Field(
        2.45,
        description="A cell on boost charge; as on float where the charger gives none.",
        examples=[2.45],
    )
    fuse_amps: v.Amperes | None = Field(
        None, description="The fuse at its terminal.", examples=[5.0]
    )


class Installed(Table):
    """How a circuit is run, fused and suppressed."""

    run_metres: v.Metres | None = Field(
        None,
        description="Length of its cable, one way, from the relay to the last device.",
        examples=[45.0],
    )
    wire: v.Wire | None = Field(
        None, description="Each conductor of that cable.", examples=["1.5 mm2"]
    )
    spread: v.Flag = Field(
        False,
        description="Whether its devices are spread evenly along the run. Unless set all are "
        "taken to hang at its end.",
        examples=[True],
    )
    shares_return: v.ReturnName | None = Field(
        None,
        description="The return conductor that it has in common with others, by its name in "
        "[returns]. Unless set it has its own, in the same cable.",
        examples=["attic"],
    )
    least_volts: v.LeastVolts | None = Field(
        None,
        description="What each device needs at its terminals to act. Unless set, three quarters "
        "of what it is made for: 18 V of 24 V.",
        examples=[18.0],
    )
    fuse_amps: v.Amperes | None = Field(None, description="Its fuse.", examples=[2.0])
    suppressor: v.Suppressor | None = Field(
        None,
        description="What is fitted against the coils' kick: `zener` is a diode and a zener in "
        "series, `bidirectional` is alike both ways, `rc` a resistor and a capacitor.",
        examples=["bidirectional"],
    )
    stand_off_volts: v.Volts | None = Field(
        None,
        description="Up to what voltage the suppressor does not conduct.",
        examples=[30.0],
    )


class Zone(Installed):
    """One bell zone: a relay, and the bells that it rings."""

    title: v.Text = Field("", description="What people call it.", examples=["North wing"])
    relay: v.Pin = Field(description="The relay's pin.", examples=[17])
    active: v.Level = Field(
        "high", description="Level that energises the relay.", examples=["high"]
    )
    kind: Literal["trembler", "single-stroke"] = Field(
        "trembler",
        description="Of bell. A single-stroke bell is rung by `strokes` only, each at most 1s.",
        examples=["trembler"],
    )
    longest_set_ns: v.Duration = Field(
        10 * SECOND,
        alias="longest",
        ge=100 * MILLISECOND,
        le=2 * MINUTE,
        description="One continuous closing at most. In a single-stroke zone never over 1s, "
        "whatever is set.",
        examples=["10s"],
    )
    a_minute_ns: v.Duration = Field(
        30 * SECOND,
        alias="a_minute",
        ge=100 * MILLISECOND,
        le=MINUTE,
        description="Closed for so long in any minute at most.",
        examples=["30s"],
    )
    bells: v.Count | None = Field(
        None, ge=1, le=1000, description="How many bells it has.", examples=[6]
    )
    amps_each: v.Amperes | None = Field(None, description="What each bell draws.", examples=[0.25])
    sense: v.Pin | None = Field(
        None, description="Input that reads the relay's contact back.", examples=[24]
    )

    @property
    def longest_ns(self) -> int:
        """One continuous closing at most, whatever kind of bell it is."""
        if self.kind == "single-stroke":
            return min(self.longest_set_ns, SINGLE_STROKE_LONGEST_NS)
        return self.longest_set_ns

    @property
    def amps(self) -> float:
        """What all its bells draw; 0 where the file does not say."""
        return (self.bells or 0) * (self.amps_each or 0.0)


class Line(Installed):
    """One line of slave dials on one pair of wires."""

    title: v.Text = Field("", description="What people call it.", examples=["All classrooms"])
    drive: Literal["alternating", "single"] = Field(
        description="Each impulse reverses polarity, or all have the same.",
        examples=["alternating"],
    )
    relays: v.Pins = Field(description="The relays' pins.", examples=[[22, 23]])
    active: v.Level = Field(
        "high", description="Level that energises the relays.", examples=["high"]
    )
    every_ns: v.FullOrHalfMinute = Field(
        60_000_000_000, alias="every", description="From one impulse to the next.", examples=["60s"]
    )
    impulse_ns: v.Duration = Field(
        SECOND,
        alias="impulse",
        ge=50 * MILLISECOND,
        le=20 * SECOND,
        description="Length of an impulse. With `gap` it stays below `every`.",
        examples=["1s"],
    )
    gap_ns: v.Duration = Field(
        SECOND,
        alias="gap",
        ge=200 * MILLISECOND,
        le=20 * SECOND,
        description="Least rest after an impulse.",
        examples=["1s"],
    )
    face_ns: v.HalfOrWholeDay = Field(
        43_200_000_000_000, alias="face", description="Hours of the dials' faces.", examples=["12h"]
    )
    patience_ns: v.Duration = Field(
        75 * MINUTE,
        alias="patience",
        ge=0,
        le=DAY,
        description="Dials ahead of time by no more than this stand and wait; "
        "others are driven round. It stays below `face`.",
        examples=["75m"],
    )
    dials: v.Count | None = Field(
        None, ge=1, le=5000, description="How many dials it has.", examples=[22]
    )
    amps_each: v.Amperes | None = Field(
        None, description="What each dial draws; in series, what the line draws.", examples=[0.012]
    )
    wired: Literal["parallel", "series"] = Field(
        "parallel", description="How its dials are joined.", examples=["parallel"]
    )
    sense: v.Pins | None = Field(
        None,
        description="Inputs that read the relays' contacts back, one a relay, in their order.",
        examples=[[24, 25]],
    )
    ohms_each: v.Ohms | None = Field(
        None, description="Resistance of each dial's coil.", examples=[2000.0]
    )
    henries_each: v.Henries | None = Field(
        None, description="Inductance of each dial's coil.", examples=[3.0]
    )
    resistor_ohms: v.Ohms | None = Field(
        None,
        description="The dropping resistor, where its dials are wired in series.",
        examples=[68.0],
    )

    @property
    def positions(self) -> int:
        """How many different times its dials can show."""
        return self.face_ns // self.every_ns

    @property
    def amps(self) -> float:
        """What the line draws; 0 where the file does not say."""
        dials = 1 if self.wired == "series" else self.dials or 0
        return dials * (self.amps_each or 0.0)


class Return(Table):
    """A return conductor that several circuits have in common."""

    metres: v.Metres | None = Field(
        None, description="Length of the part that they share.", examples=[60.0]
    )
    wire: v.Wire | None = Field(None, description="The conductor.", examples=["2.5 mm2"])


class PanelEntry(Table):
    """One old button or switch, through an isolated input."""

    pin: v.Pin = Field(description="The input's pin.", examples=[20])
    active: v.Level = Field(
        "low", description="Level at the pin while the contact is closed.", examples=["low"]
    )
    does: Literal["ring", "stop", "quiet", "step"] = Field(
        description="Ring zones while pressed (at most `longest`), stop all bells, keep zones "
        "quiet while closed, or step a line's dials once a press.",
        examples=["ring"],
    )
    zones: v.ZoneNames = Field(
        (), description="Which zones; for ring and quiet only.", examples=[["north"]]
    )
    line: v.LineName | None = Field(
        None, description="Which line; for step only.", examples=["main"]
    )
    debounce_ns: v.Duration = Field(
        20 * MILLISECOND,
        alias="debounce",
        ge=MILLISECOND,
        le=SECOND,
        description="Changes shorter than this are a contact's bouncing.",
        examples=["20ms"],
    )


class Relays(Table):
    """What the relays' contacts are rated for, from their data sheet."""

    volts: v.LeastVolts | None = Field(
        None, description="DC that a contact may break; not its AC rating.", examples=[30.0]
    )
    amps: v.Amperes | None = Field(
        None,
        description="Current that a contact may carry and break at that voltage, into coils.",
        examples=[3.0],
    )
    make_amps: v.Amperes | None = Field(
        None, description="Current that a contact may close on.", examples=[8.0]
    )


class Health(Table):
    """A relay that is energised only while all is well."""

    relay: v.Pin = Field(description="The relay's pin.", examples=[25])
    active: v.Level = Field(
        "high", description="Level that energises the relay.", examples=["high"]
    )


class Clock(Table):
    """How far the system's clock is trusted, and how closely it is kept to."""

    trust_rtc: v.Flag = Field(
        False, description="Whether the board's battery-kept clock may be trusted.", examples=[True]
    )
    grace_ns: v.Duration = Field(
        30 * SECOND,
        alias="grace",
        ge=SECOND,
        le=5 * MINUTE,
        description="A ring that has not begun so long after its time is missed.",
        examples=["30s"],
    )
    lead_ns: v.Duration = Field(
        SECOND,
        alias="lead",
        ge=100 * MILLISECOND,
        le=10 * SECOND,
        description="How long beforehand rings and impulses are stored.",
        examples=["1s"],
    )


class Logbook(Table):
    """What is kept of the past."""

    keep_ns: v.Duration = Field(
        400 * DAY,
        alias="keep",
        ge=7 * DAY,
        le=4000 * DAY,
        description="How long its lines are kept.",
        examples=["400d"],
    )


class Tell(Table):
    """Who is told of a fault: a program that is run as the daemon's user, once when a fault begins
    and once when it ends.

    The fault's words are on its standard input. UNDERSTUDY_FAULT is the fault's name,
    UNDERSTUDY_CHANGE is `begins` or `ends`, UNDERSTUDY_BUILDING the building's name. One runs at a
    time, for 60 s at most; then it is ended, with all that it started.
    """

    command: v.Command = Field(
        description="The program and its arguments; no shell reads them.",
        examples=[["/usr/local/bin/tell-keeper", "--urgent"]],
    )


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


@dataclass(frozen=True, eq=False, kw_only=True)
class Building:
    """All that the file says, cross-checked. Two buildings are the same only if they are one."""

    name: str
    civil: CivilTime
    supply: Supply
    battery: Battery | None
    zones: dict[str, Zone]
    lines: dict[str, Line]
    returns: dict[str, Return]
    panel: dict[str, PanelEntry]
    relays: Relays
    health: Health | None
    clock: Clock
    logbook: Logbook
    tell: Tell | None
    halves: Halves
    quiet: dict[str, frozenset[v.HalfDay]]
    plans: dict[str, tuple[PlanRing, ...]]
    week: dict[int, str]  # ISO weekday → plan; a day left out has no rings
    calendar: tuple[CalendarEntry, ...]
    imports: tuple[ImportRule, ...]
    holidays: Holidays | None
    tape: Tape | None
    fingerprint: str  # SHA-256 of the files' bytes in their order, hexadecimal

    @property
    def bell_amps(self) -> float | None:
        """What the lines leave of the supply for bells; None where it is unlimited."""
        if self.supply.amps is None:
            return None
        return self.supply.amps - sum(line.amps for line in self.lines.values())


# Every table of the file in the order of the guide: its heading there, and its keys.
TABLES: dict[str, type[Table]] = {
    "[building]": Premises,
    "[supply]": Supply,
    "[battery]": Battery,
    "[zones.NAME]": Zone,
    "[lines.NAME]": Line,
    "[returns.NAME]": Return,
    "[panel.NAME]": PanelEntry,
    "[relays]": Relays,
    "[health]": Health,
    "[clock]": Clock,
    "[logbook]": Logbook,
    "[tell]": Tell,
    "[halves]": Halves,
    "[quiet]": QuietRow,
    "[plans.NAME]": Plan,
    "[plans.NAME] rings": PlanRing,
    "[week]": Week,
    "[[calendar]]": CalendarEntry,
    "[[calendar]] event": EntryEvent,
    "[[import]]": ImportRule,
    "[holidays]": Holidays,
    "[tape]": Tape,
    "[tape.holes]": HolesRow,
}

# Whose tables they are. The keeper's may be changed from the page and by the order `edit`; the
# installer's only in an editor: they say what is wired where, and which program is run.
INSTALLERS = (
    "building",
    "supply",
    "battery",
    "zones",
    "lines",
    "returns",
    "panel",
    "relays",
    "health",
    "clock",
    "logbook",
    "tell",
)
KEEPERS = ("halves", "quiet", "plans", "week", "calendar", "import", "holidays", "tape")
