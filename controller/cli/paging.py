"""The commands for the keeper's page."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

paging = typer.Typer()
person = typer.Typer(no_args_is_help=True, help="Say who may do what on the page.")
paging.add_typer(person, name="person")

Name = Annotated[str, typer.Argument(metavar="NAME", help="At most 40 of a to z, 0 to 9 and -.")]
PeopleFile = Annotated[
    Path | None,
    typer.Option(
        "--people",
        metavar="FILE",
        help="The file that has them.",
        show_default="UNDERSTUDY_PEOPLE, else /etc/understudy/people.toml",
    ),
]


class Role(StrEnum):
    """What somebody may do; each may also do what the one before it may."""

    look = "look"
    act = "act"
    edit = "edit"


RoleOption = Annotated[
    Role,
    typer.Option(
        "--role",
        help="look: see all. act: also ring, keep quiet, set dials. edit: also change the "
        "timetable.",
    ),
]


@paging.command("page")
def _page(
    path: Annotated[
        Path, typer.Argument(metavar="PATH", help="The building's TOML file, or a folder of them.")
    ],
    host: Annotated[
        str, typer.Option(help="Address to listen at. 127.0.0.1 is this machine alone.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port to listen at.")] = 8470,
    certificate: Annotated[
        Path | None, typer.Option(metavar="FILE", help="TLS: the certificate and its chain (PEM).")
    ] = None,
    key: Annotated[
        Path | None, typer.Option(metavar="FILE", help="TLS: the certificate's key (PEM).")
    ] = None,
    behind_proxy: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS", help="Believe what a proxy there says of the browser it speaks for."
        ),
    ] = None,
    people: PeopleFile = None,
    runtime: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Folder of the daemon's socket.")
    ] = None,
    state: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Folder of the daemon's store.")
    ] = None,
    fake: Annotated[
        bool, typer.Option("--fake", help="The daemon that runs this building on a fake board.")
    ] = False,
) -> None:
    """Serve the keeper's page.

    A process of its own: it has no pins and writes no file. Who may do what, `understudy person`
    says. Other machines reach it only with --host, and should then do so by TLS: with --certificate
    and --key, or behind a proxy that has them.
    """
    from controller.cli.page import page

    page(
        path,
        host,
        port,
        certificate=certificate,
        key=key,
        proxy=behind_proxy,
        people=people,
        runtime=runtime,
        state=state,
        fake=fake,
    )


@person.command("add")
def _add(name: Name, role: RoleOption, people: PeopleFile = None) -> None:
    """List somebody, or give them another password and role."""
    from controller.cli.person import add

    add(people, name, role.value)


@person.command("role")
def _role(name: Name, role: RoleOption, people: PeopleFile = None) -> None:
    """Let somebody, or a machine, do more or less."""
    from controller.cli.person import change_role

    change_role(people, name, role.value)


@person.command("remove")
def _remove(name: Name, people: PeopleFile = None) -> None:
    """Take somebody, or a machine, off the list."""
    from controller.cli.person import remove

    remove(people, name)


@person.command("token")
def _token(name: Name, role: RoleOption, people: PeopleFile = None) -> None:
    """List a machine, and print the token by which it is known."""
    from controller.cli.person import token

    token(people, name, role.value)


@person.command("list")
def _list(people: PeopleFile = None) -> None:
    """Say who may do what."""
    from controller.cli.person import listed

    listed(people)
