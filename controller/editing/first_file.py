"""The first two files of a building, commented: what is wired where, and what rings when. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

from controller.building.file import building_of
from controller.building.sheets import Source
from controller.building.wiring import Level

WIRING, TIMETABLE = "10-wiring.toml", "20-timetable.toml"
# Header pins whose default pull leaves a relay open (BCM2835 ARM Peripherals, p. 102), without
# those of I²C, SPI and the UART; then, for boards that energise on low, what has to be pulled up.
_HIGH = (17, 18, 27, 22, 23, 24, 25, 12, 13, 16, 19, 20, 21, 26)
_LOW = (5, 6, 4, *_HIGH)
_WIDTH = 36  # where a comment begins that follows a key


Face = Literal["12h", "24h"]


class Zone(NamedTuple):
    """A bell zone and its relay's pin."""

    name: str
    pin: int


class Line(NamedTuple):
    """A line of dials and its relays' pins: [+, −] of an alternating one, one of a single one."""

    name: str
    pins: tuple[int, ...]


class First(NamedTuple):
    """What is known of the building."""

    name: str
    timezone: str
    zones: tuple[Zone, ...]
    lines: tuple[Line, ...]
    active: Level
    face: Face

    @property
    def pins(self) -> tuple[int, ...]:
        """Those that are taken, in order."""
        return (*(zone.pin for zone in self.zones), *(p for line in self.lines for p in line.pins))


def free_pins(active: Level, taken: Sequence[int]) -> list[int]:
    """Pins to suggest for relays, the fittest first."""
    return [pin for pin in (_LOW if active == "low" else _HIGH) if pin not in taken]


def first_files(first: First) -> dict[str, str]:
    """File name → text. Raises `Faults` where what is known makes no building."""
    texts = {WIRING: _wiring(first), TIMETABLE: _timetable(first)}
    building_of("", [Source(name, text.encode()) for name, text in texts.items()])
    return texts


# ── the installer's file ─────────────────────────────────────────────────────────────────────────

_WIRING_HEAD = """\
# The installer's file: what is wired to which pin.
#
# The keeper's file beside it, 20-timetable.toml, says what rings when. Both are read together, and
# no table may be in both. `understudy check FOLDER` names every mistake in one go.
#
# Pins are BCM GPIO numbers, not places on the header. A line that begins with # is not read: take
# the # away where it fits your building. Every key stands in README.md.
"""

_SUPPLY = """
# ── supply ────────────────────────────────────────────────────────────────────────────────────────

[supply]
volts = 24.0
# amps = 3.0                        # what it can give; zones that do not fit together then wait
# sense = 7                         # an isolated input, active while the 24 V is there
"""

_PANEL = """
# ── the old panel ─────────────────────────────────────────────────────────────────────────────────
# Buttons and switches, through isolated inputs only, never straight at a pin.

# [panel.stop_button]
# pin = 8
# does = "stop"                     # or ring, quiet, step
# active = "low"                    # level at the pin while its contact is closed

# ── the machine ───────────────────────────────────────────────────────────────────────────────────

[clock]
trust_rtc = false                   # true only where the board has a clock kept by a cell
"""


def _wiring(first: First) -> str:
    return "".join(
        [
            _WIRING_HEAD,
            "\n[building]\n",
            _key(f"name = {_quoted(first.name)}"),
            _key(f"timezone = {_quoted(first.timezone)}", "an IANA name; all times follow it"),
            _SUPPLY,
            _rule("relays"),
            _pull_words(first.active),
            *_zones(first),
            *_lines(first),
            _PANEL,
        ]
    )


def _zones(first: First) -> Iterator[str]:
    if not first.zones:
        return
    yield _rule("bells")
    for place, zone in enumerate(first.zones):
        yield f"\n[zones.{zone.name}]\n"
        if place:
            yield f"relay = {zone.pin}\n"
            yield f"active = {_quoted(first.active)}\n"
            continue
        yield _key('# title = "North wing"', "what people call it")
        yield _key(f"relay = {zone.pin}", "its relay's pin")
        yield _key(f"active = {_quoted(first.active)}", "level that energises the relay")
        yield _key('longest = "10s"', "one continuous closing at most, whatever asks for it")
        yield _key('a_minute = "30s"', "closed for so long in any minute at most")
        yield _key('# kind = "single-stroke"', "a gong: one stroke a closing")
        yield "# bells = 4\n"
        yield _key("# amps_each = 0.25", "measure one")
        yield _key("# sense = 10", "an input that reads the relay's contact back")


def _lines(first: First) -> Iterator[str]:
    if not first.lines:
        return
    yield _rule("dials")
    for place, line in enumerate(first.lines):
        yield f"\n[lines.{line.name}]\n"
        alternating = len(line.pins) == 2
        drive = "alternating" if alternating else "single"
        meaning = "each impulse reverses polarity" if alternating else "always the same polarity"
        relays = ", ".join(map(str, line.pins))
        yield _key(f"drive = {_quoted(drive)}", meaning)
        yield _key(f"relays = [{relays}]", "[+, −], in the change-over form" if alternating else "")
        yield f"active = {_quoted(first.active)}\n"
        yield _key(f"face = {_quoted(first.face)}", "hours of the dials' faces")
        if place:
            continue
        yield _key('every = "60s"', 'from one impulse to the next: "60s" or "30s"')
        yield _key('impulse = "1s"', "its length")
        yield _key('gap = "1s"', "least rest after it")
        yield "# dials = 12\n"
        yield _key("# amps_each = 0.012", "measure one")


def _pull_words(active: Level) -> str:
    if active == "high":
        return (
            "# Between power-on and the daemon's start GPIO 9 to 27 are pulled down, so relays\n"
            "# that are active high stay open there.\n"
        )
    return (
        "# Between power-on and the daemon's start GPIO 2 to 8 are pulled up, so relays that are\n"
        "# active low stay open there. On 9 to 27 each needs a resistor that pulls up: the wiring\n"
        "# guide tells which.\n"
    )


# ── the keeper's file ────────────────────────────────────────────────────────────────────────────

_TIMETABLE_HEAD = """\
# The keeper's file: what rings when.
#
# Times are written as the clock on the wall shows them, in summer and in winter. After a change:
# `understudy check FOLDER` names every mistake, `understudy next FOLDER` lists what rings next,
# `understudy reload` lets a running daemon take it.

# ── plans: a day's rings, under a name ────────────────────────────────────────────────────────────
# `for` is one closing. `strokes` are seconds on, off, on, … instead. `says` is for people to read.
"""

_REST = """
# ── the week: a day left out has no rings ─────────────────────────────────────────────────────────

[week]
mon = "regular"
tue = "regular"
wed = "regular"
thu = "regular"
fri = "regular"

# ── dates that depart from the week ───────────────────────────────────────────────────────────────
# `none` is a day without bells. Both dates of a range are in it.

# [[calendar]]
# from = "2026-12-19"
# until = "2027-01-03"
# plan = "none"
# says = "Winter break"

# [holidays]                        # public holidays, by country and province, state or canton
# country = "CA"
# subdivision = "NS"
"""


def _timetable(first: First) -> str:
    return "".join([_TIMETABLE_HEAD, *_plan(first), _REST, *_quiet(first)])


def _plan(first: First) -> Iterator[str]:
    yield "\n[plans.regular]\nrings = [\n"
    if first.zones:
        zone = _quoted(first.zones[0].name)
        yield f'  {{ at = "08:30", zones = [{zone}], for = "3s", says = "Begin" }},\n'
        yield '  { at = "12:00", zones = ["*"], strokes = [1, 0.5, 1], says = "Noon" },  # all\n'
        yield f'  {{ at = "16:00", zones = [{zone}], for = "3s", says = "End" }},\n'
    yield "]\n"


def _quiet(first: First) -> Iterator[str]:
    if not first.zones:
        return
    yield _rule("quiet rows: a zone's half-days without bells")
    yield "# A night belongs to the day on which it began.\n\n# [quiet]\n"
    yield f'# {first.zones[0].name} = ["sat", "sun", "fri night"]\n'


# ── words ────────────────────────────────────────────────────────────────────────────────────────


def _rule(title: str) -> str:
    return f"\n# ── {title} ".ljust(101, "─") + "\n"


def _key(text: str, comment: str = "") -> str:
    return f"{text:<{_WIDTH}}# {comment}\n" if comment else f"{text}\n"


def _quoted(text: str) -> str:
    """As TOML's basic string. Control characters are none that a name has, and are left out."""
    plain = "".join(letter for letter in text if letter.isprintable())
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'
