"""What ends a daemon is heard, whoever says it and whenever."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading

from controller.service.ends import Ends

# The signal comes while Python's own code runs no more and the waiting has not begun: as if it had
# come just before, its handler is run late. A timer in the kernel tries many such instants.
MANY_SIGNALS = """
import signal
from controller.service.ends import Ends

ends, times = Ends(), 20_000
ends.hear_signals()
signal.signal(signal.SIGALRM, lambda *_: ends.put("heard"))
for number in range(times):
    signal.setitimer(signal.ITIMER_REAL, 1e-6 + number % 50 * 1e-6)
    assert ends.get() == "heard"
print(times)
"""


def test_words_are_heard_in_the_order_in_which_they_were_said() -> None:
    ends = Ends()
    for word in ("reload", "", "the hand is gone"):
        ends.put(word)
    assert [ends.get() for _ in range(3)] == ["reload", "", "the hand is gone"]


def test_a_thread_that_waits_hears_another_one() -> None:
    ends = Ends()
    other = threading.Timer(0, ends.put, ["it failed"])
    other.start()
    assert ends.get() == "it failed"
    other.join()


def test_more_words_than_a_pipe_holds_are_all_heard() -> None:
    ends = Ends()
    for number in range(100_000):
        ends.put(str(number))
    assert [int(ends.get()) for _ in range(100_000)] == list(range(100_000))


def test_a_signal_is_heard_at_whatever_instant_it_comes() -> None:
    done = subprocess.run(
        [sys.executable, "-c", MANY_SIGNALS],
        capture_output=True,
        text=True,
        timeout=50,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )
    assert (done.returncode, done.stdout) == (0, "20000\n"), done.stderr
    assert signal.getsignal(signal.SIGALRM) is signal.SIG_DFL, "here nothing was changed"
