"""Programs at the page, and behind its socket a desk that writes down what reaches it."""

from __future__ import annotations

import itertools
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from controller.building.file import read
from controller.engine.contract import Now
from controller.engine.recover import recover
from controller.page.people import KeptMachine, KeptPerson, People, keep_people, new_token
from controller.page.settings import Settings
from controller.page.site import site
from controller.service.order_server import OrderServer, Reply
from controller.service.order_wire import SOCKET
from controller.service.orders import Words
from controller.service.picture import state_picture

FILE = """
[building]
name = 'Gable "Hall"'
timezone = "Etc/UTC"
[zones.north]
relay = 17
[zones.south]
relay = 27
[lines.main]
drive = "alternating"
relays = [22, 23]
[plans.daily]
rings = [
  { at = "08:30", zones = ["*"], for = "5s" },
  { at = "12:00", zones = ["south"], for = "5s" },
]
[week]
mon = "daily"
"""
SUNDAY = 1_795_910_400 * 1_000_000_000  # 2026-11-29 00:00 UTC
CLOCK = {"trusted": True, "by": "kernel", "error_seconds": 0.02, "says": ""}


class MachineDesk:
    """Answers every order with `reply`; `given` is what came, and in whose name."""

    def __init__(self, file: Path) -> None:
        self.given: list[tuple[Words, str]] = []
        self.reply = Reply(True, "Done.")
        building = read(file)
        now = Now(SUNDAY, 5_000_000_000, "boot", trusted=True)
        self.picture = state_picture(building, recover(building, [], now), now, CLOCK)

    def state(self) -> dict[str, Any]:
        """The picture, as it is put."""
        return self.picture

    def give(self, words: Words, who: str, answered: Callable[[Reply], None]) -> None:
        """Write it down."""
        self.given.append((words, who))
        files = {"path": "gable.toml", "files": {"gable.toml": FILE}}
        answered(Reply(True, "Done.", files) if words.order == "files" else self.reply)


class Programs:
    """A page, its daemon, and a token for each role; `server` may be closed early."""

    def __init__(self, client: TestClient, desk: MachineDesk, server: OrderServer) -> None:
        self.client, self.desk, self.server = client, desk, server
        self.tokens: dict[str, str] = {}
        self._numbers = itertools.count()

    def order(self, order: str, role: str | None = "act", **more: Any) -> Any:
        """Give one order, with the token of a machine of that role, and a number of its own."""
        if order in ("status", "logbook", "files", "earlier"):
            return self.client.get(f"/api/{order}", headers=self.bearing(role))
        headers = self.bearing(role) | self.numbered()
        return self.client.post(f"/api/orders/{order}", headers=headers, **more)

    def bearing(self, role: str | None) -> dict[str, str]:
        """The header that says who asks."""
        return {} if role is None else {"Authorization": f"Bearer {self.tokens[role]}"}

    def numbered(self) -> dict[str, str]:
        """The header that says which order it is: another each time."""
        return {"Idempotency-Key": f"{next(self._numbers):08}"}


@contextmanager
def programs() -> Iterator[Programs]:
    """A whole page before a desk, in a folder of their own."""
    with tempfile.TemporaryDirectory() as short:  # as a socket's address is not long
        folder = Path(short)
        (file := folder / "gable.toml").write_text(FILE)
        desk, failed = MachineDesk(file), list[BaseException]()
        server = OrderServer(folder / SOCKET, desk, None, page=os.geteuid(), failed=failed.append)
        server.start()
        people, machines, tokens = folder / "people.toml", {}, {}
        for role in ("look", "act", "edit"):
            tokens[role], kept = new_token()
            machines[f"m-{role}"] = KeptMachine(role=role, token=kept)  # type: ignore[arg-type]
        somebody = {"anna": KeptPerson(role="edit", password="$argon2id$none")}
        keep_people(people, People(people=somebody, machines=machines))
        app = site(Settings(file, folder, folder, people))
        with TestClient(app, raise_server_exceptions=False) as client:
            found = Programs(client, desk, server)
            found.tokens = tokens
            yield found
        server.close(0)
        assert failed == []
