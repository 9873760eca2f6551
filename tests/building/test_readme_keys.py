"""The README's table of keys is the program's own."""

from __future__ import annotations

from pathlib import Path

from controller.building.keys import keys_markdown

README = Path(__file__).parents[2] / "README.md"
BEGIN, END = "<!-- keys -->\n", "<!-- /keys -->\n"


def test_the_readme_has_every_key_as_the_program_takes_it():
    text = README.read_text(encoding="utf-8")
    assert (text.count(BEGIN), text.count(END)) == (1, 1)
    table = text.partition(BEGIN)[2].partition(END)[0]
    assert table == keys_markdown() + "\n", "put the output of controller.building.keys there"
