"""What a page holds, read by a parser that knows nothing of how it was made."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from html.parser import HTMLParser

_VOID = {"meta", "link", "img", "br", "hr", "input"}


class Outline(HTMLParser):
    """Headings, ids, references, links out, and whether every element is closed."""

    def __init__(self) -> None:
        super().__init__()
        self.headings: list[tuple[int, str]] = []
        self.ids: list[str] = []
        self.references: list[str] = []
        self.loads: list[str] = []
        self.tags: list[str] = []
        self.open: list[str] = []
        self.json_texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = {key: value or "" for key, value in attrs}
        self.tags.append(tag)
        if tag not in _VOID:
            self.open.append(tag)
        if "id" in values:
            self.ids.append(values["id"])
        for key in ("aria-labelledby", "aria-describedby"):
            if key in values:
                self.references.append(values[key])
        if values.get("href", "").startswith("#"):
            self.references.append(values["href"][1:])
        self.loads += [values[k] for k in ("src", "href") if k in values and values[k][:1] != "#"]
        if re.fullmatch("h[1-6]", tag):
            self.headings.append((int(tag[1]), ""))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in _VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if any(re.fullmatch("h[1-6]", tag) for tag in self.open):
            level, text = self.headings[-1]
            self.headings[-1] = (level, text + data)
        if self.open and self.open[-1] == "script" and data.startswith("{"):
            self.json_texts.append(data)


def outline(page: str) -> Outline:
    """Read a page."""
    read = Outline()
    read.feed(page)
    read.close()
    return read
