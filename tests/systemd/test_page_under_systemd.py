"""The keeper's page under its own unit: it signs somebody in, and gives orders in their name."""

from __future__ import annotations

import pytest
from debian_machine import Machine

pytestmark = pytest.mark.roots

# Inside the machine, which has no network but its own.
VISIT = """
import sys
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, Request, build_opener

at, token = "http://127.0.0.1:8470", sys.argv[1]
browser = build_opener(HTTPCookieProcessor())
form = urlencode({"name": "anna", "password": "correct horse", "to": "/"}).encode()
print("NOW", browser.open(f"{at}/sign-in", form, 30).read().decode())
rung = Request(f"{at}/api/orders/ring", b'{"zones": ["north"], "for": "1s"}')
for name, value in {
    "Authorization": f"Bearer {token}",
    "Idempotency-Key": "lunch-2026-11-25",
    "Content-Type": "application/json",
}.items():
    rung.add_header(name, value)
print("RUNG", browser.open(rung, timeout=30).read().decode())
"""


def is_active(at: Machine) -> bool:
    return at.run("systemctl", "is-active", "understudy-page", check=False).returncode == 0


@pytest.mark.parametrize("kit", ["bookworm", "trixie"], indirect=True)
def test_it_starts_once_somebody_is_listed_and_acts_in_their_name(at_work) -> None:
    at_work.run("systemctl", "start", "understudy-page")
    assert not is_active(at_work), "nobody could sign in"
    add = "echo 'correct horse' | understudy person add anna --role edit"
    at_work.run("sh", "-c", add)
    token = at_work.run("understudy", "person", "token", "noticeboard", "--role", "act").stdout
    at_work.run("systemctl", "start", "understudy-page")
    assert is_active(at_work)
    at_work.file("/tmp/visit.py").write_text(VISIT)
    python = "/opt/understudy/current/bin/python"
    told = at_work.run(python, "/tmp/visit.py", token.strip()).stdout
    assert "Elm House" in told
    assert "anna may edit" in told
    assert "north rings now" in told
    assert "noticeboard" in at_work.run("understudy", "logbook").stdout
    at_work.run("systemctl", "stop", "understudy-page")
    assert "Traceback" not in at_work.run("journalctl", "-u", "understudy-page").stdout
