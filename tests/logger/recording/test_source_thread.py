"""The thread of a source."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import threading

from logger.recording.source_thread import SourceThread
from logger.sources.contract import Reading


class Hasty:
    """Has nothing to give, and says so at once."""

    name = "hasty"

    def __init__(self) -> None:
        self.asked = 0
        self.is_closed = threading.Event()

    def read(self, timeout_s: float) -> Reading | None:
        del timeout_s
        self.asked += 1
        return None

    def close(self) -> None:
        self.is_closed.set()


def test_a_hasty_source_does_not_take_the_processor() -> None:
    source = Hasty()
    thread = SourceThread(source)
    thread.start()
    threading.Event().wait(0.3)
    thread.close()
    assert source.is_closed.wait(5.0)
    # without a pause it is asked some hundred thousand times; a busy machine only asks less often
    assert 1 <= source.asked <= 60
    assert thread.events() == []
