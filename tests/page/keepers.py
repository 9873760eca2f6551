"""A person at the page, with a browser without script."""

from __future__ import annotations

from urllib.parse import urlencode

from browsing import Read
from starlette.testclient import TestClient

PASSWORD = "a long enough word"
_FORM = {"Content-Type": "application/x-www-form-urlencoded"}


class Keeper:
    """Opens pages and sends their forms. `status` is what the page is expected to answer."""

    def __init__(self, client: TestClient, name: str) -> None:
        """Sign in."""
        self.client = client
        fields = {"name": name, "password": PASSWORD, "to": "/timetable"}
        answer = client.post("/sign-in", data=fields)
        assert answer.status_code == 200, answer.text

    def opens(self, address: str, status: int = 200) -> Read:
        answer = self.client.get(address)
        assert answer.status_code == status, answer.text
        return Read(answer.text)

    def sends(self, page: Read, action: str, status: int = 200, **changes: str | list[str]) -> Read:
        """Fill the form that goes to `action` in, and send it."""
        form = page.form(action)
        assert form.method == "post"
        answer = self.client.post(
            action,
            content=urlencode(form.filled(**changes)),
            headers=_FORM,
        )
        assert answer.status_code == status, answer.text
        return Read(answer.text)

    def mark(self) -> tuple[str, str]:
        """What a page's forms carry now: the mark, and which files they are of."""
        fields = dict(self.opens("/edit/week").form("/edit/week").fields)
        return fields["csrf"], fields["was"]
