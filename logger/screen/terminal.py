"""What a terminal needs: tables, one line for trouble, a bar for long work."""
# SPDX-License-Identifier: GPL-2.0-or-later

import contextlib
import io
import os
import re
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import IO

from rich.box import SIMPLE_HEAD
from rich.console import Console, RenderableType
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

from logger.folder.harmless import harmless

# judgement: our longest, of several devices that failed, is shorter; no cure is cut off
_LONGEST_LINE = 800
_CUT = " ... "
# judgement: no table can be read in less; such a width is a shell's way to say that it knows none
_LEAST_COLUMNS, _MOST_COLUMNS, _USUAL_COLUMNS = 20, 1000, 80
# Whoever runs a command as a process of its own sets this variable to "lines", and progress comes
# as lines on standard error.
PROGRESS_KEY, FRONT_KEY = "PIPENOTE_PROGRESS", "PIPENOTE_FRONT"
_LINE_EVERY_S = 0.2  # judgement: as often as a moving bar needs
_PROGRESS_LINE = re.compile(r"progress (?P<percent>[0-9]{1,3}) (?P<doing>.+)")


def one_line(text: object) -> str:
    """Text without line breaks and control characters, whatever files and libraries put in.

    Of what is too long to read the middle is left out: what is wrong stands first, the cure last.
    """
    line = " ".join("".join(c if c.isprintable() else " " for c in str(text)).split())
    if len(line) <= _LONGEST_LINE:
        return line
    half = (_LONGEST_LINE - len(_CUT)) // 2
    return f"{line[:half]}{_CUT}{line[-half:]}"


Row = tuple[str, str]


def headed(
    title: str, headings: Iterable[str], rows: Iterable[Iterable[str]], *, is_tight: bool = False
) -> Table:
    """Make a table with a line below its headings; brackets in a text are no markup.

    One that is tight has one blank between its columns.
    """
    table = Table(title=Text(title) if title else None, title_justify="left", box=SIMPLE_HEAD)
    table.padding, table.collapse_padding = (0, 1), is_tight
    for heading in headings:
        table.add_column(Text(heading))
    for row in rows:
        table.add_row(*map(plain, row))
    return table


def labelled(rows: Iterable[Row]) -> Table:
    """Set texts beside their labels."""
    grid = Table.grid(padding=(0, 2))
    grid.add_column(style="bold", no_wrap=True)
    grid.add_column()
    for label, text in rows:
        grid.add_row(plain(label), plain(text))
    return grid


def plain(text: str) -> Text:
    """Text in which nothing is obeyed, neither brackets nor control characters, but line breaks."""
    return Text("\n".join(map(harmless, text.split("\n"))))


def show(table: RenderableType) -> None:
    """Print a table on standard output; brackets in a name are no markup."""
    OurConsole(stderr=False).print(table)


def open_closed_streams() -> None:
    """Let what is printed to a closed stream go nowhere: else a file of ours would take its place.

    A name that the terminal cannot show is no error either.
    """
    for name in ("stdin", "stdout", "stderr"):  # in the order of their handles
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "r+", encoding="utf-8"))  # noqa: PTH123, SIM115
        elif name != "stdin" and isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


class OurConsole(Console):
    """A standard stream; when its reader goes away, it falls silent and the program goes on."""

    def __init__(self, *, stderr: bool) -> None:
        super().__init__(stderr=stderr, markup=False, highlight=False, width=_columns())

    def on_broken_pipe(self) -> None:
        """Fall silent; what this replaces ends the program."""
        self.quiet = True
        drop_output(self.file)


def _columns() -> int | None:
    """Give the width to use where COLUMNS names one that is none; None leaves it to the library."""
    told = os.environ.get("COLUMNS", "")
    if not told.isdigit():
        return None
    is_one = len(told) <= len(str(_MOST_COLUMNS)) and _LEAST_COLUMNS <= int(told) <= _MOST_COLUMNS
    return None if is_one else _USUAL_COLUMNS


@contextmanager
def quiet_libraries() -> Iterator[None]:
    """Let go nowhere what libraries in C write to standard error by its handle, and only that.

    PortAudio does so, into the midst of our lines, whenever it finds a device gone.
    """
    if sys.platform == "win32" or not _is_handle_2(sys.stderr):
        yield
        return
    handle = os.dup(2)
    with open(  # noqa: PTH123 (a handle)
        handle, "w", encoding=sys.stderr.encoding, errors="replace", buffering=1
    ) as own:
        drop_output(sys.stderr)
        try:
            with contextlib.redirect_stderr(own):
                yield
        finally:
            os.dup2(handle, 2)


def _is_handle_2(stream: IO[str]) -> bool:
    try:
        return stream.fileno() == 2
    except OSError:  # it is no file
        return False


def drop_output(stream: IO[str] | None = None) -> None:
    """Let whatever else is written to standard output, or another stream, go nowhere."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, (stream or sys.stdout).fileno())
    os.close(nowhere)


@contextmanager
def progress_bar(title: str) -> Iterator[Callable[[float], None]]:
    """Give a function to call with the part done; on a terminal a bar shows at once.

    It tells how long the work has taken. How long it will take nobody knows: the parts of the work
    are of unlike length, and a time left that is guessed from the first ones is several times off.
    """
    if os.environ.get(PROGRESS_KEY) == "lines":
        yield _progress_lines(one_line(title))
        return
    text, so_far = TextColumn("{task.description} ...", markup=False), TimeElapsedColumn()
    console = Console(stderr=True)
    bar = Progress(
        *(text, BarColumn(), TaskProgressColumn(), so_far),
        console=console,
        transient=True,
        disable=not console.is_interactive,
    )
    task = bar.add_task(one_line(title), total=1.0)
    with bar:
        yield lambda part: bar.update(task, completed=part)


def read_progress(line: str) -> tuple[float, str] | None:
    """Read a line of progress: the part done, 0 to 1, and what is being done; None if it is none.

    ``progress 40 sizing`` is one.
    """
    told = _PROGRESS_LINE.fullmatch(line)
    return None if told is None else (min(1.0, int(told["percent"]) / 100.0), told["doing"])


def _progress_lines(title: str) -> Callable[[float], None]:
    due_s = 0.0

    def progress(part: float) -> None:
        nonlocal due_s
        now_s = time.perf_counter()
        if now_s >= due_s:
            due_s = now_s + _LINE_EVERY_S
            print(f"progress {100.0 * part:.0f} {title}", file=sys.stderr, flush=True)  # noqa: T201

    return progress
