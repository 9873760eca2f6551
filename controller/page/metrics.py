"""`/metrics`: the state in numbers, as Prometheus reads them (text exposition format 0.0.4)."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import Any, NamedTuple

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from controller.building.civil import SECOND, utc_ns
from controller.page.asking import Seen, seen
from controller.page.tokens import find_machine, refusal

KIND = "text/plain; version=0.0.4; charset=utf-8"
_IN_LABEL = str.maketrans({"\\": r"\\", '"': r"\"", "\n": r"\n"})


class Metric(NamedTuple):
    """One measure, and its values by their labels. All are gauges: nothing here only grows."""

    name: str
    meaning: str  # one plain line
    values: list[tuple[Mapping[str, str], float]]


async def metrics(request: Request) -> Response:
    """The numbers, for a machine that may look. A proxy on this machine is no reason to trust."""
    no = refusal(request, find_machine(request), "look")
    if no is not None:
        return no
    return Response(exposition(metrics_of(await seen(request))), media_type=KIND)


def exposition(found: Iterable[Metric]) -> str:
    """The text of it. A measure without values is left out."""
    lines = []
    for metric in found:
        if not metric.values:
            continue
        lines.append(f"# HELP {metric.name} {metric.meaning}")
        lines.append(f"# TYPE {metric.name} gauge")
        for labels, value in metric.values:
            inner = ",".join(
                f'{name}="{text.translate(_IN_LABEL)}"' for name, text in labels.items()
            )
            lines.append(f"{metric.name}{f'{{{inner}}}' if inner else ''} {value!r}")
    return "\n".join([*lines, ""])


def metrics_of(state: Seen) -> Iterator[Metric]:
    """What is known, in numbers. Of a daemon that is down no more than that, and since when."""
    yield _one("up", "Whether the daemon answers.", state.live)
    if state.picture is None:
        return
    if not state.live:
        last = time.time() - state.age_seconds
        yield _one("last_state_timestamp_seconds", "When the daemon last left its state.", last)
        return
    picture = state.picture
    yield Metric(
        "understudy_build_info",
        "The version of the daemon.",
        [({"version": str(picture["version"])}, 1)],
    )
    yield _one("well", "Whether all is well.", picture["well"])
    yield from _of_the_machine(picture)
    yield from _of_zones(picture)
    yield from _of_lines(picture)
    yield from _of_faults(picture)


def _of_the_machine(picture: Mapping[str, Any]) -> Iterator[Metric]:
    clock, supply = picture["clock"], picture["supply"]
    yield _one("clock_trusted", "Whether somebody vouches for the clock.", clock["trusted"])
    if clock["error_seconds"] is not None:
        words = "By how much the clock may be wrong."
        yield _one("clock_error_seconds", words, clock["error_seconds"])
    yield _one("storing", "Whether the store can be written.", picture["storing"])
    if supply["sensed"]:
        yield _one(
            "supply_there", "Whether the supply of bells and dials is there.", supply["there"]
        )


def _of_zones(picture: Mapping[str, Any]) -> Iterator[Metric]:
    zones = picture["zones"]
    states: list[tuple[Mapping[str, str], float]] = [
        ({"zone": name, "state": zone["state"]}, 1) for name, zone in zones.items()
    ]
    yield Metric("understudy_zone_state", "How a zone stands: 1 at the state that holds.", states)
    first: dict[str, float] = {}
    for ring in picture["next"]:
        first.setdefault(ring["zone"], _seconds(ring["at"]))
    yield Metric(
        "understudy_next_ring_timestamp_seconds",
        "When a zone rings next, of those rings that come next of all.",
        [({"zone": name}, at) for name, at in first.items()],
    )


def _of_lines(picture: Mapping[str, Any]) -> Iterator[Metric]:
    lines = picture["lines"]
    states: list[tuple[Mapping[str, str], float]] = [
        ({"line": name, "state": line["state"]}, 1) for name, line in lines.items()
    ]
    yield Metric("understudy_line_state", "How a line stands: 1 at the state that holds.", states)
    yield Metric(
        "understudy_line_doubtful",
        "Whether what a line's dials show is known, but not for certain.",
        [({"line": name}, int(line["doubtful"])) for name, line in lines.items()],
    )
    for key, name, meaning in (
        ("last_impulse", "last_impulse", "When a line's last impulse was stored."),
        ("right_at", "right_at", "When a line that is not right will be."),
    ):
        at = [({"line": line}, _seconds(one[key])) for line, one in lines.items() if one[key]]
        yield Metric(f"understudy_line_{name}_timestamp_seconds", meaning, [*at])


def _of_faults(picture: Mapping[str, Any]) -> Iterator[Metric]:
    lasting = [fault for fault in picture["faults"] if not fault["until"]]
    yield _one("faults", "How many faults last.", len(lasting))
    since = [({"fault": fault["name"]}, _seconds(fault["since"])) for fault in lasting]
    yield Metric("understudy_fault_since_timestamp_seconds", "When a fault began.", [*since])


def _one(name: str, meaning: str, value: float) -> Metric:
    number = int(value) if isinstance(value, bool) else value
    return Metric(f"understudy_{name}", meaning, [({}, number)])


def _seconds(iso: str) -> float:
    return utc_ns(datetime.fromisoformat(iso)) / SECOND


ROUTES = [Route("/metrics", metrics, methods=["GET"])]
