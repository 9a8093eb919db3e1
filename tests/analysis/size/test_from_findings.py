"""Which band a branch is for."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import pytest

from analysis.errors import SizingError
from analysis.findings import LockedTo
from analysis.size.from_findings import band_to_cure
from tests.analysis.report.found_examples import band, findings

ROAD = band(1500.0, locked_to=LockedTo.ROAD)
ENGINE = band(2240.0)


def test_the_worst_band_that_is_not_the_roads() -> None:
    assert band_to_cure(findings(ROAD, ENGINE)) == ENGINE
    assert band_to_cure(findings(ROAD)) is None
    assert band_to_cure(findings()) is None


def test_the_band_asked_for() -> None:
    unknown = band(1800.0, locked_to=LockedTo.UNKNOWN)
    assert band_to_cure(findings(ENGINE, unknown), 2) == unknown
    with pytest.raises(SizingError, match="no band 3"):
        band_to_cure(findings(ENGINE, unknown), 3)


def test_no_branch_is_sized_against_the_road() -> None:
    with pytest.raises(SizingError, match="road speed, so no branch will help"):
        band_to_cure(findings(ENGINE, ROAD), 2)
