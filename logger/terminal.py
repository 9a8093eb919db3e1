"""What a terminal needs: one line for trouble, a bar for long work."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import Progress

_BAR_AFTER_S = 2.0


def one_line(text: object) -> str:
    """Text without line breaks and control characters, whatever files and libraries put in."""
    return " ".join("".join(c if c.isprintable() else " " for c in str(text)).split())


@contextmanager
def progress_bar(title: str) -> Iterator[Callable[[float], None]]:
    """Give a function to call with the part done; a bar shows on a terminal after 2 s."""
    started_s = time.perf_counter()
    console = Console(stderr=True)
    bar = Progress(console=console, transient=True)
    task = bar.add_task(one_line(title).replace("[", "\\["), total=1.0)

    def progress(part: float) -> None:
        late = time.perf_counter() - started_s > _BAR_AFTER_S
        if late and console.is_terminal and not bar.live.is_started:
            bar.start()
        bar.update(task, completed=part)

    try:
        yield progress
    finally:
        if bar.live.is_started:
            bar.stop()
