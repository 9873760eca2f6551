"""Commands that are one order to the daemon."""

from __future__ import annotations

import subprocess
import sys
import threading

import pytest
import typer
from typer.testing import CliRunner

from controller.cli.app import app
from controller.service.order_server import Reply
from controller.service.orders import ORDERS

LINE = {"line": "main"}


@pytest.mark.parametrize(
    ("given", "heard"),
    [
        ("ring north", {"order": "ring", "zones": ["north"]}),
        (
            "ring north south --for 1.5s",
            {"order": "ring", "zones": ["north", "south"], "for": "1.5s"},
        ),
        ("ring all", {"order": "ring", "zones": ["all"]}),
        ("stop", {"order": "stop"}),
        (
            "quiet north --until 2026-11-26T09:00",
            {"order": "quiet", "zones": ["north"], "until": "2026-11-26T09:00"},
        ),
        ("quiet all --lift", {"order": "lift-quiet", "zones": ["all"]}),
        ("follow 2026-11-26 none", {"order": "follow", "date": "2026-11-26", "plan": "none"}),
        ("trust-clock", {"order": "trust-clock"}),
        ("acknowledge", {"order": "acknowledge"}),
        ("acknowledge store", {"order": "acknowledge", "fault": "store"}),
        ("lines main hold", {"order": "hold", **LINE}),
        ("lines main go", {"order": "go", **LINE}),
        ("lines main set 10:41", {"order": "set", **LINE, "shows": "10:41"}),
        (
            "lines main set 10:41:30 --polarity -",
            {"order": "set", **LINE, "shows": "10:41:30", "polarity": "-"},
        ),
        (
            "lines main set 10:41 --polarity=-",
            {"order": "set", **LINE, "shows": "10:41", "polarity": "-"},
        ),
        (
            "lines main set --polarity + 10:41",
            {"order": "set", **LINE, "shows": "10:41", "polarity": "+"},
        ),
        ("lines main step", {"order": "step", **LINE}),
        ("lines main step 12", {"order": "step", **LINE, "impulses": 12}),
        ("lines main to 12:00", {"order": "to", **LINE, "shows": "12:00"}),
        ("lines main right", {"order": "right", **LINE}),
        ("lines main stood", {"order": "stood", **LINE}),
        ("lines main swapped", {"order": "swapped", **LINE}),
        ("lines main moved", {"order": "moved", **LINE}),
    ],
)
def test_each_command_says_its_order_and_prints_the_answer(understudy, daemon, given, heard):
    said = understudy(*given.split())
    assert said.err == ""
    assert said.code == 0
    assert daemon.desk.heard == [heard]
    assert said.out == f"{heard['order']}: done.\n"


def test_a_daemon_that_says_no_is_heard_with_exit_code_1(understudy, daemon):
    daemon.desk.replies["ring"] = lambda said: Reply(False, "There is no zone nort.")
    said = understudy("ring", "nort")
    assert said.code == 1
    assert said.out == ""
    assert said.err == "understudy: There is no zone nort.\n"


@pytest.mark.parametrize(
    "given", ["ring north", "stop", "lines main hold", "lines", "reload", "first-start"]
)
def test_without_a_daemon_each_says_so_with_exit_code_1(understudy, runtime, given):
    said = understudy(*given.split())
    assert said.code == 1
    assert said.err.startswith("understudy: ")
    assert str(runtime) in said.err
    assert "fault of the program" not in said.err


def test_the_runtime_folder_may_be_named_at_each_command(understudy, daemon, monkeypatch):
    monkeypatch.setenv("UNDERSTUDY_RUNTIME", "/nowhere")
    for words in (
        ("stop", "--runtime", daemon.runtime),
        ("lines", "main", "go", "--runtime", daemon.runtime),
        ("lines", "--runtime", daemon.runtime, "main", "go"),
    ):
        assert understudy(*words).code == 0
    assert understudy("stop").code == 1


@pytest.mark.parametrize("given", ["", "--until 2026-11-26 --lift"])
def test_quiet_wants_an_end_or_to_be_lifted_and_not_both(understudy, daemon, given):
    said = understudy("quiet", "north", *given.split())
    assert said.code == 2
    assert "--until or --lift" in said.err
    assert daemon.desk.heard == []


@pytest.mark.parametrize(
    "given", ["ring", "follow 2026-11-26", "lines main fly", "lines main set", "lines main step x"]
)
def test_words_that_are_no_order_are_refused_before_the_daemon_hears_them(
    understudy, daemon, given
):
    assert understudy(*given.split()).code == 2
    assert daemon.desk.heard == []


def test_a_hold_waits_until_the_impulse_in_progress_has_ended(understudy, daemon):
    ended = threading.Event()
    give = daemon.desk.give

    def answers_later(words, who, answered):
        def later(reply):
            threading.Thread(target=lambda: (ended.wait(10), answered(reply))).start()

        give(words, who, later)
        threading.Timer(0.1, ended.set).start()

    daemon.desk.give = answers_later
    assert understudy("lines", "main", "hold").out == "hold: done.\n"
    assert ended.is_set()


# ── lines, listed ────────────────────────────────────────────────────────────────────────────────


def test_lines_alone_are_listed_with_what_they_show_and_what_is_to_be_done(understudy, daemon):
    said = understudy("lines")
    assert said.words == "main Classrooms shows 10:30, right; last impulse 10:30:00"
    todo = {"settle": ["set"], "do": "understudy lines main set HH:MM"}
    unread = {**daemon.desk.picture["lines"]["main"], **todo}
    daemon.shows({**daemon.desk.picture, "lines": {"main": unread}})
    assert understudy("lines").out.splitlines()[-1] == "main: understudy lines main set HH:MM"


def test_one_line_is_shown_with_all_that_is_known_of_it(understudy, daemon):
    said = understudy("lines", "main")
    assert said.out.splitlines() == [
        "main, Classrooms: shows 10:30, right.",
        "  last impulse    Wed 2026-11-25 10:30:00",
        "  polarity of it  -",
    ]


def test_a_line_that_there_is_not_is_refused_with_those_that_there_are(understudy, daemon):
    said = understudy("lines", "mian")
    assert said.code == 2
    assert 'did you mean "main"?' in " ".join(said.err.split())


def test_a_building_without_dials_says_so(understudy, daemon):
    daemon.shows({**daemon.desk.picture, "lines": {}})
    assert understudy("lines").out.strip() == "The building has no dials."


# ── help ─────────────────────────────────────────────────────────────────────────────────────────


def commands(group, before=()):
    """Every command by its words."""
    for name, command in group.commands.items():
        if hasattr(command, "commands"):
            yield from commands(command, (*before, name))
        else:
            yield (*before, name), command


EVERY = dict(commands(typer.main.get_command(app)))
ORDERED = {words: command.order for words, command in EVERY.items() if hasattr(command, "order")}
# Given by commands that say more about themselves, or by others on their way.
WITHIN_OTHERS = {"status", "watch", "files", "preview", "earlier", "backup", "lift-quiet"}


def test_every_order_can_be_given_from_the_command_line():
    assert {*ORDERED.values(), *WITHIN_OTHERS} == set(ORDERS)


@pytest.mark.parametrize("words", ORDERED, ids=" ".join)
def test_an_orders_help_is_its_own_description(words):
    kind = ORDERS[ORDERED[words]]
    path = ("lines", "main", *words[1:]) if words[0] == "lines" else words
    told = " ".join(CliRunner().invoke(app, [*path, "--help"]).stdout.split())
    assert " ".join(kind.__doc__.split()) in told
    parameters = {parameter.name for parameter in EVERY[words].params}
    for name, field in kind.model_fields.items():
        if name in parameters:
            assert field.description in told


def test_a_parameter_that_is_another_order_has_that_ones_description(understudy):
    assert ORDERS["lift-quiet"].__doc__ in understudy("quiet", "--help").words


def test_an_order_waits_for_no_part_of_the_program_that_only_others_need(daemon):
    code = (
        "import sys; sys.argv = ['understudy', 'stop']\n"
        "from controller.cli.entry import main\n"
        "try: main()\n"
        "except SystemExit as end: print(end.code)\n"
        "dear = ('holidays', 'rich', 'gpiozero', 'gpiod', 'apscheduler', 'sqlite3', 'tomli')\n"
        "ours = ('controller.service.orders', 'controller.building.model', 'controller.engine')\n"
        "print([n for n in sys.modules if n.split('.')[0] in dear or n in ours])"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert result.stderr == b""
    assert result.stdout.splitlines() == [b"stop: done.", b"0", b"[]"]
