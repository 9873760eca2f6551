"""The installer's tables: what is wired where, what it takes, and how the machine behaves.

Each Field is a key: its type, default, limits, unit, meaning and an example. The README's table and
the error messages are made from them; model.py lists all.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from controller.building import values as v
from controller.building.durations import DAY, MILLISECOND, MINUTE, SECOND
from controller.building.table import Table

SINGLE_STROKE_LONGEST_NS = SECOND  # a coil made for single strokes is not held longer


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
    colours: v.Colours | None = Field(
        None,
        description="Colours of its wires in the cabinet: + and 0 V.",
        examples=[["red", "black"]],
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
    colours: v.Colours | None = Field(
        None,
        description="Colours of its wires into the building: out and back; a and b of an "
        "alternating line.",
        examples=[["red", "blue"]],
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
    colour: v.Colour | None = Field(None, description="Its colour.", examples=["black"])


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
    colours: v.Colours | None = Field(
        None,
        description="Colours of its wires: to the button, and back from it.",
        examples=[["white", "yellow"]],
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
