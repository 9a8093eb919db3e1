"""What every test of the desk is given."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.logger.desk.opened import Opened, opened
from tests.logger.desk.warm import Start, warm_errands


@pytest.fixture(scope="package")
def start_errand(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Start | None]:
    if not hasattr(os, "fork"):  # each loads anew
        yield None
        return
    with warm_errands(tmp_path_factory.mktemp("warm") / "door") as start:
        yield start


@pytest.fixture
def desk(
    tmp_path: Path, start_errand: Start | None, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Opened]:
    if start_errand is not None:
        monkeypatch.setattr("asyncio.create_subprocess_exec", start_errand)
    with opened(tmp_path) as desk:
        yield desk
