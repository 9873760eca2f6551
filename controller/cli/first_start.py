"""`understudy first-start`: leads a person through what only a person can tell.

Whether the clock is right; and for each line that is unread, what its dials show, and which
polarity came last. It may be left and begun again at any point: what was said is with the daemon.
"""

from __future__ import annotations

import re
import time
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import typer

from controller.circuits.folders import runtime_folder
from controller.cli.asking import PATIENT_SECONDS
from controller.cli.spoken import paragraph
from controller.cli.status_words import status_lines
from controller.service.order_client import OrderClient, Refused

MOST_TRIES = 20  # at one question; whoever answers it no better is not helped by one more
IMPULSE_SECONDS = 45.0  # an impulse lasts 20 s at most, and a slow card stores it before
_LOOK_SECONDS = 0.2
DIFFER = "differ"
_TIME = re.compile(r"([0-9]{1,2}):([0-9]{2}(?::[0-9]{2})?)")

Picture = Mapping[str, Any]


def first_start(runtime: Path | None) -> None:
    """Ask what only a person can tell. Raises `NoDaemon`, or `typer.Abort` where nobody answers."""
    with OrderClient(runtime or runtime_folder(), PATIENT_SECONDS) as client:
        picture = _picture(client)
        _say(
            f"{picture['building'] or 'This building'}: what only a person can tell. You may leave "
            "at any point and begin again later; what you have said by then is kept."
        )
        _ask_clock(client, picture)
        unread = [n for n, line in picture["lines"].items() if line["state"] == "unread"]
        if not unread:
            _say("No line of dials is unread.")
        for number, name in enumerate(unread, 1):
            typer.echo("")
            _ask_line(client, name, f"{number} of {len(unread)}")
        typer.echo("\n" + "\n".join(status_lines(_picture(client))))


def _picture(client: OrderClient) -> Picture:
    picture: Picture = client.ask("status")["state"]
    return picture


# ── the clock ────────────────────────────────────────────────────────────────────────────────────


def _ask_clock(client: OrderClient, picture: Picture) -> None:
    at = datetime.fromisoformat(picture["at"])
    says = f"The clock says {at:%A %d %B %Y, %H:%M:%S} ({picture['timezone']})"
    if picture["clock"]["trusted"]:
        _say(f"{says}, and is trusted.")
        return
    _say(f"{says}, and nobody vouches for it. Bells and dials stand until somebody does.")
    if typer.confirm("Is that right, to the second or nearly?", default=False):
        _given(client, "trust-clock")
        return
    _say(
        "Then set it first: join a network with a time server, or set it by hand (timedatectl). "
        "The lines may be read all the same; they stand until the clock is trusted."
    )


# ── a line ───────────────────────────────────────────────────────────────────────────────────────


def _ask_line(client: OrderClient, name: str, which: str) -> None:
    line = _line(client, name)
    called = f"{name}, {line['title']}" if line["title"] else name
    _say(f"Line {which}: {called}. Nobody has said what its dials show.")
    unknown = line["drive"] == "alternating" and not line["polarity"]
    if unknown and not _give_impulse(client, name):
        _say(f"{name} is left for later: it stands until then.")
        return
    _ask_shown(client, name)


def _give_impulse(client: OrderClient, name: str) -> bool:
    """One impulse, so that it is known which polarity came last; False where nobody wants it."""
    _say(
        "First it is given one impulse, so that it is known which polarity its dials had last. "
        "Some of them may move by it, others not. Look at one of them if you can."
    )
    if not _asked("Give the impulse? (yes; Enter alone leaves this line for later)"):
        return False
    try:
        client.ask("step", line=name, impulses=1)
    except Refused as no:  # a held line gives none; what it shows can be said all the same
        _say(str(no))
        return True
    polarity = _polarity_once_given(client, name)
    if polarity:
        _say(f"Every dial of the line has now had {polarity} last, whether it moved or not.")
    else:
        _say("The impulse has not come yet; `understudy status` says why.")
    return True


def _polarity_once_given(client: OrderClient, name: str) -> str:
    """The polarity of the impulse, once it has ended; "" where that does not come about."""
    end = time.monotonic() + IMPULSE_SECONDS
    while not (polarity := str(_line(client, name)["polarity"])) and time.monotonic() < end:
        time.sleep(_LOOK_SECONDS)
    return polarity


def _line(client: OrderClient, name: str) -> Picture:
    line: Picture = _picture(client)["lines"][name]
    return line


def _ask_shown(client: OrderClient, name: str) -> None:
    for _ in range(MOST_TRIES):
        shows = _asked(
            f"What do the dials show now? (HH:MM; {DIFFER}; Enter alone leaves it for later)"
        )
        if not shows:
            _say(f"{name} is left for later: it stands until then.")
            return
        if shows.strip('"').lower() == DIFFER:
            _explain_differing(name)
        elif not (time_shown := _TIME.fullmatch(shows)):
            _say(
                "Not understood: expected hours and minutes as the dials show them, such as 08:05."
            )
        elif _given(client, "set", line=name, shows=f"{time_shown[1]:0>2}:{time_shown[2]}"):
            return
    _say(f"{name} is left for later.")


def _explain_differing(name: str) -> None:
    _say(
        "Dials that differ are set at the dial: turn each to what most of them show, and say that "
        "here. Where they hang too high for that, say here what most of them show. Then "
        f"`understudy lines {name} to 12:00` drives them until those stand at 12:00, and holds "
        "them; set the others to 12:00 at the dial, and let the line go with "
        f"`understudy lines {name} go`."
    )


# ── words ────────────────────────────────────────────────────────────────────────────────────────


def _given(client: OrderClient, order: str, **keys: Any) -> bool:
    """Give an order and print what comes of it; False where the daemon says no."""
    try:
        _say(client.ask(order, **keys)["says"])
    except Refused as no:
        _say(str(no))
        return False
    return True


def _asked(question: str) -> str:
    answer: str = typer.prompt(question, default="", show_default=False)
    return answer.strip()


def _say(text: str) -> None:
    typer.echo(paragraph(text, ""))
