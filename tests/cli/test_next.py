"""`understudy next`: the coming soundings."""

from __future__ import annotations

from freezegun import freeze_time
from houses import CROWDED, RINGLESS, instead


def test_each_sounding_has_its_local_day_and_time_how_long_from_now_where_how_and_what_for(
    understudy, small
):
    said = understudy("next", small, "--at", "2026-11-25T08:29:15", "-n", "1")
    assert said.code == 0
    assert said.words == "Wed 2026-11-25 08:30:00 in 45 s north 5s First class"


def test_soundings_at_one_instant_stand_on_one_line(understudy, small):
    lines = understudy("next", small, "--at", "2026-11-25T08:30", "-n", "2").out.splitlines()
    assert lines[0].split()[:4] == ["Wed", "2026-11-25", "08:30:00", "now"]
    assert "in 3 h 30 min  north, south 2 strokes  Lunch" in lines[1]
    assert len(lines) == 2


def test_zones_that_sound_otherwise_at_one_instant_are_told_apart(understudy, house):
    together = (
        '{ at = "12:00", zones = ["north", "south"], strokes = [1, 0.5, 1], says = "Lunch" },'
    )
    apart = """{ at = "12:00", zones = ["north"], for = "2s", says = "Lunch" },
    { at = "12:00", zones = ["south"], for = "3s" },"""
    path = house(instead(together, apart))
    said = understudy("next", path, "--at", "2026-11-25T11:00", "-n", "1")
    assert said.words.endswith("north 2s; south 3s Lunch")


def test_ten_are_listed_unless_said_and_all_without_number_are_in_order(understudy, small):
    lines = understudy("next", small, "--at", "2026-11-25").out.splitlines()
    soundings = [line for line in lines if "quiet" not in line]
    assert len(soundings) == 10
    assert [line[4:23] for line in soundings] == sorted(line[4:23] for line in soundings)


def test_what_quiet_rows_silence_before_the_last_of_them_is_said(understudy, small):
    said = understudy("next", small, "--at", "2026-11-27T12:30", "-n", "1")
    assert said.words.startswith("Sat 2026-11-28 12:00:00 in 23 h 30 min south 2 strokes Lunch")
    assert "Silenced by quiet rows meanwhile: north 2; first Sat 2026-11-28 08:30:00." in said.words
    assert "Silenced" not in understudy("next", small, "--at", "2026-11-25", "-n", "1").out


def test_a_sounding_that_a_limit_cuts_short_says_so(understudy, house):
    said = understudy("next", house(CROWDED), "--at", "2026-11-30", "-n", "1")
    assert "hall 10s, cut short (longest)" in said.words


def test_without_at_it_is_now(understudy, small):
    with freeze_time("2026-11-25T12:20:00Z"):  # 08:20 in Halifax
        said = understudy("next", small, "-n", "1")
    assert said.words.startswith("Wed 2026-11-25 08:30:00 in 10 min")


def test_a_house_without_rings_has_none_to_come(understudy, house):
    said = understudy("next", house(RINGLESS), "--at", "2026-11-25")
    assert said.code == 0
    assert said.out == "No sounding within 400 days of Wed 2026-11-25 00:00:00.\n"


def test_the_number_has_limits(understudy, small):
    for number in ("0", "1001", "many"):
        assert understudy("next", small, "-n", number).code == 2
