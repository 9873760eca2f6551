"""The invented timetables of the timetable's own tests are drawn here."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "timetable"))
