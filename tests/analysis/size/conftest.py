"""What is wished of one and the same exhaust is tried on the same guesses at it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.done_once import set_up_once


@pytest.fixture(scope="package", autouse=True)
def _set_up_once() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("analysis.size.on_exhaust.set_up", set_up_once)
        yield
