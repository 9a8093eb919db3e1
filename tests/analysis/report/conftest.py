"""Pages under test go without the 5 MB of plotly's script, which take most of the time."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def _no_plotly_script(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("analysis.report.page.get_plotlyjs", lambda: "/* plotly.js */")
