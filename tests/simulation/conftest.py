"""Each story is played through by the rehearsal, from a file written for it."""

from __future__ import annotations

import pytest
from stories import Stage


@pytest.fixture
def stage(tmp_path) -> Stage:
    return Stage(tmp_path)
