"""Who vouches for the clock, as the daemon asks it once a second."""

from __future__ import annotations

import pytest

from controller.service import clock
from controller.service.clock import ClockWatch
from controller.timekeeping.kernel import KernelWord
from controller.timekeeping.rtc import RtcWord

SECOND = 1_000_000_000


@pytest.fixture
def asked(monkeypatch):
    """A machine whose clock nobody keeps, and whose RTC is right."""
    words = {"kernel": KernelWord(False, 16 * SECOND)}
    monkeypatch.setattr(clock, "kernel_word", lambda: words["kernel"])
    monkeypatch.setattr(clock, "read_rtcs", lambda: ())
    monkeypatch.setattr(clock, "rtc_word", lambda *_: RtcWord(True, ""))
    return words


def watch(trust_rtc: bool) -> ClockWatch:
    return ClockWatch(trust_rtc=trust_rtc, newest_stored_utc=0, as_if_right=False)


def test_the_rtc_vouches_where_the_file_allows_it_and_nowhere_else(asked):
    assert watch(trust_rtc=True).vouched()
    assert not watch(trust_rtc=False).vouched()


def test_a_file_that_allows_or_forbids_it_counts_from_its_reload_on(asked):
    watched = watch(trust_rtc=False)
    watched.trust_rtc = True
    watched.look()
    assert watched.vouched()
    watched.trust_rtc = False
    watched.look()
    assert not watched.vouched()


def test_the_kernel_s_word_goes_before_it(asked):
    watched = watch(trust_rtc=False)
    asked["kernel"] = KernelWord(True, SECOND // 100)
    watched.look()
    assert watched.vouched()
