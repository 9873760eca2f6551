"""Three days about each clock change of a year, in three zones: dials right, each ring once."""

from __future__ import annotations

from collections import Counter
from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from stories import ALTERNATING, NORTH, SINGLE, every_day, ring

from controller.building.civil import utc_ns

# (zone, the day before the change, the day after it, how many minutes the clock goes forward)
CHANGES = [  # IANA tz, 2026
    ("America/Halifax", "2026-03-07", "2026-03-10", 60),
    ("America/Halifax", "2026-10-31", "2026-11-03", -60),
    ("Europe/London", "2026-03-28", "2026-03-31", 60),
    ("Europe/London", "2026-10-24", "2026-10-27", -60),
    ("Australia/Lord_Howe", "2026-10-03", "2026-10-06", 30),
    ("Australia/Lord_Howe", "2026-04-04", "2026-04-07", -30),
]
TIMES = ("00:30", "01:00", "01:30", "02:00", "02:30", "03:00", "12:00", "23:30")


@pytest.mark.parametrize(("zone", "first", "until", "forward"), CHANGES)
@pytest.mark.parametrize(
    "line", [ALTERNATING, SINGLE, ALTERNATING + 'face = "24h"\nevery = "30s"\n']
)
def test_dials_end_right_and_every_ring_is_given_once(stage, zone, first, until, forward, line):
    text = f'[building]\ntimezone = "{zone}"\n'
    text += NORTH + line + every_day(*(ring(at, 3) for at in TIMES))
    told = stage.play(text, f"{first}T00:00", f"{until}T00:00")
    assert told.end.lines["main"].right
    assert not told.end.lines["main"].doubtful
    if line != SINGLE:
        assert all(a.polarity != b.polarity for a, b in pairwise(told.impulses))
    # three days by the clock, less the last step, which is due at the end itself
    steps = told.building.lines["main"].every_ns // 1_000_000_000
    assert told.end.impulses == 3 * 86_400 // steps - 1, "none round the face, none too many"
    assert told.missed == []
    rings = Counter((one.zone, one.due) for one in told.rings)
    assert set(rings.values()) == {1}
    # RFC 5545 §3.3.5, which zoneinfo's fold=0 reads likewise; some fall together
    written = (datetime.fromisoformat(f"{first}T{at}") for at in TIMES)
    place = ZoneInfo(zone)
    due = {
        utc_ns((local + timedelta(days=day)).replace(tzinfo=place))
        for local in written
        for day in range(3)
    }
    assert {one.due for one in told.rings} == due
    hours = (told.at(f"{until}T00:00") - told.at(f"{first}T00:00")) / 3.6e12
    assert hours == 72 - forward / 60
