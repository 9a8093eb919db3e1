"""The settings under which examples are drawn: see ``conftest.py``."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import pytest
from hypothesis import settings


@pytest.mark.parametrize("profile", ["steady", "wild"])
def test_a_busy_machine_turns_no_test_red(profile: str) -> None:
    assert settings.get_profile(profile).deadline is None


def test_the_settings_in_force_are_those_of_a_profile() -> None:
    assert settings().deadline is None
