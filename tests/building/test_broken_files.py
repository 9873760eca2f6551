"""Broken files: each has one fault, and is refused with words that say what to do about it."""

from __future__ import annotations

import re

import pytest
from building_texts import HOUSE, instead, plus, ringing

JARGON = re.compile(
    r"pydantic|validat|Traceback|Error|literal|tuple|dict|_ns|str_|int_|should be|None|ZONE"
)
PANEL = "[panel.button]\npin = 20\n"
CALENDAR = '[[calendar]]\nplan = "regular"\n'
HOLIDAYS = "[holidays]\n"

# what is wrong: (the file, what its one message must say)
WIRING = {
    "a pin used twice": (
        instead("relay = 18", "relay = 17"),
        ["[zones.south] relay = 17", "GPIO 17", "[zones.north] relay"],
    ),
    "a sense input on a relay's pin": (
        instead("relays = 24", "relays = 24\nsense = 22"),
        ["[lines.tower] sense = 22", "[lines.main] relays"],
    ),
    "one pin for both relays of a line": (
        instead("[22, 23]", "[22, 22]"),
        ["[lines.main] relays = [22, 22]", "GPIO 22", "a pin of its own"],
    ),
    "the supply sensed on the panel's pin": (
        instead("amps = 5.0", "amps = 5.0\nsense = 20") + PANEL + 'does = "stop"',
        ["[supply] sense = 20", "[panel.button] pin"],
    ),
    "health on a zone's pin": (
        plus("[health]\nrelay = 19"),
        ["[health] relay = 19", "[zones.gong] relay"],
    ),
    "a pin of the identification EEPROM": (
        instead("relay = 18", "relay = 1"),
        ["[zones.south] relay = 1", "from 2 to 27", "EEPROM"],
    ),
    "a pin that the header does not have": (
        instead("relay = 18", "relay = 28"),
        ["[zones.south] relay = 28", "from 2 to 27"],
    ),
    "a pin in quotes": (instead("relay = 18", 'relay = "18"'), ['relay = "18"', "BCM GPIO"]),
    "a zone without relay": (instead("relay = 18", ""), ["[zones.south] relay", "is required"]),
    "one relay on an alternating line": (
        instead("[22, 23]", "22"),
        ["[lines.main] relays = 22", "two relays", "alternating"],
    ),
    "two relays on a single line": (
        instead("relays = 24", "relays = [24, 25]"),
        ["[lines.tower] relays = [24, 25]", "one relay", "single"],
    ),
    "one sense for two relays": (
        instead("dials = 22", "dials = 22\nsense = 5"),
        ["[lines.main] sense = 5", "one input for each", "2"],
    ),
    "impulse and gap that fill the time": (
        instead("dials = 22", 'dials = 22\nevery = "30s"\nimpulse = "15s"\ngap = "15s"'),
        ["[lines.main] impulse", "15s + 15s", "below every (30s)"],
    ),
    "a gap below a fifth of a second": (
        instead("dials = 22", 'dials = 22\ngap = "100ms"'),
        ['[lines.main] gap = "100ms"', 'from "200ms"'],
    ),
    "patience of a whole face": (
        instead("dials = 22", 'dials = 22\npatience = "12h"'),
        ['[lines.main] patience = "12h"', "less than the face (12h)"],
    ),
    "impulses every 45 seconds": (
        instead("dials = 22", 'dials = 22\nevery = "45s"'),
        ['[lines.main] every = "45s"', '"60s" or "30s"'],
    ),
    "a drive that is not one": (
        instead('"alternating"', '"polarised"'),
        ['[lines.main] drive = "polarised"', '"alternating" or "single"'],
    ),
    "bells that the supply can never carry": (
        instead("bells = 6", "bells = 60"),
        ["[zones.north] amps_each", "60 bells", "15 A", "4.74 A beside its lines"],
    ),
    "lines that the supply can never carry": (
        instead("dials = 22", "dials = 4000"),
        ["[supply] amps = 5.0", "the lines draw 48 A"],
    ),
    "a button that rings nothing": (
        plus(PANEL + 'does = "ring"'),
        ["[panel.button] zones", "is required", '"ring"'],
    ),
    "a button that rings a line": (
        plus(PANEL + 'does = "ring"\nzones = ["north"]\nline = "main"'),
        ['[panel.button] line = "main"', "expected no line here"],
    ),
    "a step button without a line": (
        plus(PANEL + 'does = "step"'),
        ["[panel.button] line", "is required", '"step"'],
    ),
    "a stop button with zones": (
        plus(PANEL + 'does = "stop"\nzones = ["north"]'),
        ["[panel.button] zones", "expected no zones here"],
    ),
    "a button for a line that is not there": (
        plus(PANEL + 'does = "step"\nline = "mian"'),
        ['[panel.button] line = "mian"', 'did you mean "main"?'],
    ),
    "a zone with a reserved name": (
        plus("[zones.all]\nrelay = 5"),
        ["[zones.all]", "other than all, none, usual, *"],
    ),
    "a zone with a capital letter": (
        plus("[zones.West]\nrelay = 5"),
        ["[zones.West]", "small letters"],
    ),
    "a supply above extra-low voltage": (
        instead("amps = 5.0", "amps = 5.0\nvolts = 230"),
        ["[supply] volts = 230", "from 5 to 60 V"],
    ),
    "a number that is none": (
        instead("amps = 5.0", "amps = nan"),
        ["[supply] amps = nan", "a number"],
    ),
    "a building without zones and lines": (
        '[building]\ntimezone = "Europe/Oslo"',
        ["neither zones nor lines", "[zones.NAME]"],
    ),
    "a lead of a minute": (
        plus('[clock]\nlead = "60s"'),
        ['[clock] lead = "60s"', 'to "10s"'],
    ),
}

KEEPING = {
    "a key that is not known": (
        instead('longest = "8s"', 'longes = "8s"'),
        ['[zones.south] longes = "8s"', 'did you mean "longest"?'],
    ),
    "a table that is not known": (plus('[weeks]\nmon = "regular"'), ["[weeks]", "[week]"]),
    "a key outside all tables": (
        'timezone = "Europe/Oslo"' + HOUSE,
        ['timezone = "Europe/Oslo"', "outside all tables", "[building]"],
    ),
    "a duration without its unit": (
        instead('longest = "8s"', "longest = 8"),
        ["[zones.south] longest = 8", "ms, s, m, h or d", '"10s"'],
    ),
    "a longest of an hour": (
        instead('longest = "8s"', 'longest = "1h"'),
        ['[zones.south] longest = "1h"', 'to "2m"'],
    ),
    "no time zone": (
        instead('timezone = "America/Halifax"', ""),
        ["[building] timezone", "is required", "IANA"],
    ),
    "a time zone that is not known": (
        instead("America/Halifax", "America/Halifacks"),
        ['[building] timezone = "America/Halifacks"', 'did you mean "America/Halifax"?'],
    ),
    "a time zone without its continent": (
        instead("America/Halifax", "halifax"),
        ['did you mean "America/Halifax"?'],
    ),
    "a time zone that is a folder": (
        instead("America/Halifax", "America"),
        ['timezone = "America"', "no such time zone", "expected an IANA name"],
    ),
    "a time zone that counts leap seconds": (
        instead("America/Halifax", "right/America/Halifax"),
        ["no such time zone", "America/Halifax"],
    ),
    "a time zone that climbs out of the zone files": (
        instead("America/Halifax", "../../etc/passwd"),
        ["no such time zone"],
    ),
    "an impossible time": (
        ringing('at = "25:00", zones = ["north"], for = "5s"'),
        ["[plans.other] ring 1 (25:00) at", "a time of day", "23:59:59"],
    ),
    "an impossible date": (
        plus(CALENDAR + 'on = "2026-02-30"'),
        ['[[calendar]] entry 1 (2026-02-30) on = "2026-02-30"', "a date that exists"],
    ),
    "a time of day with an offset": (
        ringing('at = 2026-11-25T08:30:00Z, zones = ["north"], for = "5s"'),
        ["[plans.other] ring 1", "at = 2026-11-25T08:30:00+00:00", "a time of day"],
    ),
    "a zone that is not known": (
        ringing('at = "09:00", zones = ["soth"], for = "5s"'),
        ['zones = ["soth"]', 'there is no zone "soth"', 'did you mean "south"?'],
    ),
    "a zone named twice": (
        ringing('at = "09:00", zones = ["north", "north"], for = "5s"'),
        ['"north" is there twice'],
    ),
    "a ring without zones": (
        ringing('at = "09:00", zones = [], for = "5s"'),
        ["zones = []", "a list of zones"],
    ),
    "a ring without length": (
        ringing('at = "09:00", zones = ["north"]'),
        ["[plans.other] ring 1 (09:00)", "expected for", "strokes"],
    ),
    "a ring with both lengths": (
        ringing('at = "09:00", zones = ["north"], for = "5s", strokes = [1]'),
        ["beside strokes", "one of the two"],
    ),
    "an even number of strokes": (
        ringing('at = "09:00", zones = ["north"], strokes = [1, 0.5]'),
        ["strokes = [1, 0.5]", "2 lengths", "an odd number"],
    ),
    "a stroke of no length": (
        ringing('at = "09:00", zones = ["north"], strokes = [1, 0, 1]'),
        ["strokes = [1, 0, 1]", "from 0.01", "wrong in it: 0"],
    ),
    "a stroke of less than no length": (
        ringing('at = "09:00", zones = ["north"], strokes = [-1.5]'),
        ["wrong in it: -1.5"],
    ),
    "a ring longer than its zone's longest": (
        ringing('at = "09:00", zones = ["*"], strokes = [9]'.replace("*", "south")),
        ["strokes = [9]", "9s without a break", "longest of south (8s)"],
    ),
    "a ring longer than a minute may have": (
        ringing('at = "09:00", zones = ["north"], strokes = [9, 1, 9, 1, 9, 1, 9]'),
        ["36s within a minute", "a_minute of north (30s)"],
    ),
    "rings that only together exceed": (
        plus(
            '[plans.other]\nrings = [{ at = "09:00", zones = ["north"], strokes = [6, 2, 6] },'
            '{ at = "09:00:00", zones = ["north"], for = "9s" }]'
        ),
        ["ring 2 (09:00:00) at", "[plans.other] ring 1 (09:00) at the same time", "14s"],
    ),
    "a ring that only together with the tape exceeds": (
        instead('"08:30"', '"21:20"').replace('for = "5s", says', "strokes = [4, 0.5, 8], says"),
        ["[plans.regular] ring 1 (21:20) at", "with the tape at the same time", "12.5s"],
    ),
    "a ring of half an hour": (
        ringing(f'at = "09:00", zones = ["north"], strokes = {[1, 100] * 20 + [1]}'),
        ["in all", "10m at most"],
    ),
    "a single-stroke zone rung for a while": (
        ringing('at = "09:00", zones = ["gong"], for = "1s"'),
        ['for = "1s"', "gong", "single-stroke", "expected strokes"],
    ),
    "a stroke of a single-stroke zone over a second": (
        ringing('at = "09:00", zones = ["gong"], strokes = [0.5, 3, 1.1]'),
        ["strokes = [0.5, 3, 1.1]", "gong", "at most 1s"],
    ),
    "a plan that does not exist": (
        instead('mon = "regular"', 'mon = "regulr"'),
        ['[week] mon = "regulr"', 'did you mean "regular"?'],
    ),
    "a plan of the calendar that does not exist": (
        plus('[[calendar]]\non = "2026-12-18"\nplan = "exams"'),
        ['plan = "exams"', 'there is no plan "exams"', "known: regular, none"],
    ),
    "a week of itself": (instead('mon = "regular"', 'mon = "usual"'), ["[week] mon", "usual"]),
    "a weekday that is none": (
        instead('mon = "regular"', 'wednesday = "regular"'),
        ['[week] wednesday = "regular"', 'did you mean "wed"?'],
    ),
    "a range that ends before it begins": (
        plus(CALENDAR + 'from = "2027-01-03"\nuntil = "2026-12-19"'),
        ['until = "2026-12-19"', "is before from (2027-01-03)"],
    ),
    "a date beside a range": (
        plus(CALENDAR + 'on = "2026-12-18"\nfrom = "2026-12-19"\nuntil = "2026-12-20"'),
        ["beside from and until", "either on, or both"],
    ),
    "a range without an end": (
        plus(CALENDAR + "from = 2026-12-19"),
        ["from = 2026-12-19", "both from and until"],
    ),
    "a calendar entry without a date": (plus(CALENDAR), ["[[calendar]] entry 1", "has no date"]),
    "a calendar in single brackets": (
        plus('[calendar]\non = "2026-12-18"'),
        ["[calendar]", "[[calendar]]", "double brackets"],
    ),
    "a quiet row of a zone that is not known": (
        plus('[quiet]\nnroth = ["sat"]'),
        ["[quiet] nroth", 'did you mean "north"?'],
    ),
    "a quiet row of a half that is none": (
        plus('[quiet]\nnorth = ["sat", "fri evening"]'),
        ["[quiet] north", "weekdays (mon … sun)", 'wrong in it: "fri evening"'],
    ),
    "a day that begins after its night": (
        plus('[halves]\nday = "19:00"'),
        ['[halves] day = "19:00"', "before the night (18:00)"],
    ),
    "a hole beyond the tape's end": (
        instead('["09:20"]', '["09:20", "12:00"]'),
        ["[tape.holes] north", "below the tape's length (12h)", "wrong in it: 12:00"],
    ),
    "a hole between two minutes": (
        instead('["09:20"]', '["09:20:30"]'),
        ["[tape.holes] north", "whole minutes", "09:20:30"],
    ),
    "a hole punched twice": (
        instead('["09:20"]', '["09:20", "08:00", "09:20"]'),
        ["[tape.holes] north", "each hole once", "09:20"],
    ),
    "holes of a zone that is not known": (
        instead('["09:20"]', '["09:20"]\nwest = ["08:30"]'),
        ["[tape.holes] west", 'there is no zone "west"'],
    ),
    "a tape of ten hours": (
        instead('length = "12h"', 'length = "10h"'),
        ['[tape] length = "10h"', '"6h" or "12h" or "24h"'],
    ),
    "a tape with strokes": (
        instead('length = "12h"', 'length = "12h"\nstrokes = [1]'),
        ["[tape] strokes", "no such key"],
    ),
    "a tape that rings too long": (
        instead('for = "5s"\n[tape.holes]', 'for = "11s"\n[tape.holes]'),
        ['[tape] for = "11s"', "longest of north (10s)"],
    ),
    "a tape that rings a gong": (
        instead('north = ["09:20"]', 'gong = ["09:20"]'),
        ['[tape] for = "5s"', "gong", "single-stroke"],
    ),
    "a tape without holes": (
        instead('[tape.holes]\nnorth = ["09:20"]', ""),
        ["[tape] holes", "is required"],
    ),
    "a country that is not known": (
        plus(HOLIDAYS + 'country = "XQ"'),
        ['[holidays] country = "XQ"', "ISO 3166-1"],
    ),
    "a country in small letters": (
        plus(HOLIDAYS + 'country = "us"'),
        ['country = "us"', 'did you mean "US"?'],
    ),
    "the United Kingdom as a whole": (
        plus(HOLIDAYS + 'country = "GB"'),
        ["[holidays] subdivision", "is required", "ENG, NIR, SCT, WLS"],
    ),
    "Canada as a whole": (plus(HOLIDAYS + 'country = "CA"'), ["subdivision", "is required", "NS"]),
    "a subdivision that is not known": (
        plus(HOLIDAYS + 'country = "CA"\nsubdivision = "XX"'),
        ['[holidays] subdivision = "XX"', "no such subdivision in CA", "NS"],
    ),
    "a subdivision by its name": (
        plus(HOLIDAYS + 'country = "GB"\nsubdivision = "Scotland"'),
        ['did you mean "SCT"?'],
    ),
    "a subdivision of a country without": (
        plus(HOLIDAYS + 'country = "DK"\nsubdivision = "84"'),
        ["expected no subdivision"],
    ),
    "a holiday plan that does not exist": (
        plus(HOLIDAYS + 'country = "US"\nplan = "quiet"'),
        ['[holidays] plan = "quiet"', 'there is no plan "quiet"'],
    ),
    "text on two lines": (
        instead('"Marrow Lane School"', r'"Marrow\nLane"'),
        [r'[building] name = "Marrow\nLane"', "on one line"],
    ),
    "true in quotes": (
        plus('[clock]\ntrust_rtc = "true"'),
        ['trust_rtc = "true"', "without quotes"],
    ),
    "a zone that is not a table": (
        instead("[building]", "zones.west = 5\n[building]"),
        ["[zones.west] here = 5", "expected a table"],
    ),
}
BROKEN = WIRING | KEEPING


@pytest.mark.parametrize("what", BROKEN)
def test_a_broken_file_is_refused_with_words_that_say_what_to_do(faults_of, what):
    text, words = BROKEN[what]
    faults = faults_of(text)
    message = str(faults[0])
    assert len(faults) == 1, [str(fault) for fault in faults]
    assert [word for word in words if word not in message] == [], message


@pytest.mark.parametrize("what", BROKEN)
def test_a_message_is_one_line_that_begins_with_its_file(faults_of, tmp_path, what):
    message = str(faults_of(BROKEN[what][0])[0])
    assert message.startswith(f"{tmp_path / 'school.toml'}: ")
    assert len(message.splitlines()) == 1


@pytest.mark.parametrize("what", BROKEN)
def test_a_message_is_in_the_keepers_words(faults_of, what):
    message = str(faults_of(BROKEN[what][0])[0])
    assert JARGON.search(message) is None, message


def test_the_house_without_a_fault_is_read(building_of):
    assert building_of(HOUSE).name == "Marrow Lane School"
