"""Small buildings by chance: two zones, three lines, a handful of rings in four minutes."""

from __future__ import annotations

from datetime import datetime

from hypothesis import strategies as st

from controller.building.civil import CivilTime

CIVIL = CivilTime("America/Halifax")
START = CIVIL.instant(datetime(2026, 11, 25, 8, 29))
ZONES = ("north", "south")
LINES = ("main", "annex")  # the alternating ones
EVERY_LINE = (*LINES, "yard")
BUTTONS = ("north_button", "both_button")  # that ring
PANEL = """
[panel.north_button]
pin = 21
does = "ring"
zones = ["north"]
[panel.both_button]
pin = 22
does = "ring"
zones = ["north", "south"]
[panel.north_switch]
pin = 23
does = "quiet"
zones = ["north"]
[panel.stop_button]
pin = 24
does = "stop"
[panel.step_button]
pin = 25
does = "step"
line = "main"
"""


@st.composite
def texts(draw) -> tuple[str, str]:
    """Two files of one building: the second has other rings."""
    amps = draw(st.sampled_from([None, 0.5, 1.0]))
    wiring = ['[building]\ntimezone = "America/Halifax"']
    if amps is not None:
        wiring.append(f"[supply]\namps = {amps}")
    for pin, zone in enumerate(ZONES, 17):
        draws = draw(st.sampled_from([0, 0.3, 0.5]))
        bells = f"bells = 1\namps_each = {draws}" if draws else ""
        longest = draw(st.sampled_from([5, 10]))
        wiring.append(
            f'[zones.{zone}]\nrelay = {pin}\n{bells}\nlongest = "{longest}s"\na_minute = "15s"'
        )
    for pin, line in enumerate(LINES, 2):
        impulse, gap = draw(st.sampled_from([(1, 1), (0.2, 0.2), (3, 2)]))
        every = draw(st.sampled_from([30, 60]))
        wiring.append(
            f'[lines.{line}]\ndrive = "alternating"\nrelays = [{2 * pin}, {2 * pin + 1}]\n'
            f'every = "{every}s"\nimpulse = "{impulse}s"\ngap = "{gap}s"'
        )
    wiring.append('[lines.yard]\ndrive = "single"\nrelays = [20]')
    wiring.append(PANEL)
    lead = draw(st.sampled_from(["1s", "100ms", "3s"]))
    wiring.append(f'[clock]\nlead = "{lead}"')
    return "\n".join(wiring + draw(plans())), "\n".join(wiring + draw(plans()))


@st.composite
def plans(draw) -> list[str]:
    rings = draw(
        st.lists(
            st.tuples(st.integers(29 * 60, 33 * 60), st.sampled_from(ZONES), st.integers(1, 5)),
            min_size=1,
            max_size=8,
        )
    )
    entries = ",".join(
        f'{{ at = "08:{at // 60}:{at % 60:02}", zones = ["{zone}"], for = "{length}s" }}'
        for at, zone, length in rings
    )
    return [
        f"[plans.daily]\nrings = [{entries}]\n[plans.other]\nrings = []",
        '[week]\nwed = "daily"',
    ]
