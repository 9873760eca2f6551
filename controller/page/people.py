"""Who may do what: a TOML file of names, roles and hashes, which the command `person` writes.

    [people.anna]
    role = "act"                       # look, act or edit; each may what the one before it may
    password = "$argon2id$v=19$…"

    [machines.noticeboard]
    role = "look"
    token = "sha256:…"                 # a token is 256 random bits, so a plain hash will do

Passwords are hashed by Argon2id (RFC 9106): 19 MiB and two passes, which a small Pi can bear, and
which is among the least that OWASP's password storage cheat sheet lists (from memory).
"""

from __future__ import annotations

import hashlib
import hmac
import os
import re
import secrets
import stat
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Annotated, Literal, NamedTuple

import tomli
from argon2 import PasswordHasher
from argon2.exceptions import InvalidHash, VerificationError
from pydantic import BaseModel, ConfigDict, Field, ValidationError

Role = Literal["look", "act", "edit"]
ROLES: tuple[Role, ...] = ("look", "act", "edit")
NAME = re.compile(r"[a-z0-9-]{1,40}")
LEAST_PASSWORD = 8
MOST_PASSWORD = 200
MOST_BYTES = 1 << 20
HASHER = PasswordHasher(time_cost=2, memory_cost=19 * 1024, parallelism=1)
_TOKEN_BYTES = 32
_HASH_OF_NOBODY = HASHER.hash(secrets.token_hex(16))  # so that an unknown name takes as long


class PeopleFault(Exception):
    """The people file cannot be used; in words."""


class Person(NamedTuple):
    """Somebody who signed in, or a machine with a token."""

    name: str
    role: Role

    def may(self, role: Role) -> bool:
        """Whether this role is within theirs."""
        return ROLES.index(self.role) >= ROLES.index(role)

    def refused(self, role: Role) -> str:
        """Why what needs this role is not done for them."""
        return f"{self.name} may {self.role}; this is for those who may {role}."


class _Kept(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    role: Role


class KeptPerson(_Kept):
    """A person of the file."""

    password: str


class KeptMachine(_Kept):
    """A machine of the file."""

    token: str


_Name = Annotated[str, Field(pattern=rf"^{NAME.pattern}$")]


class People(BaseModel):
    """The whole file."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    people: Mapping[_Name, KeptPerson] = {}
    machines: Mapping[_Name, KeptMachine] = {}


def people_of(path: Path) -> People:
    """What the file says; nobody where there is none. Raises `PeopleFault`."""
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        return People()
    except OSError as fault:
        raise PeopleFault(f"{path}: {fault.strerror}") from None
    try:
        if len(content) > MOST_BYTES:
            raise PeopleFault(f"{path}: over {MOST_BYTES} bytes; expected a list of people")
        return People.model_validate(tomli.loads(content.decode()))
    except (UnicodeDecodeError, tomli.TOMLDecodeError) as fault:
        raise PeopleFault(f"{path}: no TOML: {fault}") from None
    except ValidationError as fault:
        first = fault.errors()[0]
        where = ".".join(map(str, first["loc"]))
        raise PeopleFault(f"{path}: {where}: {first['msg']}") from None


def keep_people(path: Path, people: People) -> None:
    """Write the file, whole or not at all; its owner and group stay, and nobody else may read it.

    Raises `OSError`.
    """
    new = path.with_name(path.name + ".new")
    with suppress(FileNotFoundError):
        new.unlink()
    handle = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(_text(people))
        file.flush()
        os.fsync(file.fileno())
        with suppress(FileNotFoundError):
            before = path.stat()
            os.fchown(file.fileno(), before.st_uid, before.st_gid)
            os.fchmod(file.fileno(), stat.S_IMODE(before.st_mode) & 0o640)
    new.replace(path)


def _text(people: People) -> str:
    parts = [
        "# Who may do what on the page. Written by `understudy person`; do not edit by hand.\n"
    ]
    for name, person in sorted(people.people.items()):
        parts.append(f'[people.{name}]\nrole = "{person.role}"\npassword = "{person.password}"\n')
    for name, machine in sorted(people.machines.items()):
        parts.append(f'[machines.{name}]\nrole = "{machine.role}"\ntoken = "{machine.token}"\n')
    return "\n".join(parts)


def password_hash(password: str) -> str:
    """What is kept of a password. Raises `ValueError` where it is too short or too long."""
    if not LEAST_PASSWORD <= len(password) <= MOST_PASSWORD:
        raise ValueError(f"expected {LEAST_PASSWORD} to {MOST_PASSWORD} characters")
    return HASHER.hash(password)


def person_by_password(people: People, name: str, password: str) -> Person | None:
    """Who it is; None where name or password are wrong. Takes as long either way."""
    kept = people.people.get(name)
    try:
        HASHER.verify(_HASH_OF_NOBODY if kept is None else kept.password, password)
    except (VerificationError, InvalidHash):  # its name before 23.1, too
        return None
    return None if kept is None else Person(name, kept.role)


def new_token() -> tuple[str, str]:
    """A token for a machine, which is told once, and what is kept of it."""
    token = secrets.token_urlsafe(_TOKEN_BYTES)
    return token, _token_hash(token)


def machine_by_token(people: People, token: str) -> Person | None:
    """Which machine it is; None where no machine has this token."""
    found, hashed = None, _token_hash(token)
    for name, kept in people.machines.items():  # all of them, so that it takes as long either way
        if hmac.compare_digest(kept.token, hashed):
            found = Person(name, kept.role)
    return found


def _token_hash(token: str) -> str:
    return f"sha256:{hashlib.sha256(token.encode(errors='surrogatepass')).hexdigest()}"
