"""Which engine speed lines mean, against engines whose lines are written down."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from analysis.basics.arrays import FloatArray
from analysis.drive import NO_HINTS, SpeedHints
from analysis.find.speed.from_sound import LEAST_EVIDENCE
from analysis.find.speed.line_profile import HeardLines
from analysis.find.speed.plausible_speed import log_plausibility
from analysis.find.speed.speed_path import HeardPath, without_jumps
from analysis.find.speed.which_reading import Reading, all_orders, readings, rival_of

NO_ROWS = pd.DataFrame({"time_s": np.empty(0)})
# common practice, no source: even engines sound at their firing order, others at every half order
UNLIKE = tuple(0.5 * number for number in range(1, 17))
EVEN_FOUR = (2.0, 4.0, 6.0, 8.0)
EVEN_EIGHT = (4.0, 8.0)


def path_of(rpm: object, is_sure: object = True) -> HeardPath:
    speed = np.asarray(rpm, dtype=np.float64)
    return HeardPath(
        time_s=0.1 * np.arange(speed.size, dtype=np.float64),
        rpm=speed,
        rate_per_s=np.zeros(speed.size),
        is_sure=np.broadcast_to(np.asarray(is_sure), speed.shape).copy(),
    )


SWEEP = path_of(np.linspace(1000.0, 3800.0, 300))


def heights(lines: tuple[float, ...], ratio: float) -> FloatArray:
    """What stands along a path at ``ratio`` times the true speed."""
    true_order = all_orders() * ratio
    stands = np.min(np.abs(true_order[:, np.newaxis] - np.array(lines)), axis=1) < 0.01
    # unlike cylinders give jagged lines
    jagged = 4.0 * np.cos(5.0 * true_order) if len(lines) > 8 else 0.0
    return np.asarray(np.where(stands, 15.0 + jagged, 0.0))


def heard(*stretches: FloatArray) -> HeardLines:
    """Stretches of as many frames each."""
    return HeardLines(
        orders=all_orders(),
        frames=tuple(np.array_split(np.arange(SWEEP.rpm.size), len(stretches))),
        height_db=np.array(stretches),
        weight=np.ones((len(stretches), all_orders().size)),
    )


def read(lines: tuple[float, ...], ratio: float, firing_order: float) -> list[Reading]:
    return readings(
        SWEEP.scaled(ratio),
        heard(heights(lines, ratio)),
        firing_order,
        lambda path: log_plausibility(path, NO_ROWS, SpeedHints()),
    )


@pytest.mark.parametrize("ratio", [1.0, 0.5, 2.0, 0.375, 0.75, 2.0 / 3.0, 4.0 / 3.0])
@pytest.mark.parametrize(
    ("lines", "firing_order"), [(UNLIKE, 2.0), (UNLIKE, 4.0), (EVEN_FOUR, 2.0), (EVEN_EIGHT, 4.0)]
)
def test_whatever_path_the_lines_tell_the_speed(
    lines: tuple[float, ...], firing_order: float, ratio: float
) -> None:
    found = read(lines, ratio, firing_order)
    np.testing.assert_allclose(found[0].path.rpm, SWEEP.rpm)
    rival = rival_of(found[0], found)
    assert rival is None or found[0].log_odds - rival.log_odds > 2.0


@pytest.mark.parametrize("slip", [0.5, 2.0])
def test_stretches_at_half_or_twice_the_speed_of_the_others_are_left_out(slip: float) -> None:
    """The engine is the same all along, so a path that shows it at other orders has slipped."""
    true = heights(UNLIKE[:8], 1.0)
    lines = heard(true, true, heights(UNLIKE[:8], slip), true)
    best = readings(SWEEP, lines, 2.0, lambda path: log_plausibility(path, NO_ROWS, NO_HINTS))[0]
    assert best.ratio == 1.0
    slipped = np.zeros(SWEEP.rpm.size, dtype=bool)
    slipped[lines.frames[2]] = True
    np.testing.assert_array_equal(best.path.is_sure, ~slipped)


def test_a_reading_of_a_moment_only_proves_as_little() -> None:
    """Of a log at twice the speed, only a slip of it looks right as it was logged."""
    true, double = heights(UNLIKE[:8], 1.0), heights(UNLIKE[:8], 2.0)
    found = readings(SWEEP, heard(true, *[double] * 7), 2.0, no_matter)
    as_logged = next(each for each in found if each.ratio == 1.0)
    assert found[0].ratio == 0.5
    assert found[0].log_odds - as_logged.log_odds > 5.0


def test_where_nothing_is_heard_any_more_no_line_is_missed() -> None:
    """An engine whose orders fade above the third still has every half order below."""
    found = read(UNLIKE[:6], 1.0, 2.0)
    rival = rival_of(found[0], found)
    np.testing.assert_allclose(found[0].path.rpm, SWEEP.rpm)
    assert rival is None or found[0].log_odds - rival.log_odds > 8.0
    assert found[0].profile.orders.max() == 3.0


def test_lines_where_no_engine_has_any_are_strays() -> None:
    """Such as 1.25 and 2.75 times a turn: of a song, not of an engine."""
    engine, song = heights(UNLIKE, 1.0), heights((*UNLIKE, 1.25, 2.75), 1.0)
    own, other = (
        next(each for each in readings(SWEEP, heard(what), 2.0, no_matter) if each.ratio == 1.0)
        for what in (engine, song)
    )
    assert own.strays == 0.0
    assert other.strays > 5.0


def test_a_line_alone_tells_no_speed() -> None:
    """It may be any order of any speed."""
    assert read((4.0,), 1.0, 2.0)[0].evidence < LEAST_EVIDENCE


def no_matter(path: HeardPath) -> float:
    del path
    return 0.0


def plausible(path: HeardPath, hints: SpeedHints, rows: pd.DataFrame = NO_ROWS) -> float:
    return log_plausibility(path, rows, hints)


def test_an_rpm_at_a_moment_settles_it() -> None:
    at_s = 15.0
    hints = SpeedHints(rpm_at=((at_s, float(SWEEP.rpm[150])),))
    for ratio in (0.5, 2.0 / 3.0, 0.75, 4.0 / 3.0, 1.5, 2.0):
        assert plausible(SWEEP, hints) - plausible(SWEEP.scaled(ratio), hints) > 8.0


def test_the_idle_settles_it() -> None:
    idling = path_of(np.r_[np.full(60, 800.0), np.linspace(800.0, 3000.0, 200)])
    hints = SpeedHints(idle_rpm=800.0)
    for ratio in (0.5, 2.0):
        without = plausible(idling, SpeedHints()) - plausible(idling.scaled(ratio), SpeedHints())
        told = plausible(idling, hints) - plausible(idling.scaled(ratio), hints)
        assert told > without + 1.0


def test_a_car_that_stands_idles() -> None:
    """With a log of road speed, engine speed at a standstill must be an idle."""
    rpm = np.r_[np.full(60, 800.0), np.linspace(1500.0, 2500.0, 200)]
    road = np.r_[np.zeros(60), np.linspace(1500.0, 2500.0, 200) / 100.0]
    rows = pd.DataFrame({"time_s": 0.1 * np.arange(rpm.size), "road_speed_m_s": road})
    path = path_of(rpm)
    for ratio in (0.5, 2.0):
        without = plausible(path, SpeedHints()) - plausible(path.scaled(ratio), SpeedHints())
        told = plausible(path, SpeedHints(), rows) - plausible(
            path.scaled(ratio), SpeedHints(), rows
        )
        assert told > without + 3.0


def test_of_two_stretches_with_a_jump_between_the_longer_is_kept() -> None:
    """No flywheel halves its speed within a tenth of a second."""
    rpm = np.r_[np.full(50, 2000.0), np.full(20, 1000.0), np.full(50, 2050.0)]
    np.testing.assert_array_equal(without_jumps(path_of(rpm)).is_sure, rpm > 1500.0)


def test_a_path_along_a_tone_keeps_to_few_speeds() -> None:
    assert path_of(np.full(300, 2000.0)).share_at_few_speeds == 1.0
    assert SWEEP.share_at_few_speeds < 0.1


def test_a_shift_is_no_jump() -> None:
    """From 3,000 to 2,000 rpm in a third of a second, as gear boxes do."""
    rpm = np.r_[np.full(50, 3000.0), 2700.0, 2350.0, np.full(50, 2000.0)]
    assert without_jumps(path_of(rpm)).is_sure.all()
    lost = np.ones(rpm.size, dtype=bool)
    lost[49:53] = False
    np.testing.assert_array_equal(without_jumps(path_of(rpm, lost)).is_sure, lost)
