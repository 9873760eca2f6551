"""Who is signed in, and that a form comes from a page that was shown to them.

A session is a random number in a cookie; what belongs to it is kept here, in memory, so that a page
that is started anew has nobody signed in. Each page that is shown carries a mark for its forms,
which is good once: a form that is sent again, by a thumb or by somebody who overheard it, does
nothing.
"""

from __future__ import annotations

import hmac
import secrets
import time
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from functools import wraps
from hashlib import sha256
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from controller.page.asking import seen
from controller.page.people import People, PeopleFault, Person, Role, people_of
from controller.page.settings import Settings

COOKIE = "understudy"
SECURE_COOKIE = "__Host-understudy"  # RFC 6265bis, 4.1.3: only over TLS, for this host alone
MOST_SESSIONS = 1_000
MOST_SESSIONS_EACH = 20
LONGEST_SECONDS = 12 * 3600
IDLE_SECONDS = 2 * 3600
MOST_SENT = 5_000  # forms in one session

Handler = Callable[[Request], Awaitable[Response]]


class NotAllowed(Exception):
    """This person may not do that; in words."""


@dataclass
class Session:
    """Somebody signed in at one browser."""

    name: str
    password: str  # its hash, as it was then: another password ends the session
    began: float  # seconds of the monotonic clock
    used: float
    key: bytes = field(default_factory=lambda: secrets.token_bytes(32))
    sent: set[str] = field(default_factory=set)  # marks of forms that came back

    def mark(self) -> str:
        """For the forms of a page that is shown now."""
        once = secrets.token_urlsafe(12)
        return f"{once}.{self._sign(once)}"

    def made(self, mark: str) -> bool:
        """Whether a page of this session carried this mark."""
        once, _, sign = mark.partition(".")
        return hmac.compare_digest(sign.encode(errors="replace"), self._sign(once).encode())

    def spend(self, mark: str) -> bool:
        """Use a mark up. False where it was used before."""
        once = mark.partition(".")[0]
        if once in self.sent or len(self.sent) >= MOST_SENT:
            return False
        self.sent.add(once)
        return True

    def _sign(self, once: str) -> str:
        return hmac.new(self.key, once.encode(errors="surrogatepass"), sha256).hexdigest()


class Sessions:
    """All who are signed in. For one thread."""

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        self._now = now
        self._kept: dict[str, Session] = {}

    def begin(self, name: str, password: str) -> str:
        """Somebody has signed in by the password of this hash; what goes into their cookie."""
        self._tidy()
        theirs = [key for key, one in self._kept.items() if one.name == name]
        for key in theirs[: max(0, len(theirs) - MOST_SESSIONS_EACH + 1)]:
            del self._kept[key]
        if len(self._kept) >= MOST_SESSIONS:
            del self._kept[min(self._kept, key=lambda key: self._kept[key].used)]
        number = secrets.token_urlsafe(32)
        self._kept[number] = Session(name, password, self._now(), self._now())
        return number

    def of(self, number: str) -> Session | None:
        """The session of a cookie, if it has not ended; it has been used now."""
        session = self._kept.get(number)
        if session is None or self._over(session):
            self._kept.pop(number, None)
            return None
        session.used = self._now()
        return session

    def end(self, number: str) -> None:
        """Somebody has signed out."""
        self._kept.pop(number, None)

    def _over(self, session: Session) -> bool:
        now = self._now()
        return now - session.began > LONGEST_SECONDS or now - session.used > IDLE_SECONDS

    def _tidy(self) -> None:
        for number in [number for number, one in self._kept.items() if self._over(one)]:
            del self._kept[number]


class PeopleKept:
    """The people file as it is now, read anew when it was changed."""

    def __init__(self, settings: Settings) -> None:
        self._path = settings.people
        self._stamp: object = None
        self._people = People()

    def now(self) -> People:
        """Who may do what. Raises `PeopleFault`."""
        try:
            stat = self._path.stat()
            stamp: object = (stat.st_mtime_ns, stat.st_ino, stat.st_size)
        except FileNotFoundError:
            return People()
        except OSError as fault:
            raise PeopleFault(f"{self._path}: {fault.strerror}") from None
        if stamp != self._stamp:
            self._people, self._stamp = people_of(self._path), stamp
        return self._people


def cookie_name(request: Request) -> str:
    """Over TLS the cookie has a name that no plain page can set."""
    return SECURE_COOKIE if request.url.scheme == "https" else COOKIE


def find_visitor(request: Request) -> None:
    """Put into `request.state` who this is: `person` and `session`. Raises `PeopleFault`."""
    number = request.cookies.get(cookie_name(request), "")
    session = request.app.state.sessions.of(number)
    kept = None
    if session is not None:
        kept = request.app.state.people.now().people.get(session.name)
        if kept is not None and kept.password != session.password:
            kept = None
    request.state.session = session if kept else None
    request.state.person = Person(session.name, kept.role) if session and kept else None


def needs(role: Role) -> Callable[[Handler], Handler]:
    """A page for those who have this role; others are asked to sign in, or refused.
    Whoever sees it also sees the state.
    """

    def made(handler: Handler) -> Handler:
        @wraps(handler)
        async def guarded(request: Request) -> Response:
            find_visitor(request)
            person: Person | None = request.state.person
            if person is None:
                if request.method not in ("GET", "HEAD"):
                    raise NotAllowed("Nobody is signed in here any more: sign in, and begin again.")
                back = quote(
                    request.url.path + (f"?{request.url.query}" if request.url.query else "")
                )
                return RedirectResponse(f"/sign-in?to={back}", status_code=303)
            if not person.may(role):
                raise NotAllowed(person.refused(role))
            request.state.seen = await seen(request)
            return await handler(request)

        return guarded

    return made
