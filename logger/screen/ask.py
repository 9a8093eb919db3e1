"""Questions on a terminal, one line each; works as well with answers from a file."""
# SPDX-License-Identifier: GPL-2.0-or-later

import contextlib
import sys
from collections.abc import Sequence

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from logger.screen.terminal import OurConsole

BACK, STOP = ("back", "b", "<"), ("stop", "quit", "exit")
_LONGEST = 300  # judgement: signs of an answer; more is no answer but a slip of the paste key
_INDENT = 4  # judgement: columns of layout, moves no answer


def pose(
    number: int,
    asks: str,
    hints: Sequence[str],
    choices: Sequence[tuple[str, str]] = (),
    words: Sequence[tuple[str, str]] = (),
) -> None:
    """Print a question: what is asked, what to choose from, and hints in faint print.

    ``choices`` are numbered; ``words`` an answer may begin with.
    """
    console = OurConsole(stderr=False)
    console.print(Text(f"\n{number:>2}. {asks}", style="bold"))
    numbered = [(str(place), *each) for place, each in enumerate(choices, start=1)]
    for rows in filter(None, (numbered, words)):
        grid = Table.grid(padding=(0, 2))
        for *told, looks in rows:
            grid.add_row(*map(Text, told), Text(looks, style="dim"))
        console.print(Padding(grid, (0, 0, 0, _INDENT)))
    for hint in filter(None, hints):
        console.print(Padding(Text(hint, style="dim"), (0, 0, 0, _INDENT)))


def typed() -> str:
    """Give the next line that is typed, without the spaces around it.

    Raises
    ------
    EOFError
        Nothing more will come.
    KeyboardInterrupt
        Ctrl-C, or a word for it.
    """
    if sys.stdin.isatty():
        with contextlib.suppress(ImportError):  # so that arrow keys move within the line
            import readline  # noqa: F401
    try:
        line = input("  > ")
    except UnicodeDecodeError:
        return "\ufffd"
    if not sys.stdin.isatty():
        OurConsole(stderr=False).print()  # nobody pressed Enter on the screen
    if line.strip().lower() in STOP:
        raise KeyboardInterrupt
    return line.strip()[:_LONGEST]
