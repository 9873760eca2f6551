"""`understudy page`: the keeper's page, a process of its own."""

from __future__ import annotations

import socket
import ssl
from pathlib import Path

import uvicorn

from controller.circuits.folders import fake_folder, kept_folder, runtime_folder
from controller.cli.guard import NotDone
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
    server = _Server(
        uvicorn.Config(
            site(settings),
            host=host,
            port=port,
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
            ws="none",
        )
    )
    scheme = "http" if certificate is None else "https"
    print(f"The page is at {scheme}://{host}:{port}/", flush=True)
    server.run()
    if not server.started:
        raise NotDone(f"{host}:{port}: cannot be listened at; is it taken? --port names another")


def _see_that_it_fits(certificate: Path, key: Path) -> None:
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(certificate, key)
    except (ssl.SSLError, ValueError) as fault:
        raise NotDone(f"{certificate}, {key}: no certificate and its key: {fault}") from None
