"""For all tests: the same examples every time, however long a busy machine takes over one; and
signals as a terminal has them, also where the tests were started in the background or by nohup,
whose ignored signals every process of the tests would inherit. And buildings
from the text of a file.
"""

from __future__ import annotations

import itertools
import signal
from collections.abc import Callable

import pytest
from hypothesis import settings

from controller.building.file import read
from controller.building.model import Building

settings.register_profile("repeatable", derandomize=True, deadline=None, print_blob=True)
settings.load_profile("repeatable")

signal.signal(signal.SIGINT, signal.default_int_handler)
signal.signal(signal.SIGHUP, signal.SIG_DFL)


@pytest.fixture(scope="session")
def building_of(tmp_path_factory) -> Callable[[str], Building]:
    """Reads a building from the text of its file, as a keeper would write it."""
    folder = tmp_path_factory.mktemp("buildings")
    numbers = itertools.count()

    def made(text: str) -> Building:
        path = folder / f"{next(numbers)}.toml"
        path.write_text(text, encoding="utf-8")
        return read(path)

    return made
