"""Commands whose help is the description of the orders that they give.

It is read in `service/orders.py`, and only where somebody asks for help: an order should not wait
for what only its help needs.
"""

from __future__ import annotations

from typing import Any

from typer.core import TyperCommand


class _OrderCommand(TyperCommand):
    """A command that gives an order. A parameter that is named for another order is that one's."""

    order: str

    def get_short_help_str(self, limit: int = 45) -> str:
        self._describe()
        return super().get_short_help_str(limit)

    def format_help(self, ctx: Any, formatter: Any) -> None:
        self._describe()
        super().format_help(ctx, formatter)

    def _describe(self) -> None:
        from controller.service.orders import ORDERS

        kind = ORDERS[self.order]
        self.help = self.help or _one_line(kind.__doc__)
        for parameter in self.params:
            name = parameter.name or ""
            other = ORDERS.get(f"{name}-{self.order}")
            if other is not None:
                parameter.help = _one_line(other.__doc__)  # type: ignore[attr-defined]
            elif name in kind.model_fields and not getattr(parameter, "help", None):
                parameter.help = kind.model_fields[name].description  # type: ignore[attr-defined]


def _one_line(text: str | None) -> str:
    return " ".join((text or "").split())


def giving(order: str) -> type[TyperCommand]:
    """The class of a command that gives this order."""
    return type("OrderCommand", (_OrderCommand,), {"order": order})
