"""Commands that are one order to the daemon: bells, plans, clock, faults."""

from __future__ import annotations

from typing import Annotated

import typer

from controller.cli.completing import faults, plans
from controller.cli.described import giving
from controller.cli.options import Runtime, Zones

orders = typer.Typer()


@orders.command("ring", cls=giving("ring"))
def _ring(
    zones: Zones,
    for_: Annotated[
        str | None, typer.Option("--for", metavar="DURATION", show_default="3s")
    ] = None,
    runtime: Runtime = None,
) -> None:
    from controller.cli.asking import said

    said(runtime, "ring", zones=zones, **{"for": for_})


@orders.command("stop", cls=giving("stop"))
def _stop(runtime: Runtime = None) -> None:
    from controller.cli.asking import said

    said(runtime, "stop")


@orders.command("quiet", cls=giving("quiet"))
def _quiet(
    zones: Zones,
    until: Annotated[
        str | None, typer.Option("--until", metavar="LOCAL", show_default=False)
    ] = None,
    lift: Annotated[bool, typer.Option("--lift")] = False,
    runtime: Runtime = None,
) -> None:
    from controller.cli.asking import said

    if lift == (until is not None):
        raise typer.BadParameter("expected one of the two", param_hint="--until or --lift")
    if lift:
        said(runtime, "lift-quiet", zones=zones)
    else:
        said(runtime, "quiet", zones=zones, until=until)


@orders.command("follow", cls=giving("follow"))
def _follow(
    date: Annotated[str, typer.Argument(metavar="DATE")],
    plan: Annotated[str, typer.Argument(metavar="PLAN", autocompletion=plans)],
    runtime: Runtime = None,
) -> None:
    from controller.cli.asking import said

    said(runtime, "follow", date=date, plan=plan)


@orders.command("trust-clock", cls=giving("trust-clock"))
def _trust_clock(runtime: Runtime = None) -> None:
    from controller.cli.asking import said

    said(runtime, "trust-clock")


@orders.command("acknowledge", cls=giving("acknowledge"))
def _acknowledge(
    fault: Annotated[
        str | None, typer.Argument(metavar="[FAULT]", autocompletion=faults, show_default=False)
    ] = None,
    runtime: Runtime = None,
) -> None:
    from controller.cli.asking import said

    said(runtime, "acknowledge", fault=fault)
