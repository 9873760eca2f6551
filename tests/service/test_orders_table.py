"""DEVELOPERS.md has the orders as the program's own table has them."""

from __future__ import annotations

from pathlib import Path

from controller.service.orders import orders_markdown

DEVELOPERS = Path(__file__).parents[2] / "DEVELOPERS.md"


def test_the_table_of_orders_is_the_programs_own():
    text = DEVELOPERS.read_text(encoding="utf-8")
    _, _, rest = text.partition("<!-- orders -->\n")
    table, end, _ = rest.partition("<!-- /orders -->")
    assert end
    assert table == orders_markdown()
