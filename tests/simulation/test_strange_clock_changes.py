"""A date that no clock showed, and a change of half an hour."""

from __future__ import annotations

import itertools

import pytest
from stories import ALTERNATING, MINUTE, NORTH, catch_up, every_day, ring

APIA = '[building]\ntimezone = "Pacific/Apia"\n'
LORD_HOWE = '[building]\ntimezone = "Australia/Lord_Howe"\n'


@pytest.mark.parametrize("face", ["12h", "24h"])
def test_apia_went_without_30_december_2011(stage, face):
    text = APIA + NORTH + ALTERNATING + f'face = "{face}"\n' + every_day(ring("08:00"))
    told = stage.play(text, "2011-12-29T00:00", "2012-01-01T00:00")
    dates = [told.civil.date_at(one.at).isoformat() for one in told.rings]
    assert dates == ["2011-12-29", "2011-12-31"]
    assert told.missed == []
    # a day left out is nothing to a face: one impulse a minute through two days
    assert told.end.impulses == 2 * 1440 - 1
    at = [one.at for one in told.impulses]
    assert {b - a for a, b in itertools.pairwise(at)} == {MINUTE}
    assert told.end.lines["main"].right


def test_lord_howe_goes_forward_by_half_an_hour(stage):
    told = stage.play(LORD_HOWE + ALTERNATING, "2026-10-04T01:58", "2026-10-04T02:40")
    change = told.at("2026-10-04T02:30")  # 02:00 is 02:30
    number, _ = catch_up(31, 1, 1, 60)
    after = [one for one in told.impulses if one.at >= change]
    assert number == 32
    assert told.times([after[0], after[number - 1]]) == ["02:30:00", "02:31:02"]
    assert told.end.impulses == 1 + number + 8  # 01:59; up to 02:31; 02:32 up to 02:39
    assert told.end.lines["main"] == (("02:39",), True, False)


def test_lord_howe_goes_back_by_half_an_hour(stage):
    told = stage.play(LORD_HOWE + ALTERNATING, "2026-04-05T01:58+11:00", "2026-04-05T02:02+10:30")
    at = [one.at for one in told.impulses]
    assert [one.shows for one in told.impulses] == ["01:59", "02:00", "02:01"]
    assert at[1] - at[0] == 31 * MINUTE, "they stand while the half hour is repeated"
    assert told.end.lines["main"].right
