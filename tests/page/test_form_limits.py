"""What a form must be: of a page of ours, small, whole, and a form."""

from __future__ import annotations

import anyio
import pytest
from bell_desk import halls
from wire import FORM, wires

from controller.page import forms
from controller.page.forms import MOST_BYTES, MOST_EDIT_BYTES


@pytest.fixture
def hall(tmp_path):
    with halls(tmp_path) as found:
        yield found


@pytest.fixture
def wire(hall):
    with wires(hall.site) as found:
        yield found


class Person:
    """Somebody signed in, on the wire."""

    def __init__(self, hall, wire, name: str) -> None:
        state = hall.site._app.state
        self.wire = wire
        number = state.sessions.begin(name, state.people.now().people[name].password)
        self.session = state.sessions.of(number)
        self.cookie = ("cookie", f"understudy={number}")

    def sends(self, target: str, body: bytes, *headers: tuple[str, str], mark: str | None = None):
        csrf = self.session.mark() if mark is None else mark
        body += f"&csrf={csrf}".encode()
        return self.wire.sends("POST", target, [self.cookie, FORM, *headers], body)


@pytest.fixture
def bo(hall, wire):
    return Person(hall, wire, "bo")


@pytest.fixture
def ada(hall, wire):
    return Person(hall, wire, "ada")


def ring(person, *headers, mark=None):
    return person.sends("/act/ring/north", b"for=2", *headers, mark=mark)


# ── its mark ─────────────────────────────────────────────────────────────────────────────────────


def test_a_form_that_is_sent_again_rings_once(hall, bo):
    mark = bo.session.mark()
    assert ring(bo, mark=mark).status == 200
    again = ring(bo, mark=mark)
    assert again.status == 409
    assert b"not done twice" in again.body
    assert len(hall.given) == 1


@pytest.mark.parametrize("mark", ["", "x", ".", "a.b", "%00", "%EF%BC%91.x"])
def test_a_form_without_a_mark_of_ours_does_nothing(hall, bo, mark):
    assert ring(bo, mark=mark).status == 403
    assert hall.given == []


def test_a_form_with_the_mark_of_another_session_does_nothing(hall, wire, bo, ada):
    assert ring(bo, mark=ada.session.mark()).status == 403
    assert ring(bo, mark=Person(hall, wire, "bo").session.mark()).status == 403
    assert hall.given == []


def test_a_mark_ends_with_its_session(hall, bo):
    mark = bo.session.mark()
    hall.site._app.state.sessions.end(bo.cookie[1].partition("=")[2])
    assert ring(bo, mark=mark).status == 403
    assert hall.given == []


def test_who_was_let_do_less_meanwhile_can_do_no_more(hall, bo):
    people = hall.site._app.state.settings.people
    people.write_text(
        people.read_text().replace('[people.bo]\nrole = "act"', '[people.bo]\nrole = "look"')
    )
    assert ring(bo).status == 403
    assert hall.given == []


# ── whose page it is on ──────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    "origin",
    [
        "https://elsewhere.example",
        "null",
        "",
        "http://[",
        "http://pi:8470.elsewhere.example",
        "http://pi",
        "http://pi:80",
        "pi:8470",
        "http://pi:8470/",
    ],
)
def test_a_form_on_somebody_elses_page_does_nothing(hall, bo, origin):
    answer = ring(bo, ("origin", origin))
    assert answer.status == 403
    assert b"somebody else" in answer.body
    assert hall.given == []


@pytest.mark.parametrize("origin", ["http://pi:8470", "https://pi:8470", "http://PI:8470"])
def test_a_form_on_our_own_page_is_heard(hall, bo, origin):
    assert ring(bo, ("origin", origin)).status == 200
    assert len(hall.given) == 1


def test_nobody_is_signed_in_from_somebody_elses_page(wire):
    body = b"name=bo&password=a+long+enough+word"
    answer = wire.sends("POST", "/sign-in", [FORM, ("origin", "https://elsewhere.example")], body)
    assert answer.status == 403
    assert answer.all("set-cookie") == []


# ── how large, how slow, what kind ───────────────────────────────────────────────────────────────


@pytest.mark.parametrize("target", ["/sign-in", "/act/stop", "/sign-out", "/rehearse"])
def test_a_form_has_64_kilobytes_at_most(hall, bo, target):
    assert bo.sends(target, b"x=" + b"a" * MOST_BYTES).status == 413
    assert bo.sends(target, b"x=" + b"a" * (MOST_BYTES - 200)).status != 413
    assert MOST_BYTES == 64 * 1024


def test_an_edit_has_a_mebibyte_and_only_an_edit(ada):
    assert ada.sends("/edit/save", b"edit=" + b"a" * MOST_BYTES).status != 413
    assert ada.sends("/edit/save", b"edit=" + b"a" * MOST_EDIT_BYTES).status == 413
    assert MOST_EDIT_BYTES == 1 << 20


def test_what_is_too_large_is_not_read_to_its_end(wire):
    """It would fill the memory first."""
    answer = wire.sends("POST", "/sign-in", [FORM], b"a" * (8 << 20))
    assert answer.status == 413
    assert wire.unread > 7 << 20


def test_a_form_has_2000_fields_at_most(bo):
    assert bo.sends("/act/stop", b"&".join([b"a=b"] * 2_001)).status == 400
    assert bo.sends("/act/stop", b"&".join([b"a=b"] * 1_900)).status == 200


@pytest.mark.parametrize(
    "kind", ["", "text/plain", "multipart/form-data; boundary=x", "application/json"]
)
def test_another_kind_of_body_is_no_form(hall, bo, kind):
    """Nor one that a page of somebody else's could send without asking first (Fetch, 2.2.2)."""
    body = f"for=2&csrf={bo.session.mark()}".encode()
    headers = [bo.cookie, *([("content-type", kind)] if kind else [])]
    assert bo.wire.sends("POST", "/act/ring/north", headers, body).status == 415
    assert hall.given == []


@pytest.mark.parametrize("body", [b"\xff=1", b"a=%ff", b"a=%ed%a0%80"])
def test_what_is_no_text_is_refused_in_words(hall, bo, body):
    answer = bo.sends("/act/stop", body)
    assert answer.status == 400
    assert b"no form that a browser would send" in answer.body
    assert hall.given == []


def test_who_sends_too_slowly_is_parted_from(wire, monkeypatch):
    monkeypatch.setattr(forms, "MOST_SECONDS", 0.0)
    answer = wire.sends("POST", "/sign-in", [FORM], b"name=bo", stalls=anyio.sleep_forever)
    assert answer.status == 408


def test_who_hangs_up_halfway_is_no_fault_of_ours(wire):
    assert wire.sends("POST", "/sign-in", [FORM], None).status == 400
