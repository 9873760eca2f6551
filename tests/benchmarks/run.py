"""Run the benchmarks, all or those named, and print one table.

    python tests/benchmarks/run.py [P1 P3 …] [--keep FILE] [--chart FILE.svg]
    python tests/benchmarks/run.py --from FILE [P1 P3 …] [--chart FILE.svg]

`--keep` puts the figures into a JSON file, in place of what it has of the same benchmarks; the rest
stays. `--from` measures nothing: it reads what was kept. `--chart` draws what the file that was
given has, or else what was measured. They run one after another, never two at once.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

from chart import drawn
from rows import Figures, Run, compile_all, conditions, keep, kept, table

# Module by benchmark; in each a function `rows` that measures.
BENCHMARKS = {
    "P1": "edges_late",
    "P2": "rehearsed",
    "P3": "year_of_rings",
    "P4": "start_and_memory",
    "P5": "stored_impulse_bytes",
    "P6": "idle_processor",
    "P7": "growth",
}


def measured(names: list[str]) -> Iterator[tuple[str, Run]]:
    """The named benchmarks' rows; one that fails is said, and the others go on."""
    for name in names:
        print(f"{name}: {BENCHMARKS[name]} …", file=sys.stderr, flush=True)
        before = os.getloadavg()[0]
        try:
            rows = tuple(import_module(BENCHMARKS[name]).rows())
        except (Exception, SystemExit) as fault:
            print(f"{name}: {type(fault).__name__}: {fault}", file=sys.stderr)
        else:
            yield name, Run(conditions(before), rows)


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("names", nargs="*", metavar="P", help=f"of {', '.join(BENCHMARKS)}")
    parser.add_argument("--keep", type=Path, metavar="FILE", help="put the figures there")
    parser.add_argument("--from", type=Path, metavar="FILE", dest="read", help="only read them")
    parser.add_argument("--chart", type=Path, metavar="FILE.svg")
    given = parser.parse_args()
    names = given.names or list(BENCHMARKS)
    if unknown := [name for name in names if name not in BENCHMARKS]:
        parser.error(f"no benchmark {', '.join(unknown)}; there are {', '.join(BENCHMARKS)}")
    found: Figures = {}
    if given.read:
        found = {name: run for name, run in kept(given.read).items() if name in names}
    else:
        compile_all()
        for name, run in measured(names):
            found[name] = run
            if given.keep:
                keep({name: run}, given.keep)
    if given.chart:
        given.chart.write_text(drawn(kept(given.keep) if given.keep else found))
    print("\n".join(table(found)))
    return 0 if given.read or len(found) == len(names) else 1


if __name__ == "__main__":
    sys.exit(main())
