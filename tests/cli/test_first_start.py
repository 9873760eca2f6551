"""`understudy first-start`: the dialogue, as a person has it."""

from __future__ import annotations

from typing import Any

import pytest
from desks import FakeDaemon, clock_words, moment, settled, small_building
from houses import SMALL

from controller.cli import first_start
from controller.engine.records import LineRow
from controller.service.order_server import Reply
from controller.service.picture import state_picture

YARD = '[lines.yard]\ndrive = "single"\nrelays = [4]\n'
BUILDING = small_building(SMALL + YARD)
GIVE, SHOWN = "Give the impulse?", "What do the dials show now?"


class House:
    """A daemon with two lines of which nobody has said anything yet; its orders count."""

    def __init__(self, daemon: FakeDaemon) -> None:
        self.desk = daemon.desk
        self.daemon = daemon
        self.trusted_by = "kernel"
        self.rows = {
            name: LineRow(
                name, False, 0, line.positions, "-", False, False, None, 0, polarity_known=False
            )
            for name, line in BUILDING.lines.items()
        }
        self.desk.replies |= {"trust-clock": self._trust, "step": self._step, "set": self._set}
        self.show()

    def show(self) -> None:
        trusted = self.trusted_by != "nobody"
        now = moment(BUILDING, trusted=trusted)
        state = settled(BUILDING, now)
        lines = {name: state.lines[name]._replace(row=row) for name, row in self.rows.items()}
        known = state._replace(lines=lines)
        self.daemon.shows(state_picture(BUILDING, known, now, clock_words(now, self.trusted_by)))

    def change(self, name: str, **more: Any) -> None:
        self.rows[name] = self.rows[name]._replace(**more)
        self.show()

    def _trust(self, said: dict[str, Any]) -> Reply:
        self.trusted_by = "person"
        self.show()
        return Reply(True, "The clock is trusted from now on.")

    def _step(self, said: dict[str, Any]) -> Reply:
        row = self.rows[said["line"]]
        if row.held:
            return Reply(False, f"{said['line']} is held: a held line gives nothing.")
        self.change(said["line"], polarity="+", polarity_known=True)
        return Reply(True, f"{said['line']}: 1 impulse, +, more.")

    def _set(self, said: dict[str, Any]) -> Reply:
        if said["shows"] not in ("10:28", "10:30"):
            return Reply(False, f"'{said['shows']}': expected HH:MM.")
        hours, minutes = map(int, said["shows"].split(":"))
        self.change(said["line"], read=True, shown=hours * 60 + minutes)
        return Reply(True, f"{said['line']} goes. It is right at 10:30:14.")


@pytest.fixture
def first(daemon):
    return House(daemon)


def orders(house: House) -> list[str]:
    return [" ".join(map(str, said.values())) for said in house.desk.heard]


def test_it_leads_through_clock_polarity_and_dials_and_ends_with_the_state(understudy, first):
    first.trusted_by = "nobody"
    first.show()
    said = understudy("first-start", typed="y\nyes\n10:28\n10:30\n")
    assert said.code == 0
    words = said.words
    assert "The clock says Wednesday 25 November 2026, 10:30:10 (America/Halifax)" in words
    assert "The clock is trusted from now on." in words
    assert "Line 1 of 2: main, Classrooms." in words
    assert "Every dial of the line has now had + last, whether it moved or not." in words
    assert "main goes. It is right at 10:30:14." in words
    assert "Line 2 of 2: yard." in words
    assert orders(first) == [
        "trust-clock",
        "step main 1",
        "set main 10:28",
        "set yard 10:30",
    ]
    assert "main Classrooms shows 10:28, is driven" in words.split("yard goes")[1]


def test_a_clock_that_is_trusted_already_is_not_asked_about(understudy, first):
    said = understudy("first-start", typed="\n\n")
    assert "and is trusted." in said.words
    assert orders(first) == []


def test_a_clock_that_is_wrong_is_set_first_and_nobody_says_that_it_is_right(understudy, first):
    first.trusted_by = "nobody"
    first.show()
    said = understudy("first-start", typed="n\n\n\n")
    assert said.code == 0
    assert "Then set it first" in said.words
    assert orders(first) == []


def test_enter_alone_leaves_a_line_for_later(understudy, first):
    said = understudy("first-start", typed="yes\n\n\n")
    assert said.code == 0
    assert "main is left for later" in said.words
    assert "yard is left for later" in said.words
    assert orders(first) == ["step main 1"]
    assert "to settle main: understudy lines main set HH:MM" in said.words


def test_begun_again_it_asks_only_for_what_is_missing(understudy, first):
    first.change("main", polarity="+", polarity_known=True)
    first.change("yard", read=True, shown=630)
    said = understudy("first-start", typed="10:30\n")
    assert said.code == 0
    assert "Line 1 of 1: main" in said.words
    assert GIVE not in said.out
    assert orders(first) == ["set main 10:30"]


def test_where_all_lines_are_read_there_is_nothing_to_ask(understudy, first):
    for name in BUILDING.lines:
        first.change(name, read=True, shown=630)
    said = understudy("first-start")
    assert said.code == 0
    assert "No line of dials is unread." in said.words
    assert said.words.count("All is well.") == 1


def test_what_is_not_understood_is_said_in_the_daemons_words_and_asked_again(understudy, first):
    first.change("yard", read=True, shown=630)
    said = understudy("first-start", typed="yes\nhalf past\n25:61\n10:28\n")
    assert said.code == 0
    assert "Not understood: expected hours and minutes" in said.words
    assert "'25:61': expected HH:MM." in said.words
    assert said.out.count(SHOWN) == 3
    assert orders(first) == ["step main 1", "set main 25:61", "set main 10:28"]


def test_an_hour_of_one_digit_is_understood(understudy, first):
    first.change("yard", read=True, shown=630)
    first.desk.replies["set"] = lambda said: Reply(True, "main goes.")
    understudy("first-start", typed="yes\n8:05\n")
    assert orders(first)[-1] == "set main 08:05"


def test_dials_that_differ_among_themselves_are_explained(understudy, first):
    first.change("yard", read=True, shown=630)
    said = understudy("first-start", typed="yes\ndiffer\n10:28\n")
    assert "Dials that differ are set at the dial" in said.words
    assert "understudy lines main to 12:00" in said.words
    assert orders(first) == ["step main 1", "set main 10:28"]


def test_a_held_line_gives_no_impulse_and_can_be_set_all_the_same(understudy, first):
    first.change("yard", read=True, shown=630)
    first.change("main", held=True)
    said = understudy("first-start", typed="yes\n10:28\n")
    assert "a held line gives nothing" in said.words
    assert orders(first)[-1] == "set main 10:28"


def test_an_impulse_that_does_not_come_is_not_waited_for_for_ever(understudy, first, monkeypatch):
    monkeypatch.setattr(first_start, "IMPULSE_SECONDS", 0.3)
    first.change("yard", read=True, shown=630)
    first.desk.replies["step"] = lambda said: Reply(True, "main: 1 impulse more.")
    said = understudy("first-start", typed="yes\n\n")
    assert said.code == 0
    assert "The impulse has not come yet" in said.words


def test_at_one_question_it_does_not_ask_for_ever(understudy, first):
    first.change("yard", read=True, shown=630)
    said = understudy("first-start", typed="yes\n" + "noon\n" * 100)
    assert said.code == 0
    assert said.out.count(SHOWN) == first_start.MOST_TRIES


def test_whoever_leaves_in_the_middle_may_begin_again(understudy, first):
    said = understudy("first-start", typed="yes\n")
    assert said.code == 1
    assert orders(first) == ["step main 1"]
    again = understudy("first-start", typed="10:28\n\n")
    assert again.code == 0
    assert orders(first) == ["step main 1", "set main 10:28"]
