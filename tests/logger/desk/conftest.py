"""What every test of the desk is given."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.logger.desk.opened import Opened, opened


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Opened]:
    with opened(tmp_path) as desk:
        yield desk
