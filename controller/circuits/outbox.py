"""What the hand has to say: sent at once where the daemon takes it, else kept until it does.

The hand never waits for a daemon that does not read, and loses little by it:

- Of an input (a panel entry, the supply, each fault of a contact) the two newest words are kept, so
  that what it has come to is always told, and so is a press that came and went meanwhile. So there
  is no more to keep than inputs, however they chatter.
- Other words are kept in order. With MOST_WORDS of them it is full: from then on `Switched` and
  `Sensed`, which only inform, are dropped, and the hand takes nothing more from the daemon. So no
  more than one word a circuit can still come; and a daemon that goes on so is silent to the hand,
  which opens everything.

Inputs are said before other words, as a press may be the reason of what follows.
"""

from __future__ import annotations

import socket
from collections import deque
from collections.abc import Hashable

from controller.circuits.wire import FromHand, Sensed, Switched, packed
from controller.engine.contract import ContactFault, PanelMoved, SupplyMoved

MOST_WORDS = 1_000
_MOST_OF_AN_INPUT = 2


class Outbox:
    """The hand's words on their way to the daemon."""

    def __init__(self, link: socket.socket) -> None:
        self._link = link
        self._of_inputs: dict[Hashable, deque[FromHand]] = {}
        self._words: deque[FromHand] = deque()

    @property
    def waiting(self) -> bool:
        """Whether something is to be sent when the daemon takes it: see `flush`."""
        return bool(self._words or self._of_inputs)

    @property
    def full(self) -> bool:
        """Whether nothing more is to be taken from the daemon until it has read."""
        return len(self._words) >= MOST_WORDS

    def say(self, message: FromHand) -> None:
        """Tell the daemon, now or as soon as it takes it."""
        match message:
            case PanelMoved(name, _):
                self._keep(("panel", name), message)
            case SupplyMoved():
                self._keep("supply", message)
            case ContactFault(circuit, relay, kind, _):
                self._keep((circuit, relay, kind), message)
            case Switched() | Sensed() if self.full:
                pass
            case _:
                self._words.append(message)
        self.flush()

    def flush(self) -> None:
        """Send what the daemon takes without waiting."""
        while self._of_inputs:
            which, words = next(iter(self._of_inputs.items()))
            while words:
                if not self._sent(words[0]):
                    return
                words.popleft()
            del self._of_inputs[which]
        while self._words and self._sent(self._words[0]):
            self._words.popleft()

    def _keep(self, which: Hashable, message: FromHand) -> None:
        words = self._of_inputs.setdefault(which, deque())
        words.append(message)
        if len(words) > _MOST_OF_AN_INPUT:  # there and back again: the newest says it all
            words.popleft()
            words.popleft()

    def _sent(self, message: FromHand) -> bool:
        """Whether it needs no sending any more: also where nobody is there to read it."""
        try:
            self._link.send(packed(message), socket.MSG_DONTWAIT | socket.MSG_NOSIGNAL)
        except BlockingIOError:
            return False
        except OSError:
            pass  # the daemon is gone; the hand reads that from the link
        return True
