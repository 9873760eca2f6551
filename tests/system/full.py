"""The full run, in parts of at most 40 minutes each, and their figures in one table.

python tests/system/full.py            which parts there are
python tests/system/full.py PART …     run these (`all` for every one), then print the table
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path
from typing import TypeVar

from build_guest import build_guest
from figures import note

Rounds = TypeVar("Rounds")

HERE = Path(__file__).resolve().parent
REPOSITORY = HERE.parents[1]
GIVEN_OUT = ("--dist", "worksteal")  # some tests take minutes: to whoever is free
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
    "crash-points": ["test_crash_points.py"],
    **{f"cuts-{n}": [f"{_CUTS}[{2 * n - 2}]", f"{_CUTS}[{2 * n - 1}]"] for n in range(1, 5)},
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
        command = [sys.executable, "-m", "pytest", "-m", "system", "-n", "2", *GIVEN_OUT, *tests]
        environment = os.environ | {"UNDERSTUDY_SYSTEM": "full"}
        began = time.monotonic()
        code |= subprocess.run(command, cwd=REPOSITORY, env=environment).returncode
        note(f"the part {part}", (time.monotonic() - began) / 60, "min", 40)
    subprocess.run([sys.executable, str(HERE / "figures.py")])
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
