"""Whose word is taken for which person gives an order: the user that runs the keeper's page."""

from __future__ import annotations

import os
import pwd

ACCOUNT = "understudy-page"  # systemd/understudy-page.sysusers
VARIABLE = "UNDERSTUDY_PAGE_USER"


def page_uid() -> int | None:
    """The user id of the page's account, or of the one that UNDERSTUDY_PAGE_USER names.

    None where there is no such account: then nobody speaks for another.
    """
    try:
        return pwd.getpwnam(os.environ.get(VARIABLE) or ACCOUNT).pw_uid
    except (KeyError, ValueError):  # a name with a null byte is a ValueError
        return None


def page_uid_on_a_fake_board() -> int | None:
    """This very user's, for whoever tries it out; where UNDERSTUDY_PAGE_USER is set, as ever."""
    return page_uid() if os.environ.get(VARIABLE) else os.geteuid()
