"""What is kept of a bench run: who tried what of which wiring, when, and what came of it."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from typing import Any, NamedTuple

from controller.bench.histogram import Histogram
from controller.bench.steps import Result
from controller.circuits.senses import MILLISECOND


class Heading(NamedTuple):
    """What a run is of. Dates are ISO 8601, in the building's local time with its offset."""

    building: str
    path: str
    installers_fingerprint: str  # of the installer's tables alone: the keeper's edits do not count
    by: str
    began: str
    on: str  # the pins of which machine, or the fake board
    version: str


class Record(NamedTuple):
    """One run."""

    heading: Heading
    results: tuple[Result, ...]
    unread: tuple[str, ...]  # lines that it moved
    ended: str  # as `began`; "" while it goes on
    stopped: str  # why it ended early; "" where it did not

    @property
    def faults(self) -> int:
        """How many things have a fault."""
        return sum(result.verdict == "fault" for result in self.results)

    def by_test(self) -> Iterator[tuple[str, list[Result]]]:
        """Results test by test."""
        for test, results in groupby(self.results, lambda result: result.test):
            yield test, list(results)


def with_result(record: Record, result: Result) -> Record:
    """The record with a result, in place of the one of the same test and thing if there is one."""
    place = (result.test, result.what)
    results = [one for one in record.results if (one.test, one.what) != place]
    return record._replace(results=(*results, result))


def summary(record: Record) -> str:
    """ "9 well, 1 fault, 3 not judged"."""
    counts: dict[str, int] = {}
    for result in record.results:
        counts[result.verdict] = counts.get(result.verdict, 0) + 1
    said = [
        f"{count} {verdict}{'s' if verdict == 'fault' and count != 1 else ''}"
        for verdict, count in counts.items()
    ]
    return ", ".join(said) or "nothing was tried"


def to_json(record: Record) -> str:
    """The record as JSON; every key is named as here."""
    plain: dict[str, Any] = record.heading._asdict() | {
        "ended": record.ended,
        "stopped": record.stopped,
        "unread_lines": record.unread,
        "results": [
            {
                **result._asdict(),
                "figures": dict(result.figures),
                "histograms": [_histogram(one) for one in result.histograms],
            }
            for result in record.results
        ],
    }
    return json.dumps(plain, ensure_ascii=False, indent=1) + "\n"


def _histogram(of: Histogram) -> dict[str, Any]:
    return {
        "name": of.name,
        "from_ms": round(of.start_ns / MILLISECOND, 3),
        "bin_ms": round(of.width_ns / MILLISECOND, 3),
        "counts": of.counts,
    }


def write_whole(path: Path, content: bytes) -> None:
    """Put a file in its place, flushed: whole, or not at all. Raises `OSError`."""
    new = path.with_name(path.name + ".new")
    with new.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    new.replace(path)
