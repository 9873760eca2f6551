"""The board's real-time clock: what it says, and when it vouches for the system's clock."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from board_rtcs import board_rtc
from hypothesis import given
from hypothesis import strategies as st

from controller.timekeeping.rtc import (
    EMPTY_MICROVOLTS,
    MOST_APART_NS,
    MOST_RTCS,
    WRITTEN_UTC,
    RtcReading,
    read_rtcs,
    rtc_word,
    voltage_flags,
)

SECOND = 10**9
NOW_SECONDS = int(datetime(2026, 11, 25, 8, 30, tzinfo=UTC).timestamp())
NOW = NOW_SECONDS * SECOND
EARLIER = NOW - 3600 * SECOND


def reading(**differs) -> RtcReading:
    """An RTC against which nothing speaks."""
    return RtcReading("rtc0", "rtc-test 1-0068", NOW, NOW, True, "good")._replace(**differs)


def word(*readings: RtcReading, trust_rtc: bool = True, stored: int = EARLIER):
    return rtc_word(readings, trust_rtc, NOW, stored)


# ── reading it ───────────────────────────────────────────────────────────────────────────────────


def read(root, flags: int | None = None):
    return read_rtcs(root, lambda: NOW, lambda device: flags)


def test_a_board_without_an_rtc_has_none(tmp_path):
    assert read(tmp_path) == ()


def test_what_an_rtc_says_is_read_as_the_middle_of_the_second_that_it_shows(tmp_path):
    (rtc,) = read(board_rtc(tmp_path, shows=NOW_SECONDS - 2), flags=0)
    assert rtc == ("rtc0", "rtc-test 1-0068", NOW - 3 * SECOND // 2, NOW, True, "good")
    assert rtc.apart_ns == 3 * SECOND // 2


def test_whether_the_kernel_set_the_clock_from_it_is_read(tmp_path):
    (rtc,) = read(board_rtc(tmp_path, shows=NOW_SECONDS, set_the_clock=False))
    assert not rtc.set_the_clock


def test_an_rtc_that_gives_no_time_is_read_as_one_that_gives_none(tmp_path):
    (rtc,) = read(board_rtc(tmp_path, shows=None))
    assert (rtc.says_utc, rtc.apart_ns, rtc.battery) == (None, None, "unknown")


def test_rtcs_come_in_order_of_their_numbers_and_not_more_than_are_looked_at(tmp_path):
    for number in (10, 2, 0):
        board_rtc(tmp_path, f"rtc{number}", shows=NOW_SECONDS)
    (tmp_path / "sys/class/rtc/other").mkdir()
    assert [rtc.name for rtc in read(tmp_path)] == ["rtc0", "rtc2", "rtc10"]
    for number in range(20, 40):
        board_rtc(tmp_path, f"rtc{number}", shows=NOW_SECONDS)
    assert len(read(tmp_path)) == MOST_RTCS


@pytest.mark.parametrize(
    ("flags", "battery"),
    [(None, "unknown"), (0, "good"), (1, "failed"), (2, "low"), (4, "failed"), (8, "low")],
)
def test_its_drivers_voltage_flags_tell_of_its_battery(tmp_path, flags, battery):
    """RTC_VL_DATA_INVALID 1, BACKUP_LOW 2, BACKUP_EMPTY 4, ACCURACY_LOW 8 (linux/rtc.h)."""
    (rtc,) = read(board_rtc(tmp_path, shows=NOW_SECONDS), flags)
    assert rtc.battery == battery


@pytest.mark.parametrize(
    ("microvolts", "battery"),
    [(3_000_000, "good"), (EMPTY_MICROVOLTS, "good"), (EMPTY_MICROVOLTS - 1, "failed")],
)
def test_where_its_driver_tells_the_volts_they_tell_of_its_battery(tmp_path, microvolts, battery):
    root = board_rtc(tmp_path, shows=NOW_SECONDS, battery_voltage=f"{microvolts}\n")
    assert read(root)[0].battery == battery


def test_a_time_before_the_program_was_written_is_that_of_a_failed_battery(tmp_path):
    (rtc,) = read(board_rtc(tmp_path, shows=WRITTEN_UTC // SECOND - 1), flags=0)
    assert rtc.battery == "failed"


def test_a_device_that_knows_no_voltage_flags_has_none_and_nor_has_a_missing_one(tmp_path):
    device = tmp_path / "rtc0"
    assert voltage_flags(device) is None
    device.write_text("")
    assert voltage_flags(device) is None


def test_this_machines_rtcs_are_read_whatever_they_are():
    for rtc in read_rtcs():
        assert rtc.name.startswith("rtc")
        assert rtc.system_utc > WRITTEN_UTC


# ── believing it ─────────────────────────────────────────────────────────────────────────────────


def test_an_rtc_against_which_nothing_speaks_vouches_for_the_clock():
    assert word(reading()) == (
        True,
        "rtc0 vouches for the clock; it and the system's clock agree to within 100ms",
    )


def test_it_vouches_only_where_the_file_says_so():
    vouches, says = word(reading(), trust_rtc=False)
    assert not vouches
    assert "clock.trust_rtc" in says


def test_where_there_is_none_none_vouches():
    assert word() == (False, "the file trusts the board's RTC, but the kernel knows of none")


@pytest.mark.parametrize("way", [1, -1])
def test_it_must_agree_with_the_systems_clock_to_within_three_seconds(way):
    assert word(reading(says_utc=NOW + way * MOST_APART_NS)).vouches
    apart = word(reading(says_utc=NOW + way * (MOST_APART_NS + 1)))
    assert apart == (False, "rtc0: it and the system's clock are 3.1s apart")


def test_an_rtc_that_keeps_local_time_is_hours_apart_and_vouches_for_nothing():
    assert word(reading(says_utc=NOW - 4 * 3600 * SECOND), stored=0).says == (
        "rtc0: it and the system's clock are 4h apart"
    )


def test_it_must_have_set_the_clock_at_the_start():
    """Else a clock that somebody set by it, or by the same mistake, would vouch for itself."""
    assert word(reading(set_the_clock=False)) == (
        False,
        "rtc0: the kernel did not set the system's clock from it at the start",
    )


def test_neither_clock_may_be_before_the_newest_stored_event():
    assert word(reading(), stored=NOW).vouches
    assert word(reading(), stored=NOW + SECOND) == (
        False,
        "rtc0: it says 2026-11-25 08:30:00 UTC, before the newest event in the store, "
        "of 2026-11-25 08:30:01 UTC",
    )
    assert not word(reading(says_utc=NOW - SECOND), stored=NOW).vouches


def test_a_failed_battery_vouches_for_nothing_and_a_low_one_still_does():
    assert word(reading(battery="failed")) == (False, "rtc0: its battery is empty or missing")
    low = word(reading(battery="low"))
    assert low.vouches
    assert low.says.endswith("its battery is low")
    assert word(reading(battery="unknown")).vouches


def test_an_rtc_that_begins_again_at_1970_says_what_is_wrong_with_it():
    assert "its battery has failed" in word(reading(says_utc=SECOND // 2, battery="failed")).says
    assert "it must be set" in word(reading(says_utc=None)).says


def test_of_two_rtcs_the_one_that_may_vouch_does():
    poor = reading(set_the_clock=False)
    assert word(poor, reading(name="rtc1")).says.startswith("rtc1 vouches")
    both = word(poor, reading(name="rtc1", battery="failed")).says
    assert both.startswith("rtc0: ")
    assert "; rtc1: " in both


@given(
    st.none() | st.integers(0, 2 * NOW),
    st.integers(0, 2 * NOW),
    st.booleans(),
    st.sampled_from(["good", "low", "failed", "unknown"]),
    st.booleans(),
    st.integers(0, 2 * NOW),
)
def test_it_never_vouches_where_anything_speaks_against_it(says, now, sets, battery, trust, stored):
    one = RtcReading("rtc0", "chip", says, now, sets, battery)
    vouches, words = rtc_word((one,), trust, now, stored)
    assert words
    if vouches:
        assert trust
        assert sets
        assert battery != "failed"
        assert says is not None
        assert abs(says - now) <= MOST_APART_NS
        assert min(says, now) >= max(stored, WRITTEN_UTC - MOST_APART_NS)
