"""A browser without script: it reads a page's forms, fills them in and sends them."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlsplit

Fields = list[tuple[str, str]]


@dataclass
class Form:
    """One form as a person finds it."""

    action: str
    method: str
    fields: Fields = field(default_factory=list)  # what it would send as it stands
    offered: dict[str, list[str]] = field(default_factory=dict)  # boxes and choices, by name

    def filled(self, **changes: str | list[str]) -> Fields:
        """What it sends with other values; a list are boxes to tick, and no others of that name."""
        kept = [(name, value) for name, value in self.fields if name not in changes]
        known = {name for name, _ in self.fields} | set(self.offered)
        assert set(changes) <= known, f"no such field: {set(changes) - known}"
        for name, value in changes.items():
            values = value if isinstance(value, list) else [value]
            for one in values:
                assert name not in self.offered or one in self.offered[name], f"not offered: {one}"
                kept.append((name, one))
        return kept


class Read(HTMLParser):
    """A page's words and forms."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.forms: list[Form] = []
        self.parts: list[str] = []
        self._form: Form | None = None
        self._select = ""
        self._drawing = 0
        self.feed(html)

    @property
    def words(self) -> str:
        """What is to be read, drawings left out, with single spaces."""
        return " ".join(" ".join(self.parts).split())

    def form(self, action: str) -> Form:
        """The form that goes there."""
        (found,) = [one for one in self.forms if one.action == action]
        return found

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        at: dict[str, Any] = dict(attrs)
        if tag in ("svg", "script", "style"):
            self._drawing += 1
        if tag == "form":
            self._form = Form(urlsplit(at.get("action") or "").path, at.get("method", "get"))
            self.forms.append(self._form)
        form, name = self._form, at.get("name")
        if form is None:
            return
        if tag == "select":
            self._select = str(name)
        elif tag == "option" and self._select:
            form.offered.setdefault(self._select, []).append(at.get("value") or "")
            first = len(form.offered[self._select]) == 1
            if "selected" in at or first:
                form.fields = [one for one in form.fields if one[0] != self._select]
                form.fields.append((self._select, at.get("value") or ""))
        elif tag == "input" and name:
            if at.get("type") in ("checkbox", "radio"):
                form.offered.setdefault(name, []).append(at.get("value") or "on")
                if "checked" in at:
                    form.fields.append((name, at.get("value") or "on"))
            else:
                form.fields.append((name, at.get("value") or ""))

    def handle_endtag(self, tag: str) -> None:
        if tag in ("svg", "script", "style"):
            self._drawing -= 1
        if tag == "form":
            self._form = None
        if tag == "select":
            self._select = ""

    def handle_data(self, data: str) -> None:
        if not self._drawing:
            self.parts.append(data)
