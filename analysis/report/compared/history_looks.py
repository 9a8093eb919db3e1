"""How each drive of a history is drawn, alike in every panel."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

from analysis.compare.history import History, HistoryDrive
from analysis.report.figure_style import INK

_EARLIEST_RGB, _LATEST_RGB = (128, 178, 212), (0, 78, 128)  # judgement: layout, moves no answer
# A symbol for each drive, so that no shade has to be told from another.
_SYMBOLS = ("circle", "square", "diamond", "star", "hexagon", "triangle-up", "triangle-down", "x")
_DASHES = ("solid", "dash", "dot", "dashdot", "longdash")
_LONGEST = 18  # judgement: layout, characters of a name


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """Colour, symbol, dash and width; strong are the baseline and the latest drive."""

    colour: str
    symbol: str
    dash: str
    is_strong: bool

    @property
    def width_px(self) -> float:
        """Width of its line."""
        return 3.5 if self.is_strong else 2.0


def look_of(history: History, drive: HistoryDrive) -> Look:
    """Black for the baseline, then blue that gets stronger drive by drive."""
    index, last = history.drives.index(drive), len(history.drives) - 1
    part = (index - 1) / (last - 1) if last > 1 else 1.0
    ends = zip(_EARLIEST_RGB, _LATEST_RGB, strict=True)
    blue = ", ".join(f"{early + part * (late - early):.0f}" for early, late in ends)
    return Look(
        colour=f"rgb({blue})" if index else INK,
        symbol=_SYMBOLS[index % len(_SYMBOLS)],
        dash="solid" if index in (0, last) else _DASHES[index % len(_DASHES)],
        is_strong=index in (0, last),
    )


def short(name: str) -> str:
    """Cut a name that is too long to stand in a picture."""
    return name if len(name) <= _LONGEST else f"{name[: _LONGEST - 1]}…"
