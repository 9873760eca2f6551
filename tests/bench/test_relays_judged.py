"""What the bench finds of modelled relays, on virtual time and the hand's own rules."""

from __future__ import annotations

import dataclasses
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from virtual_bench import MINUS, MS, NORTH, PLUS, SECOND, Model, VirtualBench, plan

from controller.bench.lines import lines
from controller.bench.relays import relays
from controller.bench.times import endurance, times

NAMES = {NORTH: "zones.north", PLUS: "lines.main+", MINUS: "lines.main-"}
FAULTS = {
    "stuck": Model(stuck=True),
    "welded": Model(welded=True),
    "slow": Model(pull_in=150 * MS),
    "bouncing": Model(closing_bounces=(15 * MS, 20 * MS, 30 * MS, 35 * MS)),
}
WATCHED = ["y"] * 20


def verdicts(results):
    return {result.what: result.verdict for result in results}


def says(results, what):
    return " ".join(s for result in results if result.what == what for s in result.says)


# ── relays one by one ────────────────────────────────────────────────────────────────────────────


def test_sound_relays_are_well_and_those_without_a_sense_wait_for_a_person():
    found = verdicts(VirtualBench().conduct(relays(plan())))
    assert found == {
        "zones.north": "well",
        "zones.south": "not judged",
        "lines.main+": "well",
        "lines.main-": "well",
        "lines.yard": "not judged",
    }


@pytest.mark.parametrize("kind", FAULTS)
@pytest.mark.parametrize("relay", NAMES)
def test_a_faulty_relay_is_found_and_its_fault_named(kind, relay):
    bench = VirtualBench({relay: dataclasses.replace(FAULTS[kind])})
    results = bench.conduct(relays(plan()))
    assert verdicts(results)[NAMES[relay]] == "fault"
    assert f"{NAMES[relay]} is {kind}: " in says(results, NAMES[relay])
    others = {name for key, name in NAMES.items() if key != relay}
    kept_from_closing = {"lines.main+", "lines.main-"} if kind == "welded" else set()
    for other in others:
        if relay[0] == "lines.main" and other in kept_from_closing:
            assert f"{NAMES[relay]} stays closed" in says(results, other)
        else:
            assert verdicts(results)[other] == "well"


def test_a_relay_that_opens_late_is_slow_and_not_welded():
    bench = VirtualBench({NORTH: Model(drop_out=600 * MS)})
    results = bench.conduct(relays(plan()))
    assert "zones.north is slow" in says(results, "zones.north")
    assert "welded" not in says(results, "zones.north")


def test_exchanged_wires_of_a_line_are_no_stuck_and_welded_relays():
    results = VirtualBench(crossed=(PLUS, MINUS)).conduct(relays(plan()))
    for name in ("lines.main+", "lines.main-"):
        assert f"{name} is swapped" in says(results, name)
        assert "GPIO22" in says(results, name)
        assert "GPIO23" in says(results, name)
        assert "stuck" not in says(results, name)
    assert verdicts(results)["zones.north"] == "well"


def test_exchanged_wires_of_a_zone_and_a_line_are_found_too():
    results = VirtualBench(crossed=(NORTH, PLUS)).conduct(relays(plan()))
    assert "the contact of lines.main+ closed" in says(results, "zones.north")
    assert "the contact of zones.north closed" in says(results, "lines.main+")


def test_relays_that_move_together_are_joined():
    results = VirtualBench(joined=(NORTH, MINUS)).conduct(relays(plan()))
    assert "the contact of lines.main- closed with it" in says(results, "zones.north")


@pytest.mark.parametrize(
    ("answer", "verdict", "words"),
    [("y", "well", ""), ("n", "fault", "south is stuck"), ("o", "fault", "south is swapped")],
)
def test_a_person_judges_a_relay_without_a_sense(answer, verdict, words):
    bench = VirtualBench()
    bench.answers = [answer, "y"]
    results = bench.conduct(relays(plan()))
    (south,) = (one for one in results if one.what == "zones.south")
    assert (south.verdict, south.by) == (verdict, "person")
    assert words in says(results, "zones.south")


def test_again_works_the_relay_once_more():
    bench = VirtualBench()
    bench.answers = ["a", "a", "y", "y"]
    bench.conduct(relays(plan()))
    assert sum(key[0] == "zones.south" for key, _, _ in bench.closings) == 3


def test_what_is_not_begun_moves_nothing():
    bench = VirtualBench()
    script = relays(plan())
    next(script)
    note = script.send(False)
    assert note.result.verdict == "not done"
    assert bench.conduct(script)
    assert bench.closings == []


# ── lines ────────────────────────────────────────────────────────────────────────────────────────


def test_a_line_is_given_plus_and_minus_by_turns_at_its_impulse_and_gap():
    bench = VirtualBench()
    bench.conduct(lines(plan("main")))
    given_ = [closing for closing in bench.closings if closing[0][0] == "lines.main"]
    assert [key for key, _, _ in given_] == [PLUS, MINUS] * 3
    assert {until - since for _, since, until in given_} == {500 * MS}
    rests = [b[1] - a[2] for a, b in pairwise(given_)]
    drop_out = 4 * MS  # the gap runs from the contact's opening
    assert rests[:3] == [200 * MS + drop_out] * 3


def test_plus_and_minus_together_are_refused_on_purpose():
    bench = VirtualBench()
    results = bench.conduct(lines(plan("main")))
    (interlock,) = (one for one in results if one.what == "lines.main interlock")
    assert interlock.verdict == "well"
    assert "− was refused" in says(results, "lines.main interlock")


def test_a_hand_that_gives_both_polarities_is_the_worst_of_faults():
    script = lines(plan("main"))
    bench = VirtualBench()
    answer = None
    while True:
        step = script.send(answer)
        answer = True
        if type(step).__name__ == "Operate":
            answer = bench._operate(step.wanted)
            if len(answer) == 2:  # as if the interlock had failed
                answer = (answer[0], answer[1]._replace(closed_at=answer[0].closed_at))
        if type(step).__name__ == "Note" and "interlock" in step.result.what:
            break
        if type(step).__name__ in ("Ask", "Say"):
            answer = None
    assert step.result.verdict == "fault"
    assert "Do not connect this line" in step.result.says[0]


@pytest.mark.parametrize(
    ("answer", "verdict", "words"),
    [
        ("y", "well", "Impulses 500.0 ms"),
        ("s", "fault", "lines.main is swapped"),
        ("n", "fault", "not what was asked for"),
    ],
)
def test_a_person_at_the_meter_judges_a_line(answer, verdict, words):
    bench = VirtualBench()
    bench.answers = [answer]
    results = bench.conduct(lines(plan("main")))
    assert verdicts(results)["lines.main"] == verdict
    assert words in says(results, "lines.main")


def test_a_single_line_has_no_interlock_to_try():
    results = VirtualBench().conduct(lines(plan("yard")))
    assert verdicts(results) == {"lines.yard": "not judged"}


# ── times ────────────────────────────────────────────────────────────────────────────────────────


@given(
    pull_in=st.integers(1, 90 * MS),
    drop_out=st.integers(1, 90 * MS),
    bounces=st.lists(st.integers(1, 15 * MS), max_size=6, unique=True).map(sorted),
)
def test_measured_times_are_those_of_the_relay(pull_in, drop_out, bounces):
    whole = tuple(bounces[: len(bounces) // 2 * 2])  # it ends where it was sent
    relay = Model(pull_in, drop_out, closing_bounces=whole, opening_bounces=whole)
    results = VirtualBench({NORTH: relay}).conduct(times(plan("north", operations=3)))
    figures = dict(results[0].figures)
    assert results[0].verdict == "well"
    assert figures["operations"] == 3
    for name, ns in {
        "pull-in": pull_in,
        "drop-out": drop_out,
        "closing bounce": whole[-1] if whole else 0,
        "opening bounce": whole[-1] if whole else 0,
    }.items():
        for which in ("least", "median", "worst"):
            assert figures[f"{name} {which} ms"] == pytest.approx(ns / MS, abs=0.001)


def test_a_relay_that_varies_shows_its_median_and_its_worst():
    bench = VirtualBench()
    script = times(plan("north", operations=5))
    lengths = iter([6 * MS, 7 * MS, 30 * MS, 8 * MS, 5 * MS])
    answer = None
    while True:
        try:
            step = script.send(answer)
        except StopIteration:
            break
        answer = True
        if type(step).__name__ == "Operate":
            bench.models[NORTH].pull_in = next(lengths)
            answer = bench._operate(step.wanted)
        elif type(step).__name__ == "Note":
            result, answer = step.result, None
    figures = dict(result.figures)
    assert figures["pull-in median ms"] == 7
    assert figures["pull-in worst ms"] == 30
    assert figures["pull-in least ms"] == 5
    assert "median 7.0 ms, worst 30.0 ms, spread 25.0 ms" in " ".join(result.says)
    pull_ins, drop_outs = result.histograms  # it does not bounce
    assert (pull_ins.name, pull_ins.start_ns, pull_ins.width_ns) == ("pull-in", 4 * MS, 2 * MS)
    assert pull_ins.counts == (1, 2, 1, *[0] * 10, 1)  # from 4, 6, 8 and 30 ms
    assert sum(drop_outs.counts) == 5


def test_a_circuit_without_a_sense_has_no_times():
    results = VirtualBench().conduct(times(plan("south")))
    assert verdicts(results) == {"zones.south": "not judged"}


# ── endurance ────────────────────────────────────────────────────────────────────────────────────


def test_endurance_counts_every_operation_and_keeps_its_rate():
    bench = VirtualBench()
    results = bench.conduct(endurance(plan("north", endures=30, rate=20.0)))
    assert dict(results[0].figures).items() >= {"operations": 30, "missed": 0, "late": 0}.items()
    starts = [since for _, since, _ in bench.closings]
    assert {b - a for a, b in pairwise(starts)} == {3 * SECOND}


def test_endurance_of_a_line_alternates():
    bench = VirtualBench()
    results = bench.conduct(endurance(plan("main", endures=10)))
    assert [key for key, _, _ in bench.closings] == [PLUS, MINUS] * 5
    assert verdicts(results) == {"lines.main": "well"}


def test_endurance_counts_what_was_missed_and_what_came_late():
    bench = VirtualBench()
    script = endurance(plan("north", endures=10))
    answer, worked = None, 0
    while True:
        try:
            step = script.send(answer)
        except StopIteration:
            break
        answer = True
        if type(step).__name__ == "Operate":
            worked += 1
            bench.models[NORTH].stuck = worked in (3, 4)
            bench.models[NORTH].pull_in = 150 * MS if worked == 7 else 6 * MS
            answer = bench._operate(step.wanted)
        elif type(step).__name__ == "Note":
            result, answer = step.result, None
    assert dict(result.figures).items() >= {"operations": 10, "missed": 2, "late": 1}.items()
    assert result.verdict == "fault"
    assert "zones.north is stuck" in " ".join(result.says)
    assert "(2 of 10)" in " ".join(result.says)


def test_endurance_says_how_long_it_will_take_and_why_not_faster():
    bench = VirtualBench()
    bench.conduct(endurance(plan("south", endures=6, rate=100.0)))
    told = " ".join(bench.said)
    assert "3 a minute" in told  # three closings of 300 ms fit into a_minute = 1s
    assert "nor 100" in told
    assert "about 2 min" in told
