"""The full run, in parts of at most 40 minutes each, and their figures in one table.

python tests/system/full.py            which parts there are
python tests/system/full.py PART …     run these (`all` for every one), then print the table
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import TypeVar

from build_guest import build_guest

Rounds = TypeVar("Rounds")

HERE = Path(__file__).resolve().parent
REPOSITORY = HERE.parents[1]
_CUTS = "test_power_cuts.py::test_after_power_cuts_dials_are_exact_and_no_ring_is_given_twice"
# Name → what pytest is told; two guests at once where that helps.
PARTS = {
    "at-work": [
        "test_at_work_in_a_guest.py",
        "test_clock_in_a_guest.py",
        "test_time_server_in_a_guest.py",
        "test_inputs_in_a_guest.py",
        "test_disk_in_a_guest.py",
        "test_stores_and_removal_in_a_guest.py",
        "test_upgrade_in_a_guest.py",
    ],
    "judges": ["test_judges_proved_in_a_guest.py"],
    "starts": ["test_starts_in_a_guest.py"],
    "deaths": ["test_deaths_in_a_guest.py"],
    "cuts-1": [f"{_CUTS}[0]", f"{_CUTS}[1]"],
    "cuts-2": [f"{_CUTS}[2]", f"{_CUTS}[3]"],
    "crash-points": ["test_crash_points.py"],
}


def rounds(short: Rounds, full: Rounds) -> Rounds:
    """How often something is done, or what is: in the short form, or in the full run."""
    return full if os.environ.get("UNDERSTUDY_SYSTEM") == "full" else short


def main(words: list[str]) -> int:
    """The command; its exit code."""
    wanted = list(PARTS) if words == ["all"] else words
    if not wanted or set(wanted) - set(PARTS):
        print(f"{__doc__}\nParts: {', '.join(PARTS)}.", file=sys.stderr)
        return 2
    code = 0
    build_guest()  # once, before two want it
    for part in wanted:
        tests = [str(HERE / name) for name in PARTS[part]]
        command = [sys.executable, "-m", "pytest", "-m", "system", "-v", "-n", "2", *tests]
        environment = os.environ | {"UNDERSTUDY_SYSTEM": "full"}
        code |= subprocess.run(command, cwd=REPOSITORY, env=environment).returncode
    subprocess.run([sys.executable, str(HERE / "figures.py")])
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
