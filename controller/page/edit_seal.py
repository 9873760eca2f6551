"""An edit that was shown, on its way through the browser to being confirmed.

Only what this page itself has shown to this person can be saved: the whole of it, file, text and
the files it was begun from, goes into the confirming form under a seal (HMAC, RFC 2104), and comes
back to the byte. (A form's own text would not: browsers turn line ends into CR LF, HTML 4.10.21.)
"""

from __future__ import annotations

import hmac
import json
import secrets
import zlib
from base64 import urlsafe_b64decode, urlsafe_b64encode
from hashlib import sha256
from typing import NamedTuple

_SECRET = secrets.token_bytes(32)  # of this run of the page: a form from before it is shown anew


class Sealed(NamedTuple):
    """An edit as the order `edit` takes it."""

    file: str
    text: str
    was: str  # fingerprint of the files from which it was begun


def sealed(person: str, edit: Sealed) -> str:
    """What the confirming form carries."""
    content = urlsafe_b64encode(zlib.compress(json.dumps(edit).encode())).decode()
    return f"{content}.{_seal(person, content)}"


def unsealed(person: str, carried: str) -> Sealed | None:
    """The edit; None where this page has not shown it to that person."""
    content, _, seal = carried.partition(".")
    if not hmac.compare_digest(seal.encode(errors="replace"), _seal(person, content).encode()):
        return None
    return Sealed(*json.loads(zlib.decompress(urlsafe_b64decode(content))))


def _seal(person: str, content: str) -> str:
    words = f"{person}\n{content}".encode(errors="surrogatepass")
    return hmac.new(_SECRET, words, sha256).hexdigest()
