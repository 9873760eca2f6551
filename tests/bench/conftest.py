"""Benches at work."""

from __future__ import annotations

import contextlib
import os
import signal
from collections.abc import Iterator

import pytest
from benches_at_work import BenchAtWork

from controller.circuits.lines import PinsFault


@pytest.fixture
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[BenchAtWork]:
    here = BenchAtWork(tmp_path_factory.mktemp("b"))
    yield here
    if here.process is not None and here.process.poll() is None:
        here.process.send_signal(signal.SIGCONT)
        here.process.kill()
        here.process.wait()
    if here.terminal >= 0:
        os.close(here.terminal)
    with contextlib.suppress(PinsFault), here.board() as board:
        board.end()
