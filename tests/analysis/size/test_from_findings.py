"""Which bands branches are for."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis import job
from analysis.errors import SizingError
from analysis.find.causes import causes
from analysis.findings import Doubt, DroneBand, Findings, LockedTo
from analysis.size.advice import NO_CURE
from analysis.size.from_findings import bands_to_cure, request_for_bands, with_orders_left
from analysis.size.wishes import SizeWishes
from tests.analysis.made_findings import make_curve, make_findings
from tests.analysis.report.found_examples import band, findings
from tests.analysis.report.sized_examples import sizing

ROAD = band(1500.0, locked_to=LockedTo.ROAD)
ENGINE = band(2240.0)
LOWER = band(1600.0)


def found(*bands: DroneBand) -> Findings:
    """With the cause that ``find`` gives to each."""
    made = findings(*bands)
    return replace(made, causes=causes(made))


def test_the_worst_band_that_is_not_the_roads() -> None:
    assert bands_to_cure(found(ROAD, ENGINE)) == (ENGINE,)
    assert bands_to_cure(found(ROAD)) == ()
    assert bands_to_cure(found()) == ()


def test_another_resonance_is_planned_for_with_it() -> None:
    assert bands_to_cure(found(ENGINE, LOWER)) == (ENGINE, LOWER)
    unknown = replace(LOWER, locked_to=LockedTo.UNKNOWN)
    assert bands_to_cure(found(ENGINE, unknown)) == (ENGINE, unknown)


def test_what_is_the_roads_or_another_orders_is_not() -> None:
    assert bands_to_cure(found(ENGINE, replace(LOWER, locked_to=LockedTo.ROAD))) == (ENGINE,)
    twice = replace(LOWER, engine_order=2.0 * ENGINE.engine_order)
    assert bands_to_cure(found(ENGINE, twice)) == (ENGINE,)


def test_the_same_resonance_in_another_order_is_no_other_drone() -> None:
    again = replace(band(1120.0), engine_order=2.0 * ENGINE.engine_order)
    assert bands_to_cure(found(ENGINE, again)) == (ENGINE,)


def test_the_band_asked_for_is_alone() -> None:
    unknown = band(1800.0, locked_to=LockedTo.UNKNOWN)
    assert bands_to_cure(found(ENGINE, unknown), 2) == (unknown,)
    with pytest.raises(SizingError, match="no band 3"):
        bands_to_cure(found(ENGINE, unknown), 3)


def test_no_branch_is_sized_against_the_road() -> None:
    with pytest.raises(SizingError, match="road speed, so no branch will help"):
        bands_to_cure(found(ENGINE, ROAD), 2)


def test_only_drones_that_were_measured_whole_are_asked_for_together() -> None:
    rpm = np.geomspace(1400.0, 3400.0, 90)
    for low, asked in ((1400.0, 1), (1590.0, 0)):
        kept = rpm[rpm > low]
        curve = make_curve(ENGINE.engine_order, np.ones(kept.size), kept, passes=1)
        curve = replace(curve, fitted_db=np.zeros(kept.size))
        made = make_findings([curve], [ENGINE, LOWER])
        request = request_for_bands(made, [ENGINE, LOWER], None, SizeWishes())
        assert request.target.peak_hz == ENGINE.peak_hz
        assert len(request.others) == asked


def test_a_drone_of_another_order_is_said_to_be_left_and_what_to_do_then() -> None:
    other = replace(LOWER, engine_order=2.0 * ENGINE.engine_order)
    drive = found(ENGINE, replace(other, locked_to=LockedTo.ENGINE))
    sizing = job.size(drive, None, SizeWishes())
    assert sizing is not None
    (left,) = (doubt for doubt in sizing.warnings if doubt.code == "drone_left")
    for part in ("for order 3 alone", "order 6 at 1,600 rpm", "--band 2", "prove these first"):
        assert part in left.message
    assert left is sizing.warnings[-1]


def test_a_drone_that_nothing_cures_sends_nobody_to_build_for_it_first() -> None:
    other = replace(LOWER, engine_order=2.0 * ENGINE.engine_order, locked_to=LockedTo.ENGINE)
    hopeless = replace(sizing(), warnings=(Doubt(code=NO_CURE, message="no cure"),))
    assert with_orders_left(hopeless, found(ENGINE, other)) is hopeless


def test_the_same_resonance_in_another_order_and_the_roads_drone_are_not_left() -> None:
    again = replace(band(1120.0), engine_order=2.0 * ENGINE.engine_order)
    for drive in (found(ENGINE), found(ENGINE, again), found(ENGINE, ROAD)):
        sizing = job.size(drive, None, SizeWishes())
        assert sizing is not None
        assert "drone_left" not in {doubt.code for doubt in sizing.warnings}
