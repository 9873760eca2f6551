"""Forms that come back: small, well-formed, from a page that was shown here, and not twice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from urllib.parse import parse_qsl

import anyio
from starlette.requests import Request

from controller.page.sessions import Session

MOST_BYTES = 64 * 1024
MOST_EDIT_BYTES = 1 << 20  # an edit that was shown comes back whole, packed
MOST_FIELDS = 2_000
MOST_SECONDS = 30.0  # until all of it has arrived
CSRF = "csrf"


class FormRefused(Exception):
    """A form is not taken; in words, with the status of HTTP that says so."""

    def __init__(self, status: int, says: str) -> None:
        super().__init__(says)
        self.status = status


class Form(Mapping[str, str]):
    """The fields of a form. Of several of one name the last counts, unless `all` is asked for."""

    def __init__(self, fields: list[tuple[str, str]]) -> None:
        self._fields = fields
        self._last = dict(fields)

    def all(self, key: str) -> list[str]:
        """Every value of that name, in order."""
        return [value for name, value in self._fields if name == key]

    def __getitem__(self, key: str) -> str:
        return self._last[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._last)

    def __len__(self) -> int:
        return len(self._last)


async def form_of(request: Request) -> Form:
    """The form, once. Raises `FormRefused` where it was sent before."""
    form = await form_again(request)
    session: Session = request.state.session
    if not session.spend(form[CSRF]):
        raise FormRefused(409, "This was sent before, and is not done twice. Open the page anew.")
    return form


async def form_again(request: Request) -> Form:
    """The form of what may safely be sent twice. Raises `FormRefused`."""
    form = await fields_of(request)
    session: Session | None = request.state.session
    if session is None or not session.made(form.get(CSRF, "")):
        raise FormRefused(
            403, "This form is not of a page that was shown here. Open the page anew."
        )
    return form


async def fields_of(request: Request) -> Form:
    """The fields of a form, whoever sent it. Raises `FormRefused`."""
    _refuse_foreign(request)
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != "application/x-www-form-urlencoded":
        raise FormRefused(415, "expected a form (application/x-www-form-urlencoded)")
    edit = request.url.path.startswith("/edit/")
    body = await body_of(request, MOST_EDIT_BYTES if edit else MOST_BYTES)
    try:
        return Form(
            parse_qsl(
                body.decode("ascii"),
                keep_blank_values=True,
                errors="strict",
                max_num_fields=MOST_FIELDS,
            )
        )
    except ValueError:
        raise FormRefused(400, "This is no form that a browser would send.") from None


async def body_of(request: Request, most: int) -> bytes:
    """What was sent, of `most` bytes at most, and not for ever. Raises `FormRefused`."""
    body = bytearray()
    try:
        with anyio.fail_after(MOST_SECONDS):
            async for part in request.stream():
                body += part
                if len(body) > most:
                    raise FormRefused(413, f"too large; expected at most {most} bytes")
    except TimeoutError:
        raise FormRefused(408, f"too slow; expected all of it in {MOST_SECONDS:.0f} s") from None
    return bytes(body)


def _refuse_foreign(request: Request) -> None:
    """A browser says where a form was (Fetch standard, `Origin`): it must be a page of ours."""
    origin = request.headers.get("origin")
    if origin is None:
        return
    theirs = origin.lower().partition("://")[2]  # "null" is nowhere
    if not theirs or theirs != request.headers.get("host", "").lower():
        raise FormRefused(403, "This form is on a page of somebody else's.")
