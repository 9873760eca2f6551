"""What the daemon's socket and its clients must agree on, beside the orders themselves."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

SOCKET = "understudy.sock"  # in the runtime folder
MOST_LINE_BYTES = 2 << 20  # said to the daemon: a whole file of the keeper's fits
MOST_ANSWER_BYTES = 4 << 20  # said by it: a building's files, some 100 times their usual size


def json_of(words: Mapping[str, Any]) -> bytes:
    """As JSON in UTF-8. `ValueError` or `TypeError` on what is not plain JSON."""
    try:
        return _dumped(words, ascii=False).encode()
    except UnicodeEncodeError:  # half of a surrogate pair, which JSON can only escape
        return _dumped(words, ascii=True).encode()


def line_of(words: Mapping[str, Any]) -> bytes:
    """One message with its newline. Raise as `json_of`."""
    return json_of(words) + b"\n"


def _dumped(words: Mapping[str, Any], *, ascii: bool) -> str:
    return json.dumps(words, separators=(",", ":"), allow_nan=False, ensure_ascii=ascii)
