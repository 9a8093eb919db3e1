"""How the results are laid out on a terminal: tables where they fit, doubts, changes of level."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.measure import Measurement
from rich.table import Table
from rich.text import Text

from analysis.findings import Doubt
from analysis.words.front import here
from logger.screen import terminal
from logger.screen.terminal import Row

_ANY_WIDTH = 1000


@dataclass(frozen=True, slots=True)
class Fitting:
    """The table where the terminal is wide enough for it, else lines, so that nothing is cut."""

    wide: Table
    narrow: RenderableType

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        needed = Measurement.get(console, options.update_width(_ANY_WIDTH), self.wide).maximum
        yield self.wide if needed <= options.max_width else self.narrow


def labelled(rows: Iterable[Row]) -> Table:
    """Set texts beside their labels, as their reader is told them, in the units shown."""
    return terminal.labelled([(label, here(text)) for label, text in rows])


def plain(text: str) -> Text:
    """Give a text as it is, but as its reader is told it, in the units shown."""
    return terminal.plain(here(text))


def doubt_rows(doubts: Iterable[Doubt]) -> Iterator[Row]:
    """Give each doubt in its own words; its code is for scripts."""
    return (("Note", doubt.message) for doubt in doubts)


def decibel(value: float) -> str:
    """Give a change of level with its sign."""
    return f"{value:+.1f} dB" if math.isfinite(value) else "not known"
