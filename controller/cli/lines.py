"""`understudy lines`: the lines of dials, and what is said to one of them."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from controller.cli.described import giving
from controller.cli.options import Line, Runtime

lines = typer.Typer()

Shows = Annotated[str, typer.Argument(metavar="HH:MM[:SS]")]


class Polarity(StrEnum):
    """Which polarity came last."""

    plus = "+"
    minus = "-"


@lines.callback(invoke_without_command=True, subcommand_metavar="[COMMAND [ARGS]...]")
def _lines(ctx: typer.Context, line: Line = None, runtime: Runtime = None) -> None:
    """List the lines of dials; show one; or say something to it."""
    if ctx.invoked_subcommand is None:
        from controller.cli.status import print_lines

        print_lines(runtime, line)


def _said(ctx: typer.Context, runtime: Path | None, order: str, **keys: Any) -> None:
    """Give an order to the line that was named before the command."""
    from controller.cli.asking import said

    assert ctx.parent is not None, "these commands stand behind `lines LINE`"
    said(runtime or ctx.parent.params["runtime"], order, line=ctx.parent.params["line"], **keys)


@lines.command("hold", cls=giving("hold"))
def _hold(ctx: typer.Context, runtime: Runtime = None) -> None:
    _said(ctx, runtime, "hold")


@lines.command("go", cls=giving("go"))
def _go(ctx: typer.Context, runtime: Runtime = None) -> None:
    _said(ctx, runtime, "go")


@lines.command("set", cls=giving("set"))
def _set(
    ctx: typer.Context,
    shows: Shows,
    polarity: Annotated[
        Polarity | None, typer.Option("--polarity", metavar="+|-", show_default=False)
    ] = None,
    runtime: Runtime = None,
) -> None:
    _said(ctx, runtime, "set", shows=shows, polarity=None if polarity is None else polarity.value)


@lines.command("step", cls=giving("step"))
def _step(
    ctx: typer.Context,
    impulses: Annotated[int | None, typer.Argument(metavar="[N]", show_default="1")] = None,
    runtime: Runtime = None,
) -> None:
    _said(ctx, runtime, "step", impulses=impulses)


@lines.command("to", cls=giving("to"))
def _to(ctx: typer.Context, shows: Shows, runtime: Runtime = None) -> None:
    _said(ctx, runtime, "to", shows=shows)


@lines.command("right", cls=giving("right"))
def _right(ctx: typer.Context, runtime: Runtime = None) -> None:
    _said(ctx, runtime, "right")


@lines.command("stood", cls=giving("stood"))
def _stood(ctx: typer.Context, runtime: Runtime = None) -> None:
    _said(ctx, runtime, "stood")


@lines.command("swapped", cls=giving("swapped"))
def _swapped(ctx: typer.Context, runtime: Runtime = None) -> None:
    _said(ctx, runtime, "swapped")


@lines.command("moved", cls=giving("moved"))
def _moved(ctx: typer.Context, runtime: Runtime = None) -> None:
    _said(ctx, runtime, "moved")
