"""How much of the time coils are on."""

from __future__ import annotations

import pytest
from installed import LINE, ZONE, installed

from controller.building.durations import SECOND
from controller.electrics.coils import (
    bell_duty,
    catch_up_duty,
    duty,
    longest_catch_up_seconds,
    normal_duty,
)


def test_duty_is_the_share_of_the_cycle():
    # IEC 60034-1, S3, from memory: 4 min on in a cycle of 10 min is 40 %
    assert duty(4, 10) == 0.4


def test_a_line_that_is_driven_is_on_thirty_times_as_much():
    line = installed(LINE).lines["main"]
    assert normal_duty(line) == pytest.approx(1 / 60)
    assert catch_up_duty(line) == pytest.approx(1 / 2)


def test_a_zones_bells_are_on_no_more_than_its_minute_allows():
    zone = installed(ZONE + 'a_minute = "20s"\n').zones["north"]
    assert bell_duty(zone) == pytest.approx(20 / 60)


def test_the_longest_catch_up_is_the_one_that_time_runs_ahead_of():
    line = installed(LINE).lines["main"]
    # step by step: dials 76 min ahead, so 644 behind; an impulse each 2 s, one more due each 60 s
    behind, elapsed = 720 - 76, 0
    while behind:
        elapsed += 2
        behind += (elapsed % 60 == 0) - 1
    assert longest_catch_up_seconds(line) == pytest.approx(elapsed, abs=4)


def test_the_half_minute_line_of_the_demo():
    # config/marrow-lane: "driven eleven hours on, one impulse a second, some 23 minutes"
    line = installed(LINE + 'every = "30s"\nimpulse = "400ms"\ngap = "600ms"\npatience = "30m"\n')
    minutes = longest_catch_up_seconds(line.lines["main"]) / 60
    assert minutes == pytest.approx(23, abs=1)
    assert line.lines["main"].impulse_ns == 0.4 * SECOND
