"""The few kinds of block a section is made of; the templates know these and nothing else."""
# SPDX-License-Identifier: GPL-2.0-or-later

from base64 import b64encode
from dataclasses import dataclass
from enum import StrEnum

import plotly.graph_objects as go


class Tone(StrEnum):
    """How loudly a note speaks; each has a word beside its colour."""

    GOOD = "good"
    PLAIN = "note"
    CARE = "take care"


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """Words that lead to the section of this name."""

    words: str
    section: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """One paragraph, with a link behind it or none; ``for_engineers`` sets it smaller."""

    text: str
    link: Link | None = None
    for_engineers: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Lines of a file, to copy as they are."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading inside a section."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Bullets:
    """A list; numbered when the order matters."""

    items: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A paragraph set apart, with a label; ``source`` names the standard behind it."""

    label: str
    text: str
    tone: Tone = Tone.PLAIN
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table; the first cell of each row is its heading."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """A plotly figure. ``summary`` says in words what it shows and stays when it cannot draw."""

    name: str
    title: str
    summary: str
    figure: go.Figure

    @property
    def height_px(self) -> int:
        """Height of the figure, which the page keeps free for it."""
        return int(self.figure.layout.height)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Inline SVGs of :mod:`analysis.build.drawing.svg`, which escapes every text in them."""

    name: str
    title: str
    summary: str
    svgs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clip:
    """One piece of sound; ``wav`` is a whole WAV file."""

    label: str
    wav: bytes

    @property
    def address(self) -> str:
        """As a page can hold it."""
        return f"data:audio/wav;base64,{b64encode(self.wav).decode('ascii')}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Clips:
    """Pieces of sound to listen to one after the other."""

    clips: tuple[Clip, ...]


Block = Clips | Text | Lines | Heading | Bullets | Note | Table | Chart | Drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One section of the page; ``name`` is its anchor."""

    name: str
    title: str
    blocks: tuple[Block, ...]
