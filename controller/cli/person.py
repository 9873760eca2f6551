"""`understudy person`: who may do what on the page."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import typer

from controller.cli.guard import NotDone
from controller.cli.spoken import columns
from controller.page.people import (
    MOST_PASSWORD,
    NAME,
    KeptMachine,
    KeptPerson,
    People,
    Role,
    keep_people,
    new_token,
    password_hash,
    people_of,
)
from controller.page.settings import people_file

PAGE_GROUP = "understudy-page"
_MOST_TYPED = MOST_PASSWORD + 2  # with its line end; one letter more is too long a password


def add(path: Path | None, name: str, role: Role) -> None:
    """List somebody, or give them another password and role. Raises `NotDone` or `PeopleFault`."""
    path, people = _begun(path)
    _lawful(name)
    if name in people.machines:
        raise NotDone(f"{name} is a machine; name the person otherwise")
    try:
        kept = KeptPerson(role=role, password=password_hash(_password()))
    except ValueError as fault:
        raise NotDone(f"The password was not taken: {fault}") from None
    _keep(path, people.model_copy(update={"people": {**people.people, name: kept}}))
    typer.echo(f"{name} may {role}, by the password just given.")


def change_role(path: Path | None, name: str, role: Role) -> None:
    """Let somebody, or a machine, do more or less. Raises `NotDone` or `PeopleFault`."""
    path, people = _begun(path)
    if name in people.people:
        person = people.people[name].model_copy(update={"role": role})
        _keep(path, people.model_copy(update={"people": {**people.people, name: person}}))
    elif name in people.machines:
        machine = people.machines[name].model_copy(update={"role": role})
        _keep(path, people.model_copy(update={"machines": {**people.machines, name: machine}}))
    else:
        raise NotDone(f"Nobody is called {name}; `understudy person list` has all.")
    typer.echo(f"{name} may {role}.")


def remove(path: Path | None, name: str) -> None:
    """Somebody, or a machine, may nothing from now on. Raises `NotDone` or `PeopleFault`."""
    path, people = _begun(path)
    if name not in people.people and name not in people.machines:
        raise NotDone(f"Nobody is called {name}; `understudy person list` has all.")
    left = {key: one for key, one in people.people.items() if key != name}
    machines = {key: one for key, one in people.machines.items() if key != name}
    _keep(path, People(people=left, machines=machines))
    typer.echo(f"{name} is removed; whoever was signed in by that name is out.")


def token(path: Path | None, name: str, role: Role) -> None:
    """List a machine, and print its token, which is kept nowhere. Raises as `add`."""
    path, people = _begun(path)
    _lawful(name)
    if name in people.people:
        raise NotDone(f"{name} is a person; name the machine otherwise")
    given, kept = new_token()
    machine = KeptMachine(role=role, token=kept)
    _keep(path, people.model_copy(update={"machines": {**people.machines, name: machine}}))
    typer.echo(f"{name} may {role}. Its token, which is not told again:", err=True)
    typer.echo(given)


def listed(path: Path | None) -> None:
    """Print who may do what. Raises `PeopleFault`."""
    _, people = _begun(path)
    rows = [(name, f"may {one.role}", "") for name, one in sorted(people.people.items())]
    rows += [(name, f"may {one.role}", "machine") for name, one in sorted(people.machines.items())]
    for line in columns(rows) if rows else ["Nobody is listed yet."]:
        typer.echo(line)


def _begun(path: Path | None) -> tuple[Path, People]:
    path = path or people_file()
    return path, people_of(path)


def _lawful(name: str) -> None:
    if not NAME.fullmatch(name):
        raise NotDone(f"{name!r}: expected at most 40 of a to z, 0 to 9 and -")


def _password() -> str:
    if not sys.stdin.isatty():
        return sys.stdin.readline(_MOST_TYPED).rstrip("\r\n")
    given: str = typer.prompt("Password", hide_input=True, confirmation_prompt="Again")
    return given


def _keep(path: Path, people: People) -> None:
    is_new = not path.exists()
    keep_people(path, people)
    if is_new and os.geteuid() == 0:  # the page's user is to read it, and nobody else
        try:
            shutil.chown(path, group=PAGE_GROUP)
        except LookupError:
            return
        path.chmod(0o640)
