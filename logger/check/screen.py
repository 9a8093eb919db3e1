"""What is to be seen while devices are tried: a level bar on a terminal, else lines."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console, RenderableType
from rich.live import Live
from rich.progress_bar import ProgressBar
from rich.table import Table
from rich.text import Text

from logger.check.trial import Moment
from logger.microphone.level_meter import Level
from logger.screen.terminal import one_line

# judgement: layout and words of the screen, no measurement depends on them; the clap comes in the
# middle, so that there is quiet to measure on both sides.
LOWEST_DB = -72.0
_BAR_WIDTH = 24
_LINE_EVERY_S = 1.0
_QUIET_UNTIL, _LOUD_UNTIL = 0.4, 0.6
_LEAST_SECONDS = 6.0  # below, there is no time for silence, a clap, and silence


@contextmanager
def trial_screen(
    console: Console, seconds: float, *, prompts: bool
) -> Iterator[Callable[[Moment], None]]:
    """Give a function to call with every moment; ``prompts`` ask for silence, then for noise."""

    def prompt(moment: Moment) -> str:
        if not prompts or seconds < _LEAST_SECONDS or moment.level is None:
            return ""
        part = moment.elapsed_s / seconds
        if part < _QUIET_UNTIL:
            return "engine off, keep quiet"
        return "now clap or shout" if part < _LOUD_UNTIL else "keep quiet again"

    if not console.is_terminal or console.is_dumb_terminal:
        yield _Lines(console, prompt)
        return
    with Live(console=console, transient=True, auto_refresh=False) as live:

        def draw(moment: Moment) -> None:
            live.update(_picture(moment, prompt(moment)), refresh=True)

        yield draw


class _Lines:
    """One line a second."""

    def __init__(self, console: Console, prompt: Callable[[Moment], str]) -> None:
        self._console = console
        self._prompt = prompt
        self._next_s = _LINE_EVERY_S
        self._said: dict[str, str] = {}

    def __call__(self, moment: Moment) -> None:
        if moment.elapsed_s < self._next_s:
            return
        self._next_s = moment.elapsed_s + _LINE_EVERY_S
        words = [] if moment.level is None else [level_words(moment.level), self._prompt(moment)]
        words += [
            said if name in said else f"{name}: {said}"
            for name, said in moment.newest
            if self._is_new(name, said)
        ]
        shown = "; ".join(one_line(each) for each in words if each)
        if shown:
            self._console.print(Text(f"{moment.elapsed_s:.0f} s  {shown}"), soft_wrap=True)

    def _is_new(self, name: str, said: str) -> bool:
        is_new = self._said.get(name) != said
        self._said[name] = said
        return is_new


def _picture(moment: Moment, prompt: str) -> RenderableType:
    table = Table.grid(padding=(0, 1))
    table.add_column(no_wrap=True)
    table.add_column()
    table.add_column()
    if moment.level is not None:
        filled = min(max(moment.level.level_db - LOWEST_DB, 0.0), -LOWEST_DB)
        colour = "red" if moment.level.is_too_loud else "green"
        bar = ProgressBar(
            total=-LOWEST_DB,
            completed=filled,
            width=_BAR_WIDTH,
            complete_style=colour,
            finished_style=colour,
        )
        table.add_row("sound", bar, Text(level_words(moment.level)))
    for name, said in moment.newest:
        table.add_row(Text(name), "", Text(one_line(said), overflow="ellipsis", no_wrap=True))
    if prompt:
        table.add_row("", Text(prompt, style="bold"), "")
    return table


def level_words(level: Level) -> str:
    """Level and peak with their unit."""
    if level.peak_db == -float("inf"):
        return "silence, every sample is zero"
    too_loud = ", too loud" if level.is_too_loud else ""
    return f"level {level.level_db:.1f}, peak {level.peak_db:.1f} dB re full scale{too_loud}"
