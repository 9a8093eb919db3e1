"""The thread of a source."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
import threading
from typing import Any

import pytest

from logger.recording.source_thread import SourceThread
from logger.sources.contract import Reading, SourceTrouble


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


class Broken(Hasty):
    """Other people's code that does not keep to the contract."""

    name = "box"

    def __init__(self, gives: object) -> None:
        super().__init__()
        self._gives = gives

    def read(self, timeout_s: float) -> Any:
        if isinstance(self._gives, BaseException):
            raise self._gives
        return self._gives


@pytest.mark.parametrize(
    ("gives", "said"),
    [
        (SystemExit(0), "SystemExit"),
        (ValueError("no\nluck"), "ValueError: no luck"),
        ("text", "AttributeError"),
        (Reading(quantity="mood", value=1.0, request_s=1.0, reply_s=1.0), "'mood'"),
        (Reading(quantity="rpm", value=math.nan, request_s=1.0, reply_s=1.0), "nan as rpm"),
        (Reading(quantity="rpm", value=900.0, request_s=1.0, reply_s=math.inf), "as rpm"),
    ],
)
def test_a_source_that_breaks_down_is_told_once_and_gives_nothing_more(
    gives: object, said: str
) -> None:
    thread = SourceThread(Broken(gives))
    thread.start()
    thread.close()
    (trouble,) = thread.events()
    assert isinstance(trouble, SourceTrouble)
    assert trouble.code == "source_ended"
    assert said in trouble.message
    assert "\n" not in trouble.message
