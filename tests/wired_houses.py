"""Small houses of every kind of circuit, as files an installer might write, for property tests."""

from __future__ import annotations

from hypothesis import strategies as st

from controller.building.file import building_of
from controller.building.model import Building
from controller.building.sheets import Source

_PINS = list(range(2, 28))
_SUPPRESSORS = ("diode", "zener", "bidirectional", "varistor", "rc", "none")
_NAMES = ("north", "a", "main", "a-name-of-forty-letters-long-as-it-may-b", "x-1")
_TITLES = ("", "North & South <wing>", "$x_{1}^2$ “Hall”", "L" * 200)


@st.composite
def house_texts(draw) -> str:
    """The installer's file of a small house."""
    pins = draw(st.permutations(_PINS))
    text = ['[building]\nname = "A house"\ntimezone = "Europe/Oslo"', "[supply]\nvolts = 24.0"]
    if draw(st.booleans()):
        text.append(f"amps = 8.0\nsense = {pins.pop()}")
    if draw(st.booleans()):
        text.append("[battery]\namp_hours = 26\nfuse_amps = 5.0")
    zones = draw(st.lists(st.sampled_from(_NAMES), unique=True, max_size=3))
    lines = draw(st.lists(st.sampled_from(_NAMES), unique=True, max_size=3))
    for name in zones if zones or lines else ["north"]:
        text.append(_zone(draw, name, pins))
    for name in lines:
        text.append(_line(draw, name, pins))
    text.append('[returns.attic]\nmetres = 60\nwire = "2.5 mm2"\ncolour = "black"')
    if zones and draw(st.booleans()):
        for number in range(draw(st.integers(1, 3))):
            level = draw(st.sampled_from(("low", "high")))
            text.append(
                f'[panel.button_{number}]\npin = {pins.pop()}\nactive = "{level}"\n'
                f'does = "ring"\nzones = ["{zones[0]}"]\ncolours = ["white"]'
            )
    if draw(st.booleans()):
        text.append(f"[health]\nrelay = {pins.pop()}")
    return "\n".join(text) + "\n"


def _installed(draw, alternating: bool) -> str:
    keys = [
        "run_metres = 50",
        'wire = "1.5 mm2"',
        "fuse_amps = 2.0",
        f'suppressor = "{draw(st.sampled_from(_SUPPRESSORS))}"',
        "stand_off_volts = 33.0",
        'colours = ["red", "blue"]',
    ]
    if not alternating:
        keys.append('shares_return = "attic"')
    return "\n".join(key for key in keys if draw(st.booleans()))


def _zone(draw, name: str, pins: list[int]) -> str:
    kind = draw(st.sampled_from(("trembler", "single-stroke")))
    level = draw(st.sampled_from(("low", "high")))
    title = draw(st.sampled_from(_TITLES))
    text = f'[zones.{name}]\nrelay = {pins.pop()}\nkind = "{kind}"\nactive = "{level}"\n'
    text += f"title = '''{title}'''\n" + _installed(draw, alternating=False)
    if draw(st.booleans()):
        text += "\nbells = 3\namps_each = 0.2"
    return text + (f"\nsense = {pins.pop()}" if draw(st.booleans()) else "")


def _line(draw, name: str, pins: list[int]) -> str:
    drive = draw(st.sampled_from(("alternating", "single")))
    count = 2 if drive == "alternating" else 1
    relays = [pins.pop() for _ in range(count)]
    text = f'[lines.{name}]\ndrive = "{drive}"\nrelays = {relays}\n'
    text += _installed(draw, drive == "alternating")
    if draw(st.booleans()):
        text += "\ndials = 4\namps_each = 0.2"
    if draw(st.booleans()):
        text += '\nwired = "series"'
        if draw(st.booleans()):
            text += "\nresistor_ohms = 72\nohms_each = 15"
    if draw(st.booleans()):
        text += f"\nsense = {[pins.pop() for _ in range(count)]}"
    return text


def house(text: str) -> Building:
    """The building of a text."""
    return building_of("house.toml", [Source("house.toml", text.encode())])
