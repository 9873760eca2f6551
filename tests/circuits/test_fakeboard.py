"""The fake board's electrics, on a clock that the test turns."""

from __future__ import annotations

import pytest
from board_house import HOUSE
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.building.file import read
from controller.circuits.fakeboard.board import Board, BoardRefuses
from controller.circuits.fakeboard.parts import DROP_OUT_NS, PULL_IN_NS
from controller.circuits.fakeboard.picture import board_picture
from controller.circuits.fakeboard.record import ChangeLog
from controller.circuits.hand import SENSE_DEBOUNCE_NS
from controller.circuits.lines import InputEdge, InputLine
from controller.circuits.senses import SETTLES_NS
from controller.dials.modelled import after_impulse, model_dials

MS = 1_000_000
SECOND = 1000 * MS
NORTH, SOUTH, PLUS, MINUS, HALL = 17, 27, 22, 23, 13
PULL_IN, DROP_OUT = PULL_IN_NS // MS, DROP_OUT_NS // MS


class Scene:
    """A board, and its time in ms from the beginning."""

    def __init__(self, building):
        self.now = 0
        self.board = Board(building, lambda: self.now)

    def after(self, ms):
        self.now += ms * MS
        return self.board

    def impulse(self, pin, ms, rest=1000):
        """Energise a relay so long, and let it rest."""
        self.board.set_levels({pin: True})
        self.after(ms).set_levels({pin: False})
        self.after(rest).advance(self.now)

    def did(self, what, name):
        """When (ms) it became what."""
        return [
            (change.mono / MS, change.to)
            for change in self.board.log.after(0, 1000)
            if (change.what, change.name) == (what, name)
        ]

    def shows(self, line="main"):
        return self.board.state()["lines"][line]["shows"]


@pytest.fixture(scope="module")
def building(tmp_path_factory):
    path = tmp_path_factory.mktemp("house") / "house.toml"
    path.write_text(HOUSE)
    return read(path)


@pytest.fixture
def scene(building):
    return Scene(building)


# ── relays and bells ─────────────────────────────────────────────────────────────────────────────


def test_a_contact_follows_its_coil_a_few_milliseconds_later(scene):
    scene.impulse(NORTH, 100)
    assert scene.did("pin", "GPIO17") == [(0, 1), (100, 0)]
    assert scene.did("contact", "zones.north") == [(PULL_IN, 1), (100 + DROP_OUT, 0)]


def test_a_coil_energised_for_less_than_its_pull_in_never_closes_the_contact(scene):
    scene.impulse(NORTH, PULL_IN - 1)
    assert scene.did("contact", "zones.north") == []


def test_a_coil_let_go_for_less_than_its_drop_out_never_opens_the_contact(scene):
    scene.board.set_levels({NORTH: True})
    scene.after(50).set_levels({NORTH: False})
    scene.after(DROP_OUT - 1).set_levels({NORTH: True})
    scene.after(50).advance(scene.now)
    assert scene.did("contact", "zones.north") == [(PULL_IN, 1)]


def test_what_was_due_before_an_order_has_happened_before_it_however_late_the_board_looks(scene):
    scene.board.set_levels({NORTH: True})
    scene.after(PULL_IN).set_levels({NORTH: False})  # with no look at the board in between
    scene.after(50).advance(scene.now)
    assert scene.did("contact", "zones.north") == [(PULL_IN, 1), (PULL_IN + DROP_OUT, 0)]


def test_no_relay_is_energised_before_anybody_holds_the_pins(scene):
    levels = {relay["name"]: relay["level"] for relay in scene.board.state()["relays"]}
    assert levels["zones.north"] == 0
    assert levels["zones.south"] == 1  # energised by low
    scene.board.set_levels({NORTH: False, SOUTH: True, PLUS: False, MINUS: False, HALL: False})
    scene.after(50).advance(scene.now)
    assert scene.board.log.last == 0


def test_a_relay_that_low_energises_closes_at_low(scene):
    scene.board.set_levels({SOUTH: False})
    scene.after(50).advance(scene.now)
    assert scene.did("contact", "zones.south") == [(PULL_IN, 1)]


def test_bells_sound_while_their_contact_is_closed_and_the_24_v_are_there(scene):
    scene.board.set_levels({NORTH: True})
    scene.after(100).set_supply(False)
    scene.after(100).set_supply(True)
    scene.after(100).set_levels({NORTH: False})
    scene.after(100).advance(scene.now)
    assert scene.did("bell", "zones.north") == [
        (PULL_IN, 1),
        (100, 0),
        (200, 1),
        (300 + DROP_OUT, 0),
    ]
    assert scene.did("contact", "zones.north") == [(PULL_IN, 1), (300 + DROP_OUT, 0)]


# ── faults ───────────────────────────────────────────────────────────────────────────────────────


def test_a_slow_relay_moves_so_much_later_both_ways(scene):
    scene.board.set_fault("zones.north", "slow", 40 * MS)
    scene.impulse(NORTH, 200)
    assert scene.did("contact", "zones.north") == [(PULL_IN + 40, 1), (240 + DROP_OUT, 0)]


def test_a_stuck_relay_never_closes_until_it_is_mended(scene):
    scene.board.set_fault("GPIO17", "stuck", 0)
    scene.board.set_levels({NORTH: True})
    scene.after(1000).clear_faults("17")
    scene.after(50).advance(scene.now)
    assert scene.did("contact", "zones.north") == [(1000 + PULL_IN, 1)]


def test_a_welded_contact_stays_closed_without_its_coil_until_it_is_mended(scene):
    scene.board.set_levels({NORTH: True})
    scene.after(100).set_fault("zones.north", "welded", 0)
    scene.after(100).set_levels({NORTH: False})
    scene.after(1000).advance(scene.now)
    assert scene.did("contact", "zones.north") == [(PULL_IN, 1)]
    scene.board.clear_faults("zones.north")
    scene.after(50).advance(scene.now)
    assert scene.did("contact", "zones.north")[-1] == (1200 + DROP_OUT, 0)


def test_a_bouncing_contact_goes_back_before_it_stays(scene):
    scene.board.set_fault("zones.north", "bouncing", 0)
    scene.impulse(NORTH, 100)
    changes = scene.did("contact", "zones.north")
    closing, opening = changes[:7], changes[7:]
    assert closing == [(PULL_IN + 8 * n, (n + 1) % 2) for n in range(7)]
    assert opening == [(100 + DROP_OUT + 8 * n, n % 2) for n in range(7)]


def test_a_bouncing_contact_is_seen_through_the_hands_debounce_when_it_should_have_settled(scene):
    scene.board.listen({24: InputLine("high", SENSE_DEBOUNCE_NS)})
    scene.board.set_fault("zones.north", "bouncing", 0)
    scene.impulse(NORTH, 200)
    first, *rest = scene.board.edges
    parted = [edge.mono - first.mono for edge in rest if not edge.high]
    assert max(parted[:3]) > SETTLES_NS


def test_swapped_wires_give_the_dials_the_other_polarity_and_the_senses_show_it(scene):
    scene.board.swap("main")
    scene.board.set_levels({PLUS: True})
    scene.after(50).advance(scene.now)
    assert scene.did("contact", "lines.main+") == []
    assert scene.did("input", "lines.main- sense") == [(PULL_IN, 1)]
    assert scene.board.state()["lines"]["main"]["current"] == "-"
    scene.board.swap("main")
    scene.after(50).advance(scene.now)
    assert scene.board.state()["lines"]["main"]["current"] == "+"


# ── dials ────────────────────────────────────────────────────────────────────────────────────────


def test_each_dial_moves_when_the_impulse_has_lasted_its_share(scene):
    scene.impulse(PLUS, 1000)
    assert [scene.did("dial", f"main {place}") for place in (1, 2, 3)] == [
        [(PULL_IN + 300, 1)],
        [(PULL_IN + 500, 1)],
        [(PULL_IN + 700, 1)],
    ]


def test_the_same_polarity_twice_moves_the_dials_once(scene):
    scene.impulse(PLUS, 1000)
    scene.impulse(PLUS, 1000)
    assert scene.shows() == [1, 1, 1]
    scene.impulse(MINUS, 1000)
    assert scene.shows() == [2, 2, 2]


def test_two_impulses_that_are_too_short_do_not_make_a_long_one(scene):
    for _ in range(4):
        scene.impulse(PLUS, 250, rest=50)
    assert scene.shows() == [0, 0, 0]


def test_both_relays_closed_join_the_line_to_one_rail_and_nothing_flows(scene):
    scene.board.set_levels({PLUS: True, MINUS: True})
    scene.after(2000).advance(scene.now)
    assert scene.board.state()["lines"]["main"]["current"] is None
    assert scene.shows() == [0, 0, 0]


def test_with_plus_welded_the_dials_move_once_more_at_most_and_stand(scene):
    """The wiring guide's table of welded contacts."""
    scene.board.set_fault("lines.main+", "welded", 0)
    scene.after(2000).advance(scene.now)
    for pin in (MINUS, PLUS, MINUS, PLUS):
        scene.impulse(pin, 1000)
    assert scene.shows() == [1, 1, 1]


def test_a_single_line_takes_every_impulse(scene):
    for _ in range(3):
        scene.impulse(HALL, 2000)
    assert scene.shows("hall") == [3, 3, 3]
    assert scene.board.state()["lines"]["hall"]["texts"] == ["00:01:30"] * 3


def test_a_supply_lost_within_an_impulse_cuts_it(scene):
    scene.board.set_levels({PLUS: True})
    scene.after(PULL_IN + 400).set_supply(False)
    scene.after(1000).set_levels({PLUS: False})
    scene.after(1000).set_supply(True)
    assert scene.shows() == [1, 0, 0]
    assert "they differ" in board_picture(scene.board.state())


def test_dials_are_put_by_hand(scene):
    scene.board.set_dials("main", 511, "+")
    scene.impulse(PLUS, 1000)
    assert scene.shows() == [511, 511, 511]
    scene.impulse(MINUS, 1000)
    assert scene.board.state()["lines"]["main"]["texts"] == ["08:32"] * 3


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(st.sampled_from("+-"), st.integers(20, 1500)), max_size=8))
def test_the_board_moves_its_dials_as_the_rehearsal_does(building, impulses):
    scene = Scene(building)
    dials = model_dials(0, "-")
    for polarity, ms in impulses:
        scene.impulse(PLUS if polarity == "+" else MINUS, ms)
        lasted = (ms - PULL_IN + DROP_OUT) * MS
        dials = after_impulse(dials, polarity, lasted, SECOND, 720)
    state = scene.board.state()["lines"]["main"]
    assert state["shows"] == [dial.shows for dial in dials]
    assert state["took"] == [dial.took for dial in dials]


# ── inputs ───────────────────────────────────────────────────────────────────────────────────────


def test_a_press_is_told_when_it_has_lasted_its_debounce(scene):
    assert scene.board.listen({20: InputLine("low", 20 * MS)}) == {20: True}
    scene.after(100).press("north_button", True)
    scene.after(19).advance(scene.now)
    assert (scene.board.edges, scene.board.level(20)) == ([], True)
    scene.after(1).advance(scene.now)
    assert scene.board.edges == [InputEdge(20, False, 120 * MS)]
    assert scene.board.level(20) is False


def test_a_press_shorter_than_the_debounce_is_not_told(scene):
    scene.board.listen({20: InputLine("low", 20 * MS)})
    scene.board.press("20", True)
    scene.after(19).press("GPIO20", False)
    scene.after(1000).advance(scene.now)
    assert scene.board.edges == []
    assert scene.did("input", "north_button") == [(0, 1), (19, 0)]


def test_a_press_that_chatters_is_told_when_it_stands_still(scene):
    scene.board.listen({20: InputLine("low", 20 * MS)})
    for closed in (True, False, True):
        scene.after(15).press("north_button", closed)
    scene.after(1000).advance(scene.now)
    assert scene.board.edges == [InputEdge(20, False, 65 * MS)]


def test_a_button_pressed_before_it_is_claimed_is_read_as_pressed(scene):
    scene.board.press("north_button", True)
    assert scene.board.listen({20: InputLine("low", 20 * MS)}) == {20: False}


def test_the_sense_of_a_bouncing_contact_is_told_once_each_way(scene):
    scene.board.listen({24: InputLine("high", 10 * MS)})
    scene.board.set_fault("zones.north", "bouncing", 0)
    scene.impulse(NORTH, 500)
    assert [edge.high for edge in scene.board.edges] == [True, False]
    assert len(scene.did("input", "zones.north sense")) == 14


def test_the_supplys_sense_follows_the_supply(scene):
    assert scene.board.listen({26: InputLine("high", 5 * MS)}) == {26: True}
    scene.board.set_supply(False)
    scene.after(5).advance(scene.now)
    assert scene.board.edges == [InputEdge(26, False, 5 * MS)]


def test_nothing_is_told_of_an_input_that_nobody_listens_to_any_more(scene):
    scene.board.listen({20: InputLine("low", 20 * MS)})
    scene.board.press("north_button", True)
    scene.board.listen_no_more([20])
    scene.after(50).press("north_button", False)
    scene.after(50).advance(scene.now)
    assert scene.board.edges == []


def test_an_input_to_which_nothing_is_wired_is_where_it_is_pulled(scene):
    assert scene.board.listen({4: InputLine("low", 0), 5: InputLine("high", 0)}) == {
        4: True,
        5: False,
    }


# ── words ────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("act", "words"),
    [
        (lambda board: board.press("bell_push", True), "no button or switch 'bell_push'"),
        (lambda board: board.press("zones.north sense", True), "follows what it senses"),
        (lambda board: board.press("supply", False), "follows what it senses"),
        (lambda board: board.set_fault("zones.west", "stuck", 0), "zones.north, zones.south"),
        (lambda board: board.set_fault("lines.main", "stuck", 0), r"lines.main\+, lines.main-"),
        (lambda board: board.swap("hall"), "one relay"),
        (lambda board: board.set_dials("main", 720, "-"), "0 to 719"),
        (lambda board: board.set_dials("yard", 0, "-"), "no line 'yard'"),
    ],
)
def test_what_cannot_be_done_is_refused_in_words_and_changes_nothing(scene, act, words):
    with pytest.raises(BoardRefuses, match=words):
        act(scene.board)
    assert scene.board.log.last == 0


def test_the_log_keeps_the_newest_and_counts_what_it_dropped():
    log = ChangeLog(most=3)
    for number in range(5):
        log.note(0, "pin", "GPIO17", number % 2)
    assert log.dropped == 2
    assert [change.number for change in log.after(0, 10)] == [3, 4, 5]
    assert [change.number for change in log.after(3, 1)] == [4]
    assert log.after(5, 10) == []


def test_the_picture_shows_relays_bells_dials_inputs_and_supply(scene):
    scene.board.set_levels({NORTH: True})
    scene.board.press("north_button", True)
    scene.board.set_fault("lines.main-", "welded", 0)
    scene.board.swap("main")
    scene.after(50).advance(scene.now)
    text = " ".join(board_picture(scene.board.state()).split())
    for words in (
        "Thistle House 24 V there",
        "zones.north GPIO17 level 1 contact closed bell sounds",
        "zones.south GPIO27 level 1 contact open",
        "lines.main- GPIO23 level 0 contact closed fault: welded",
        "dials of main 00:00 00:00 00:00 wires of + and − exchanged",
        "dials of hall 00:00:00",
        "input north_button GPIO20 closed",
    ):
        assert words in text
