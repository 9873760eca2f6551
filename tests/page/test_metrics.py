"""The numbers for Prometheus: what they say, and that its text format is kept."""

from __future__ import annotations

import re

import pytest
from machine_desk import programs

from controller.page.metrics import Metric, exposition

# Prometheus, "Exposition formats", "Text format details": one line each of HELP and TYPE before a
# measure's values, all of them in one group; \\, \" and \n escaped in labels; a line feed last.
NAME = r"[a-zA-Z_:][a-zA-Z0-9_:]*"
LABEL = r'[a-zA-Z_][a-zA-Z0-9_]*="(?:[^"\\\n]|\\\\|\\"|\\n)*"'
SAMPLE = re.compile(rf"({NAME})(?:\{{((?:{LABEL},)*{LABEL})\}})? (\S+)")


def parsed(text: str) -> dict[str, float]:
    """Name and labels → value, of a text that keeps the rules."""
    assert text.endswith("\n")
    found: dict[str, float] = {}
    order: list[str] = []
    helped, typed = set[str](), set[str]()
    for line in text.split("\n")[:-1]:
        if match := re.fullmatch(rf"# HELP ({NAME}) (.*)", line):
            assert match[1] not in helped
            helped.add(match[1])
        elif match := re.fullmatch(
            rf"# TYPE ({NAME}) (counter|gauge|histogram|summary|untyped)", line
        ):
            assert match[1] not in typed | set(order)
            typed.add(match[1])
        else:
            match = SAMPLE.fullmatch(line)
            assert match is not None, line
            assert match[1] in typed
            if not order or order[-1] != match[1]:
                assert match[1] not in order, "one group"
                order.append(match[1])
            key = line.rpartition(" ")[0]
            assert key not in found
            found[key] = float(match[3])
    assert helped == typed == set(order)
    return found


@pytest.fixture
def page():
    with programs() as found:
        yield found


def numbers(page) -> dict[str, float]:
    answer = page.client.get("/metrics", headers=page.bearing("look"))
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/plain; version=0.0.4; charset=utf-8"
    return parsed(answer.text)


def test_the_state_is_told_in_numbers(page):
    found = numbers(page)
    assert found["understudy_up"] == 1
    assert found["understudy_clock_trusted"] == 1
    assert found["understudy_clock_error_seconds"] == 0.02
    assert found['understudy_zone_state{zone="north",state="silent"}'] == 1
    assert found['understudy_line_state{line="main",state="unread"}'] == 1
    assert found["understudy_storing"] == 1
    monday = 1_795_996_800  # 2026-11-30 00:00 UTC
    half_past_eight = monday + 8 * 3600 + 1800
    assert found['understudy_next_ring_timestamp_seconds{zone="south"}'] == half_past_eight
    assert not any("supply" in name for name in found), "nobody senses it"


def test_a_fault_that_lasts_is_counted_and_one_that_ended_is_not(page):
    since = "2026-11-29T01:00:00+01:00"
    lasting = {"name": 'a "\\\n', "says": "", "since": since, "until": None}
    ended = {"name": "store", "says": "", "since": since, "until": since}
    page.desk.picture = {**page.desk.picture, "faults": [lasting, ended], "well": False}
    found = numbers(page)
    assert found["understudy_faults"] == 1
    assert found["understudy_well"] == 0
    assert found[r'understudy_fault_since_timestamp_seconds{fault="a \"\\\n"}'] == 1_795_910_400


def test_of_a_daemon_that_is_down_nothing_old_is_told_as_if_it_were_now(page):
    page.server.close(0)
    assert numbers(page) == {"understudy_up": 0}


def test_when_a_daemon_that_is_down_left_its_state_is_told(page):
    page.server.close(0)
    folder = page.client.app._app.state.settings.state
    (folder / "last-state.json").write_text('{"at_utc": 1795000000000000000, "state": {}}')
    found = numbers(page)
    left = found.pop("understudy_last_state_timestamp_seconds")
    assert left == pytest.approx(1_795_000_000, abs=1)
    assert found == {"understudy_up": 0}


def test_whether_all_is_well_anybody_may_ask_and_is_told_no_more(page):
    page.desk.picture = {**page.desk.picture, "well": True}
    answer = page.client.get("/health")
    assert (answer.status_code, answer.text) == (200, "well\n")
    page.client.app._app.state.asking.forget()
    page.desk.picture = {**page.desk.picture, "well": False}
    page.server.changed()
    answer = page.client.get("/health")
    assert (answer.status_code, answer.text) == (503, "not well\n")
    page.client.app._app.state.asking.forget()
    page.server.close(0)
    answer = page.client.get("/health")
    assert answer.status_code == 503
    assert "daemon" in answer.text


def test_a_measure_without_values_is_left_out():
    assert exposition([Metric("a", "b", [])]) == ""
    assert parsed(exposition([Metric("a", "b", [({}, 1)]), Metric("c", "d", [])])) == {"a": 1}
