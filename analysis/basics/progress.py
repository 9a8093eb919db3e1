"""How far a job has come, 0 to 1, told to whoever waits."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable

Progress = Callable[[float], None]


def stage(progress: Progress, start: float, end: float) -> Progress:
    """Tell 0 to 1 of one stage as ``start`` to ``end`` of the whole."""
    return lambda part: progress(start + (end - start) * part)
