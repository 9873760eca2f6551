"""What every answer tells a browser, whatever it is the answer to; and the cookie."""

from __future__ import annotations

import pytest
from bell_desk import halls
from keepers import PASSWORD
from wire import FORM, wires

from controller.page import now

SIGN_IN = f"name=bo&password={PASSWORD.replace(' ', '+')}".encode()


@pytest.fixture
def hall(tmp_path):
    with halls(tmp_path) as found:
        yield found


@pytest.fixture
def wire(hall):
    with wires(hall.site) as found:
        yield found


def directives(policy: str) -> dict[str, list[str]]:
    """CSP3 (W3C), 2.2: directives between semicolons; of two of one name the first counts."""
    found: dict[str, list[str]] = {}
    for part in policy.split(";"):
        name, *sources = part.split()
        assert name not in found
        found[name] = sources
    return found


ANSWERS = {  # what is asked, and how it is answered
    "a page": ("GET", "/sign-in", 200),
    "sent on to sign in": ("GET", "/", 303),
    "no such page": ("GET", "/none", 404),
    "not so": ("DELETE", "/sign-in", 405),
    "no form": ("POST", "/sign-in", 415),
    "nobody": ("POST", "/act/stop", 403),
    "style": ("GET", "/static/page.css", 200),
    "script": ("GET", "/static/now.js", 200),
    "no such file": ("GET", "/static/none.css", 404),
    "sent on to another address": ("GET", "/sign-in/", 307),
    "health": ("GET", "/health", 200),
    "no token": ("GET", "/metrics", 401),
    "no token for an order": ("POST", "/api/orders/ring", 401),
}


@pytest.mark.parametrize(("method", "target", "status"), ANSWERS.values(), ids=list(ANSWERS))
def test_every_answer_forbids_what_no_page_needs(wire, method, target, status):
    answer = wire.sends(method, target)
    assert answer.status == status
    seen_to_forbid(answer)
    kept = answer.all("cache-control")
    assert (kept == ["no-store"]) != target.startswith("/static/")


def test_an_answer_to_a_fault_of_the_program_forbids_it_too(hall, wire, monkeypatch):
    number = hall.person("cy").client.cookies["understudy"]

    def breaks(picture):
        raise RuntimeError("a planted fault")

    monkeypatch.setattr(now, "now_shown", breaks)
    answered = []
    with pytest.raises(RuntimeError):  # the server writes it to its log
        wire.sends("GET", "/", [("cookie", f"understudy={number}")], told=answered)
    (answer,) = answered
    assert answer.status == 500
    assert b"planted" not in answer.body
    seen_to_forbid(answer)


def seen_to_forbid(answer) -> None:
    policy = directives(answer.one("content-security-policy"))
    assert policy["default-src"] == ["'none'"]  # CSP3, 6.1: what is not named falls back to it
    # 6.1, 6.4: these do not fall back.
    assert policy["form-action"] == ["'self'"]
    assert policy["frame-ancestors"] == policy["base-uri"] == ["'none'"]
    # Neither inline nor evaluated nor from elsewhere.
    fetched = {name for name in policy if name.endswith("-src")} - {"default-src"}
    assert fetched == {"style-src", "script-src", "img-src", "connect-src"}
    assert all(policy[name] == ["'self'"] for name in fetched)
    assert answer.one("x-content-type-options") == "nosniff"
    assert answer.one("x-frame-options") == "DENY"
    assert answer.one("referrer-policy") == "same-origin"
    assert answer.one("cross-origin-opener-policy") == "same-origin"
    assert answer.one("cross-origin-resource-policy") == "same-origin"
    assert answer.all("access-control-allow-origin") == []
    assert answer.all("server") == []


def test_only_over_tls_a_browser_is_told_to_stay_with_it(wire):
    """RFC 6797, 7.2: not over plain HTTP."""
    assert wire.sends("GET", "/sign-in").all("strict-transport-security") == []
    wire.scheme = "https"
    assert wire.sends("GET", "/sign-in").one("strict-transport-security") == "max-age=31536000"


# ── the cookie: RFC 6265bis ──────────────────────────────────────────────────────────────────────


def cookie(answer) -> tuple[str, str, dict[str, str]]:
    """Name, value and attributes (5.6: names without regard to case)."""
    pair, *rest = answer.one("set-cookie").split(";")
    name, _, value = pair.partition("=")
    split = [one.strip().partition("=") for one in rest]
    found = {key.lower(): text for key, _, text in split}
    assert len(found) == len(split)
    return name, value, found


def test_the_cookie_is_for_this_page_alone_and_no_script_reads_it(wire):
    name, value, attributes = cookie(wire.sends("POST", "/sign-in", [FORM], SIGN_IN))
    assert name == "understudy"
    assert len(value) >= 43
    assert attributes.keys() == {"httponly", "samesite", "path", "max-age"}, "no Domain"
    assert attributes["samesite"].lower() == "lax"
    assert attributes["path"] == "/"
    assert int(attributes["max-age"]) == 12 * 3600


def test_over_tls_it_is_one_that_no_plain_page_can_set(wire):
    """4.1.3.2: a name with `__Host-` takes Secure, Path=/ and no Domain."""
    wire.scheme = "https"
    name, _, attributes = cookie(wire.sends("POST", "/sign-in", [FORM], SIGN_IN))
    assert name == "__Host-understudy"
    assert attributes.keys() == {"secure", "httponly", "samesite", "path", "max-age"}
    assert attributes["path"] == "/"


def test_over_tls_the_cookie_of_a_plain_page_counts_for_nothing(wire):
    _, value, _ = cookie(wire.sends("POST", "/sign-in", [FORM], SIGN_IN))
    assert wire.sends("GET", "/", [("cookie", f"understudy={value}")]).status == 200
    wire.scheme = "https"
    assert wire.sends("GET", "/", [("cookie", f"understudy={value}")]).status == 303


def test_nobody_goes_on_with_a_number_that_was_there_before_they_signed_in(wire):
    planted = "x" * 43
    headers = [FORM, ("cookie", f"understudy={planted}")]
    _, first, _ = cookie(wire.sends("POST", "/sign-in", headers, SIGN_IN))
    assert first != planted
    headers = [FORM, ("cookie", f"understudy={first}")]
    _, second, _ = cookie(wire.sends("POST", "/sign-in", headers, SIGN_IN))
    assert second != first
    assert wire.sends("GET", "/", [("cookie", f"understudy={first}")]).status == 303
    assert wire.sends("GET", "/", [("cookie", f"understudy={second}")]).status == 200


def test_signing_out_takes_it_away(hall):
    bo = hall.person("bo")
    number = bo.client.cookies["understudy"]
    bo.sends(bo.opens("/"), "/sign-out")
    assert "understudy" not in bo.client.cookies
    with wires(hall.site) as wire:
        assert wire.sends("GET", "/", [("cookie", f"understudy={number}")]).status == 303


def test_where_nobody_signed_in_no_cookie_is_set(wire):
    wrong = SIGN_IN + b"x"
    assert wire.sends("POST", "/sign-in", [FORM], wrong).all("set-cookie") == []
    assert wire.sends("GET", "/sign-in").all("set-cookie") == []
