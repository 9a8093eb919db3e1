"""Waiting for what another process does, never without end."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import threading
import time
from collections.abc import Callable

LONG_S = 30.0  # for what takes a second on a machine that has nothing else to do
_LOOK_EVERY_S = 0.05


def wait_until(
    is_so: Callable[[], bool], what: Callable[[], str] = lambda: "", most_s: float = LONG_S
) -> None:
    """Look again and again; ``what`` says in the failure how it stands instead."""
    end_s = time.monotonic() + most_s
    never = threading.Event()
    while not is_so():
        assert time.monotonic() < end_s, f"not within {most_s:.0f} s: {what()}"
        never.wait(_LOOK_EVERY_S)
