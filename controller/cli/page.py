"""`understudy page`: the keeper's page, a process of its own."""

from __future__ import annotations

import errno
import ipaddress
import os
import socket
import ssl
from pathlib import Path

import typer
import uvicorn

from controller.circuits.folders import fake_folder, kept_folder, runtime_folder
from controller.cli.guard import NotDone
from controller.page.connections import Connection
from controller.page.people import people_of
from controller.page.settings import Settings, people_file
from controller.page.site import site
from controller.service.systemd import notify

MOST_AT_ONCE = 100  # connections
END_SECONDS = 5  # for answers under way
_LOG = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "%(levelname)s: %(message)s"}},
    "handlers": {"err": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["err"], "level": "WARNING"},
}


class _Server(uvicorn.Server):
    """Says to systemd that it is ready once it listens."""

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            notify("READY=1")


def page(
    path: Path,
    host: str,
    port: int,
    *,
    certificate: Path | None,
    key: Path | None,
    proxy: str | None,
    people: Path | None,
    runtime: Path | None,
    state: Path | None,
    fake: bool,
) -> None:
    """Serve the page until told to end. Raises `PeopleFault`, `NotDone` or `OSError`."""
    runtime = runtime or (fake_folder(path) if fake else runtime_folder())
    settings = Settings(path, runtime, state or kept_folder(runtime), people or people_file())
    people_of(settings.people)  # its faults are said here
    if (certificate is None) != (key is None):
        raise NotDone("--certificate and --key belong together: name both, or neither")
    if certificate is not None and key is not None:
        _see_that_it_fits(certificate, key)
    if proxy is not None:
        _see_that_it_is_an_address(proxy)
    listening = _listening(host, port)
    address = listening.getsockname()[0]
    if certificate is None and proxy is None and not ipaddress.ip_address(address).is_loopback:
        typer.echo(
            "Passwords will cross the network for all to read: name --certificate and --key, or "
            "have a proxy in between that has them.",
            err=True,
        )
    scheme = "http" if certificate is None else "https"
    at = f"[{address}]" if ":" in address else address
    typer.echo(f"The page is at {scheme}://{at}:{port}/")
    _server(settings, certificate, key, proxy).run(sockets=[listening])


def _server(
    settings: Settings, certificate: Path | None, key: Path | None, proxy: str | None
) -> _Server:
    return _Server(
        uvicorn.Config(
            site(settings),
            ssl_certfile=certificate,
            ssl_keyfile=key,
            proxy_headers=proxy is not None,
            forwarded_allow_ips=proxy,
            server_header=False,
            access_log=False,
            limit_concurrency=MOST_AT_ONCE,
            timeout_graceful_shutdown=END_SECONDS,
            log_config=_LOG,
            lifespan="off",
            http=Connection,
            ws="none",
        )
    )


def _listening(host: str, port: int) -> socket.socket:
    """A socket at this place. Raises `NotDone`."""
    try:
        family, *_, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        return socket.create_server(address[:2], family=family)
    except socket.gaierror as fault:
        raise NotDone(f"--host {host}: no address of this machine: {fault.strerror}") from None
    except OSError as fault:
        if fault.errno == errno.EADDRINUSE:
            words = "something else listens there already. End it, or name another place by --port"
        else:
            words = f"cannot be listened at: {os.strerror(fault.errno or 0)}"
        raise NotDone(f"{host}:{port}: {words}") from None


def _see_that_it_is_an_address(proxy: str) -> None:
    try:
        ipaddress.ip_address(proxy)
    except ValueError:
        raise NotDone(
            f"--behind-proxy {proxy}: expected the proxy's own address, such as 127.0.0.1; "
            "whoever sends from there is believed"
        ) from None


def _see_that_it_fits(certificate: Path, key: Path) -> None:
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(certificate, key)
    except (ssl.SSLError, ValueError) as fault:
        raise NotDone(f"{certificate}, {key}: no certificate and its key: {fault}") from None
