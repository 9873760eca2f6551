"""`understudy person`: who is listed, with which role, by which password or token."""

from __future__ import annotations

import stat

import pytest

from controller.page.people import Person, machine_by_token, people_of, person_by_password

PASSWORD = "a long enough word"


@pytest.fixture
def file(tmp_path, monkeypatch):
    """Where people are listed; the command finds it by the environment."""
    found = tmp_path / "people.toml"
    monkeypatch.setenv("UNDERSTUDY_PEOPLE", str(found))
    return found


@pytest.fixture
def anna(understudy, file):
    said = understudy("person", "add", "anna", "--role", "act", typed=f"{PASSWORD}\n")
    assert said.code == 0
    return said


def test_somebody_is_listed_with_a_password_from_a_pipe(file, anna):
    assert anna.out == "anna may act, by the password just given.\n"
    people = people_of(file)
    assert person_by_password(people, "anna", PASSWORD) == Person("anna", "act")
    assert stat.S_IMODE(file.stat().st_mode) & 0o007 == 0, "not for everybody to read"
    assert PASSWORD not in file.read_text()


@pytest.mark.parametrize("end", ["", "\n", "\r\n", "\nand more that nobody asked for\n"])
def test_the_password_is_the_line_without_its_end(understudy, file, end):
    understudy("person", "add", "anna", "--role", "look", typed=PASSWORD + end)
    assert person_by_password(people_of(file), "anna", PASSWORD) is not None


@pytest.mark.parametrize("typed", ["", "\n", "short\n", "x" * 201 + "\n", "x" * 100_000])
def test_a_password_that_is_none_is_refused_and_nobody_listed(understudy, file, typed):
    said = understudy("person", "add", "anna", "--role", "act", typed=typed)
    assert said.code == 1
    assert "The password was not taken: expected 8 to 200 characters" in said.err
    assert not file.exists()


@pytest.mark.parametrize("name", ["Anna", "an na", "", "x" * 41, "../x", "anna\n", "änna"])
def test_a_name_is_of_few_letters(understudy, file, name):
    said = understudy("person", "add", name, "--role", "act", typed=f"{PASSWORD}\n")
    assert said.code == 1
    assert "expected at most 40 of a to z, 0 to 9 and -" in said.err
    assert not file.exists()


def test_there_are_three_roles(understudy, file):
    said = understudy("person", "add", "anna", "--role", "boss", typed=f"{PASSWORD}\n")
    assert said.code == 2
    assert all(role in said.err for role in ("look", "act", "edit"))


def test_whoever_is_added_again_has_another_password_and_role(understudy, file, anna):
    understudy("person", "add", "anna", "--role", "look", typed="another long word\n")
    people = people_of(file)
    assert person_by_password(people, "anna", PASSWORD) is None
    assert person_by_password(people, "anna", "another long word") == Person("anna", "look")


def test_a_role_is_changed_and_the_password_stays(understudy, file, anna):
    said = understudy("person", "role", "anna", "--role", "edit")
    assert (said.code, said.out) == (0, "anna may edit.\n")
    assert person_by_password(people_of(file), "anna", PASSWORD) == Person("anna", "edit")


def test_a_machine_has_a_token_that_is_told_once(understudy, file, anna):
    said = understudy("person", "token", "board", "--role", "look")
    assert said.code == 0
    token = said.out.strip()
    assert said.out == f"{token}\n", "alone on standard output, for a script"
    assert "board may look" in said.err
    assert machine_by_token(people_of(file), token) == Person("board", "look")
    assert token not in file.read_text()
    understudy("person", "role", "board", "--role", "act")
    assert machine_by_token(people_of(file), token) == Person("board", "act")
    again = understudy("person", "token", "board", "--role", "look").out.strip()
    assert machine_by_token(people_of(file), token) is None, "the one before is none any more"
    assert machine_by_token(people_of(file), again) == Person("board", "look")


def test_whoever_is_removed_may_nothing(understudy, file, anna):
    token = understudy("person", "token", "board", "--role", "look").out.strip()
    assert understudy("person", "remove", "anna").code == 0
    assert understudy("person", "remove", "board").code == 0
    people = people_of(file)
    assert person_by_password(people, "anna", PASSWORD) is None
    assert machine_by_token(people, token) is None


@pytest.mark.parametrize("words", [("remove", "bert"), ("role", "bert", "--role", "act")])
def test_nobody_of_that_name_is_said(understudy, file, anna, words):
    said = understudy("person", *words)
    assert said.code == 1
    assert "Nobody is called bert; `understudy person list` has all." in said.err


def test_a_name_is_a_persons_or_a_machines(understudy, file, anna):
    understudy("person", "token", "board", "--role", "look")
    said = understudy("person", "token", "anna", "--role", "look")
    assert (said.code, said.out) == (1, "")
    assert "anna is a person" in said.err
    said = understudy("person", "add", "board", "--role", "look", typed=f"{PASSWORD}\n")
    assert said.code == 1
    assert "board is a machine" in said.err


def test_all_are_listed_without_what_they_are_known_by(understudy, file, anna):
    understudy("person", "token", "board", "--role", "look")
    said = understudy("person", "list")
    assert [line.split() for line in said.out.splitlines()] == [
        ["anna", "may", "act"],
        ["board", "may", "look", "machine"],
    ]


def test_that_nobody_is_listed_is_said(understudy, file):
    assert understudy("person", "list").out == "Nobody is listed yet.\n"


def test_the_file_may_be_named(understudy, file, tmp_path):
    other = tmp_path / "other.toml"
    understudy("person", "add", "anna", "--role", "act", "--people", other, typed=f"{PASSWORD}\n")
    assert "anna" in people_of(other).people
    assert not file.exists()


def test_a_folder_that_is_not_there_is_said(understudy, tmp_path):
    gone = tmp_path / "none" / "people.toml"
    said = understudy("person", "add", "a", "--role", "act", "--people", gone, typed=PASSWORD)
    assert said.code == 1
    assert said.err == f"understudy: {gone}.new: No such file or directory\n"


def test_a_file_with_a_fault_is_not_written_over(understudy, file):
    file.write_text("[people")
    said = understudy("person", "add", "anna", "--role", "act", typed=f"{PASSWORD}\n")
    assert said.code == 1
    assert "no TOML" in said.err
    assert file.read_text() == "[people"
