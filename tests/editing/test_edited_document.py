"""What an edit writes, and into which file: shown on files as keepers have them."""

from __future__ import annotations

from difflib import unified_diff

import pytest
import tomli
from elm_house import KEEPERS, TIMETABLE, WIRING

from controller.editing.document import (
    PunchedTape,
    entries_of,
    table_file,
    with_calendar,
    with_plan,
    with_plan_like,
    with_quiet,
    with_tape,
    with_week,
)
from controller.editing.entry_changes import Added, Removed, Replaced
from controller.editing.keeper_file import EditRefused

ELM = {"10-wiring.toml": WIRING, KEEPERS: TIMETABLE}
RING = {"at": "10:15", "zones": ["north"], "for": "2s"}
SNOW = {"on": "2026-12-01", "plan": "none", "says": "Snow"}


def difference(before: str, after: str) -> list[str]:
    """The lines that went and came."""
    lines = unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=0)
    return [line for line in list(lines)[2:] if not line.startswith("@@")]


def edited(change, text: str) -> list[str]:
    assert change.file == "week.toml"
    return difference(text, change.text)


# ── which file ───────────────────────────────────────────────────────────────────────────────────


def test_a_table_is_changed_in_the_file_that_holds_it():
    texts = {
        "10-wiring.toml": WIRING + '[halves]\nday = "05:00"\n',
        "20-week.toml": '[week]\nmon = "a"\n',
        "30-plans.toml": "[plans.a]\nrings = []\n[plans.b]\nrings = []\n",
        "40-more.toml": "[plans.c]\nrings = []\n",
    }
    assert table_file(texts, "week") == "20-week.toml"
    assert table_file(texts, "halves") == "10-wiring.toml"
    assert table_file(texts, "plans.b") == "30-plans.toml"
    assert table_file(texts, "plans.c") == "40-more.toml"
    assert table_file(texts, "plans.new") == "30-plans.toml", "beside other plans"


def test_a_table_that_is_nowhere_yet_goes_to_the_keepers_file():
    assert table_file(ELM, "calendar") == KEEPERS
    assert with_calendar(ELM, [Added(SNOW)]).file == KEEPERS
    assert with_tape(ELM, PunchedTape("12h", "06:00", "4s", {"north": ["01:00"]})).file == KEEPERS


def test_never_to_the_installers_if_there_is_another():
    texts = {"10-wiring.toml": WIRING, "20-keeper.toml": "# nothing yet\n"}
    assert table_file(texts, "week") == "20-keeper.toml"
    mixed = {"a.toml": WIRING, "b.toml": '[lines.x]\ndrive = "single"\nrelays = 5\n[week]\n'}
    assert table_file(mixed, "calendar") == "b.toml"


def test_a_building_in_one_file_has_no_other():
    assert table_file({"house.toml": WIRING}, "week") == "house.toml"


def test_where_all_files_are_the_installers_that_is_said():
    texts = {"a.toml": WIRING, "b.toml": '[tell]\ncommand = ["/bin/true"]\n'}
    with pytest.raises(EditRefused, match=r"None of a\.toml, b\.toml is the keeper's"):
        table_file(texts, "week")


def test_a_file_that_is_not_toml_is_to_be_mended_first():
    with pytest.raises(EditRefused, match=r"week\.toml is not TOML .* mend it"):
        with_week({"week.toml": "[week\n"}, {"mon": "a"})


# ── the calendar ─────────────────────────────────────────────────────────────────────────────────

CALENDAR = """[[calendar]]
on   = '2026-12-17'   # a Thursday
plan = "early"

# The board has decided this.
[[calendar]]
from  = 2026-12-19
until = 2027-01-03
plan  = "none"

# ── holidays ──
[holidays]
country = "CA"
"""


def calendar(*changes) -> list[str]:
    return edited(with_calendar({"week.toml": CALENDAR}, changes), CALENDAR)


def test_a_new_entry_is_the_last_and_the_next_tables_heading_keeps_its_comment():
    after = with_calendar({"week.toml": CALENDAR}, [Added(SNOW)]).text
    assert after == CALENDAR.replace(
        "\n# ── holidays",
        '\n[[calendar]]\non = "2026-12-01"\nplan = "none"\nsays = "Snow"\n\n# ── holidays',
    )


def test_an_entry_may_stand_before_another():
    after = with_calendar({"week.toml": CALENDAR}, [Added(SNOW, before=0)]).text
    assert [entry["plan"] for entry in tomli.loads(after)["calendar"]] == ["none", "early", "none"]
    assert after.endswith(CALENDAR)


def test_an_entry_that_goes_leaves_the_comments_above_and_below_it():
    assert [line for line in calendar(Removed(1)) if "#" in line] == []
    assert calendar(Removed(0)) == [
        "-[[calendar]]",
        "-on   = '2026-12-17'   # a Thursday",
        '-plan = "early"',
    ]


def test_a_key_that_stays_is_not_written_anew():
    same_day = {"on": "2026-12-17", "plan": "none", "says": "Storm", "lift_quiet": True}
    assert calendar(Replaced(0, same_day)) == [
        '-plan = "early"',
        '+plan = "none"',
        '+says = "Storm"',
        "+lift_quiet = true",
    ]


def test_new_keys_stand_where_people_expect_them_with_their_equals_signs_in_line():
    assert calendar(Replaced(1, {"on": "2026-12-20", "plan": "none"})) == [
        "-from  = 2026-12-19",
        "-until = 2027-01-03",
        '+on    = "2026-12-20"',
    ]


def test_keys_that_only_others_know_may_stand_in_an_entry():
    event = {**SNOW, "event": {"uid": 'a "b"@example.org', "mark": "x" * 120}}
    after = with_calendar({"week.toml": CALENDAR}, [Added(event)]).text
    assert tomli.loads(after)["calendar"][-1] == event


def test_a_calendar_written_as_one_list_stays_one():
    text = 'calendar = [ {on="2026-01-01",plan="none"} ] # few\n[week]\nmon = "none"\n'
    after = with_calendar({"week.toml": text}, [Added(SNOW)]).text
    assert after.startswith('calendar = [ {on="2026-01-01",plan="none"}, {on = "2026-12-01", ')
    assert after.endswith(' ] # few\n[week]\nmon = "none"\n')
    assert with_calendar({"week.toml": after}, [Removed(1)]).text == text


def test_the_last_entry_that_goes_takes_the_calendar_with_it():
    text = "# mine\n" + '[[calendar]]\non = "2026-12-01"\nplan = "none"\n'
    assert with_calendar({"week.toml": text}, [Removed(0)]).text == "# mine\n"


# ── plans ────────────────────────────────────────────────────────────────────────────────────────

PLANS = """[plans.regular]     # weekdays
rings = [
  # the morning
  { at = "08:30", zones = ["north"], for = "5s" },  # after the bus
  { at = 12:00:00, zones = ["*"], strokes = [1, 0.5, 1], says = "Lunch" }  # long
]
[plans.short]
rings = []
"""


def plan(name: str, *changes) -> list[str]:
    return edited(with_plan({"week.toml": PLANS}, name, changes), PLANS)


def test_a_new_ring_stands_where_its_time_belongs():
    assert plan("regular", Added(RING)) == ['+  { at = "10:15", zones = ["north"], for = "2s" },']


def test_after_a_last_ring_without_a_comma_one_is_put():
    assert plan("regular", Added({**RING, "at": "15:00"})) == [
        '-  { at = 12:00:00, zones = ["*"], strokes = [1, 0.5, 1], says = "Lunch" }  # long',
        '+  { at = 12:00:00, zones = ["*"], strokes = [1, 0.5, 1], says = "Lunch" },  # long',
        '+  { at = "15:00", zones = ["north"], for = "2s" }',
    ]


def test_a_ring_that_is_moved_takes_its_comment_along():
    lunch = {**entries_of({"week.toml": PLANS}, "plans.regular")[1], "at": "08:00"}
    after = with_plan({"week.toml": PLANS}, "regular", [Replaced(1, lunch)]).text
    found = [line for line in after.splitlines() if line.startswith("  ")]
    assert [line.partition("#")[2] for line in found] == [" long", " the morning", " after the bus"]
    assert 'strokes = [1, 0.5, 1], says = "Lunch"' in found[0]


def test_several_changes_are_one_edit():
    rings = entries_of({"week.toml": PLANS}, "plans.regular")
    after = with_plan(
        {"week.toml": PLANS},
        "regular",
        [Added(RING), Removed(0), Replaced(1, {**rings[1], "says": "Noon"}), Added({**RING})],
    ).text
    now = tomli.loads(after)["plans"]["regular"]["rings"]
    assert [ring.get("says") for ring in now] == [None, None, "Noon"]
    assert "# after the bus" not in after
    assert "# the morning" in after


def test_a_plan_without_rings_gets_its_first():
    assert plan("short", Added(RING)) == [
        "-rings = []",
        "+rings = [",
        '+  { at = "10:15", zones = ["north"], for = "2s" },',
        "+]",
    ]


def test_a_new_plan_stands_after_the_others():
    after = with_plan(ELM, "exams", [Added(RING)]).text
    assert after == TIMETABLE.replace(
        "[week]",
        '\n[plans.exams]\nrings = [\n  { at = "10:15", zones = ["north"], for = "2s" },\n]\n[week]',
    )


def test_a_plan_can_be_made_as_another_is_with_its_comments():
    after = with_plan_like({"week.toml": PLANS}, "snow", "regular").text
    assert after.startswith(PLANS)
    assert after.removeprefix(PLANS) == (
        "\n[plans.snow]\n" + PLANS.partition("\n")[2].partition("[plans.short]")[0]
    )


@pytest.mark.parametrize(
    "text",
    [
        "plans.regular.rings = []\n",
        "[plans]\nregular = { rings = [] }\n",
        "[plans]\nregular.rings = []\n",
        "plans = { regular = { rings = [] } }\n",
    ],
)
def test_a_plan_without_a_heading_of_its_own_is_left_to_an_editor(text):
    for changes in ([Added(RING)], None):
        with pytest.raises(EditRefused, match=r"\[plans.regular\] has no line .* in an editor"):
            with_plan({"week.toml": text}, "regular", changes)


@pytest.mark.parametrize(
    "text",
    [
        '[plans.regular]\n"rings" = []\n',
        "[ plans . 'regular' ]\nrings=[]\n",
        '[plans.regular]\nrings = [\n{ at = "09:00", zones = ["north"], for = "1s" }\n, ]\n',
    ],
)
def test_a_plan_that_is_rarely_written_so_is_changed_rightly(text):
    before = tomli.loads(text)["plans"]["regular"]["rings"]
    after = with_plan({"week.toml": text}, "regular", [Added(RING)]).text
    assert tomli.loads(after)["plans"]["regular"]["rings"] == [*before, RING]


# ── the week, quiet rows, the tape ───────────────────────────────────────────────────────────────


def test_a_weekday_stands_in_its_order():
    text = "[week]\nmon  = 'a'   # first\nfri  = 'b'\n\n# the end\n"
    assert edited(with_week({"week.toml": text}, {"wed": "c", "fri": "a"}), text) == [
        "-fri  = 'b'",
        '+wed = "c"',
        '+fri  = "a"',
    ]


def test_what_is_so_already_changes_nothing():
    assert with_week(ELM, {"mon": "regular"}).text == TIMETABLE
    text = "[quiet]\nnorth = ['sat', 'sun']\n"
    assert with_quiet({"week.toml": text}, {"north": ["sun", "sat"]}).text == text


def test_a_row_over_several_lines_keeps_its_comments():
    text = '[quiet]\nnorth = [\n  "sat",  # no school\n  "sun",\n  # and then\n]  # so far\n'
    assert edited(with_quiet({"week.toml": text}, {"north": ["sat", "fri night"]}), text) == [
        '-  "sun",',
        '+  "fri night",',
    ]


def test_a_zone_without_a_row_gets_one_and_loses_it():
    text = '[quiet]\nnorth = ["sat"]\n[week]\n'
    after = with_quiet({"week.toml": text}, {"south": ["sun"]}).text
    assert difference(text, after) == ['+south = ["sun"]']
    assert with_quiet({"week.toml": after}, {"south": None}).text == text


@pytest.mark.parametrize("text", ["quiet = { north = ['sat'] }\n", "quiet.north = ['sat']\n"])
def test_quiet_rows_on_one_line_are_left_to_an_editor(text):
    with pytest.raises(EditRefused, match="editor"):
        with_quiet({"week.toml": text}, {"south": ["sun"]})


TAPE = """# before
[tape]
length = "12h"  # as it turned
for    = "4s"
[tape.holes]
north = [       # the hall
  "01:00", "02:00",   # early
  "03:00",
]
south = ["04:00"]
# after
"""


def test_a_tape_is_changed_hole_by_hole():
    tape = PunchedTape("12h", "06:00", "4s", {"north": ["01:00", "03:00", "05:00"]})
    assert edited(with_tape({"week.toml": TAPE}, tape), TAPE) == [
        '+starts = "06:00"',
        '-  "01:00", "02:00",   # early',
        '+  "01:00",   # early',
        '+  "05:00",',
        '-south = ["04:00"]',
    ]


def test_a_tape_is_made_and_taken_out_again():
    tape = PunchedTape("24h", "00:00", "4s", {"north": [f"{h:02}:30" for h in range(24)]})
    after = with_tape({"week.toml": "# mine\n"}, tape).text
    assert tomli.loads(after)["tape"] == {
        "length": "24h",
        "starts": "00:00",
        "for": "4s",
        "holes": {"north": [f"{h:02}:30" for h in range(24)]},
    }
    assert max(map(len, after.splitlines())) <= 100
    assert with_tape({"week.toml": TAPE}, None).text == "# before\n# after\n"
