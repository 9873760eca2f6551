"""What wakes the orders' thread: messages always, changes only where somebody might follow them."""

from __future__ import annotations

import select

from controller.service.order_inbox import Inbox


def rung(inbox):
    return bool(select.select([inbox], [], [], 0)[0])


def test_a_message_wakes_whoever_follows():
    inbox: Inbox[str] = Inbox()
    inbox.take(followed=False)
    inbox.put("answer")
    assert rung(inbox)
    assert inbox.take(followed=False) == (["answer"], False)
    assert not rung(inbox)
    inbox.close()


def test_a_change_is_kept_until_somebody_looks_and_wakes_only_where_it_is_followed():
    inbox: Inbox[str] = Inbox()
    inbox.take(followed=False)
    inbox.changed()
    assert not rung(inbox)
    assert inbox.take(followed=True) == ([], True)
    inbox.changed()
    assert rung(inbox)
    assert inbox.take(followed=True) == ([], True)
    assert inbox.take(followed=True) == ([], False)
    inbox.close()
