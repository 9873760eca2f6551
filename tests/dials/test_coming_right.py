"""Whatever dials show and whenever it is, they come right, and when was foretold."""

from __future__ import annotations

import itertools
from datetime import datetime

import pytest
from dial_lines import MINUTE, SECOND
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from controller.building.civil import CivilTime
from controller.building.file import read
from controller.dials.modelled import after_impulse, model_dials
from controller.dials.position import Coming, coming_right, face_text, true_position
from controller.rehearsal.record import EndRecord, ImpulseRecord
from controller.rehearsal.script import Script
from controller.rehearsal.world import rehearse

# Hours about which their clocks change (IANA tz), and an ordinary one
HOURS = {
    "America/Halifax": [(2026, 3, 8, 1), (2026, 11, 1, 0), (2026, 11, 25, 8)],
    "Australia/Lord_Howe": [(2026, 4, 5, 1), (2026, 10, 4, 1), (2026, 7, 1, 23)],
    "Pacific/Apia": [(2011, 12, 29, 23), (2012, 4, 1, 3), (2012, 7, 1, 11)],
    "Asia/Kathmandu": [(1985, 12, 31, 23), (2026, 1, 1, 0), (2026, 5, 5, 12)],
    "Europe/London": [(2026, 3, 29, 0), (2026, 10, 25, 0), (2026, 6, 6, 6)],
}


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("lines") / "building.toml"


@st.composite
def cases(draw):
    zone = draw(st.sampled_from(sorted(HOURS)))
    hour = draw(st.sampled_from(HOURS[zone]))
    keys = {
        "every": draw(st.sampled_from(["60s", "30s"])),
        "face": draw(st.sampled_from(["12h", "24h"])),
        "patience": draw(st.sampled_from(["75m", "30m", "0s", "59m", "60m", "11h"])),
    }
    keys["impulse"], keys["gap"] = draw(
        st.sampled_from([("1s", "1s"), ("200ms", "200ms"), ("3s", "2s"), ("500ms", "1.5s")])
    )
    seconds = draw(st.integers(0, 7200))
    share = draw(st.integers(0, 2_879))
    near = draw(st.one_of(st.none(), st.integers(-80, 80)))
    polarity = draw(st.sampled_from(["+", "-"]))
    return zone, hour, keys, seconds, share, near, polarity


def building(path, zone: str, keys: dict[str, str]):
    lines = "\n".join(f'{key} = "{value}"' for key, value in keys.items())
    text = (
        f'[building]\ntimezone = "{zone}"\n[lines.main]\ndrive = "alternating"\nrelays = [2, 3]\n'
    )
    path.write_text(text + lines + "\n")
    return read(path)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(cases())
@example(("America/Halifax", (2026, 3, 8, 1), {"patience": "75m"}, 3590, 0, 0, "-"))
@example(("America/Halifax", (2026, 11, 1, 0), {"patience": "30m"}, 7190, 0, 0, "-"))
def test_the_rehearsal_comes_right_as_foretold_and_stays_right(path, case):
    zone, hour, keys, seconds, share, near, polarity = case
    house = building(path, zone, keys)
    line, civil = house.lines["main"], house.civil
    start = civil.instant(datetime(*hour)) + seconds * SECOND
    true = true_position(line, civil, start)
    shown = share % line.positions if near is None else (true + near) % line.positions
    foretold = coming_right(line, civil, shown, start)
    assert foretold is not None
    until = foretold.right_utc + 10 * MINUTE
    change = civil.next_change(foretold.right_utc, until)
    if change is not None:  # wrong once more, and right again
        until = change + 150 * MINUTE
    script = Script(start, until, {"main": (shown, polarity)})
    records = list(rehearse(house, script))
    impulses = [one for one in records if isinstance(one, ImpulseRecord)]

    polarities = [polarity, *(one.polarity for one in impulses)]
    assert all(a != b for a, b in itertools.pairwise(polarities)), "no two alike in a row"

    end = records[-1]
    assert isinstance(end, EndRecord)
    assert end.lines["main"].right
    assert end.lines["main"].shows == (face_text(line, true_position(line, civil, until - 1)),)

    assert by_their_own_dials(house, start, shown, polarity, impulses, foretold) == foretold


def by_their_own_dials(house, start, shown, polarity, impulses, foretold) -> Coming:
    """How many impulses it took and when they were first right, by dials that are stepped here."""
    line, civil = house.lines["main"], house.civil
    dials = model_dials(shown, polarity)
    given, last = 0, start
    for one in impulses:
        ended = one.at + line.impulse_ns
        if dials[0].shows == true_position(line, civil, last):
            return Coming(given, last, dials[0].shows)
        if foretold.impulses == given and foretold.right_utc < one.at:
            # they waited: time reached them, and not an impulse
            assert true_position(line, civil, foretold.right_utc) == dials[0].shows
            assert true_position(line, civil, foretold.right_utc - 1) != dials[0].shows
            return Coming(given, foretold.right_utc, dials[0].shows)
        dials = after_impulse(dials, one.polarity, line.impulse_ns, line.impulse_ns, line.positions)
        given, last = given + 1, ended
    raise AssertionError("they never came right")


@pytest.mark.parametrize("zone", ["America/Halifax", "Europe/London", "Australia/Lord_Howe"])
@pytest.mark.parametrize("shown", [0, 100, 359, 360, 500, 719])
def test_dials_at_any_hour_of_a_day_are_foretold_within_their_turn(path, zone, shown):
    house = building(path, zone, {"face": "12h"})
    line = house.lines["main"]
    start = CivilTime(zone).instant(datetime(2026, 6, 1))
    for minute in range(0, 1440, 7):
        coming = coming_right(line, house.civil, shown, start + minute * MINUTE)
        assert coming is not None
        assert true_position(line, house.civil, coming.right_utc) == coming.shows
        # driven, 2 s an impulse and at most 720 of them and what time adds; or 75 minutes' patience
        assert coming.right_utc - start - minute * MINUTE <= 75 * MINUTE
        assert coming.shows == (shown + coming.impulses) % 720
