"""Signing in: who is let in, for how long, and what ends it."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from controller.page.people import KeptPerson, People, keep_people, password_hash
from controller.page.settings import Settings
from controller.page.site import site

HASHES = {word: password_hash(word) for word in ("correct horse", "battery staple")}


@pytest.fixture
def people_file(tmp_path: Path) -> Path:
    path = tmp_path / "people.toml"
    list_anna(path, "correct horse")
    return path


@pytest.fixture
def browser(people_file: Path, tmp_path: Path) -> TestClient:
    settings = Settings(tmp_path / "none.toml", tmp_path, tmp_path, people_file)
    return TestClient(site(settings), base_url="http://pi", follow_redirects=False)


def list_anna(path: Path, password: str) -> None:
    anna = KeptPerson(role="look", password=HASHES[password])
    keep_people(path, People(people={"anna": anna}))


def sign_in(browser: TestClient, password: str = "correct horse", to: str = "/") -> int:
    fields = {"name": "anna", "password": password, "to": to}
    return int(browser.post("/sign-in", data=fields).status_code)


def is_in(browser: TestClient) -> bool:
    return bool(browser.get("/").status_code == 200)


def test_a_person_is_let_in_by_the_password_and_nobody_else(browser):
    assert not is_in(browser)
    assert sign_in(browser, "wrong") == 403
    assert not is_in(browser)
    assert sign_in(browser) == 303
    assert is_in(browser)


def test_another_password_ends_what_was_begun_by_the_one_before(browser, people_file):
    sign_in(browser)
    list_anna(people_file, "battery staple")
    assert not is_in(browser)
    assert sign_in(browser) == 403
    assert sign_in(browser, "battery staple") == 303


def test_whoever_is_taken_off_the_list_is_out_at_once(browser, people_file):
    sign_in(browser)
    keep_people(people_file, People())
    assert not is_in(browser)


def test_after_three_tries_that_failed_one_has_to_wait(browser):
    assert [sign_in(browser, "wrong") for _ in range(3)] == [403] * 3
    assert sign_in(browser) == 429, "even with the right one"
    assert not is_in(browser)


@pytest.mark.parametrize(
    ("to", "leads_to"),
    [
        ("/timetable?week=2026-W48", "/timetable?week=2026-W48"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("/\\elsewhere.example/", "/"),
        ("javascript:alert(1)", "/"),
        ("/a\r\nSet-Cookie: b=c", "/"),
        ("/\t/elsewhere.example/", "/"),
        (" //elsewhere.example/", "/"),
        ("http://[", "/"),
        ("//[", "/"),
        ("/" + "a" * 500, "/"),
        ("", "/"),
    ],
)
def test_it_goes_on_to_a_page_of_ours_and_nowhere_else(browser, to, leads_to):
    fields = {"name": "anna", "password": "correct horse", "to": to}
    assert browser.post("/sign-in", data=fields).headers["location"] == leads_to


def test_a_broken_place_to_go_on_to_is_no_fault_of_the_page(browser):
    assert browser.get("/sign-in", params={"to": "http://["}).status_code == 200


def test_whoever_is_let_do_more_or_less_is_so_at_once(browser, people_file):
    sign_in(browser)
    assert browser.get("/edit", follow_redirects=False).status_code == 403
    kept = people_file.read_text()
    people_file.write_text(kept.replace('role = "look"', 'role = "edit"  # from today on'))
    assert browser.get("/edit", follow_redirects=False).status_code != 403


def test_a_people_file_that_cannot_be_read_lets_nobody_in_and_says_so(browser, people_file):
    sign_in(browser)
    people_file.write_text("[people")
    answer = browser.get("/")
    assert answer.status_code == 503
    assert "Who may do what cannot be read" in answer.text


@pytest.mark.parametrize("name", ["", "An na", "x" * 5_000, "\x00", "../anna", "anna\n"])
def test_a_name_that_nobody_can_have_is_not_right(browser, name):
    answer = browser.post("/sign-in", data={"name": name + "!", "password": "correct horse"})
    assert answer.status_code == 403
    assert "Name or password are not right" in answer.text


def test_a_password_without_end_is_not_hashed(browser, monkeypatch):
    monkeypatch.setattr("controller.page.sign_in.person_by_password", None)
    assert sign_in(browser, "x" * 201) == 403
