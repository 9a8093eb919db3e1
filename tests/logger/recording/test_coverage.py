"""Coverage while driving: seconds, gears, and the next thing to do."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, field

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.recording.coverage import BIN_RPM, Coverage, CoverageWatch
from logger.recording.gear_watch import GearWatch

RANGE_RPM = (1500.0, 2500.0)
TOP, THIRD = 60.0, 80.0  # engine rpm for each m/s of road speed
STEP_S = 0.1


@dataclass
class Driver:
    """Drives as told and keeps the watch informed, ten times a second."""

    range_rpm: tuple[float, float] | None = RANGE_RPM
    has_speed: bool = True
    now_s: float = 0.0
    watch: CoverageWatch = field(init=False)

    def __post_init__(self) -> None:
        self.watch = CoverageWatch(self.range_rpm)

    def sweep(self, start_rpm: float, end_rpm: float, seconds: float, gear: float) -> Coverage:
        steps = round(seconds / STEP_S)
        for step in range(steps):
            rpm = start_rpm + (end_rpm - start_rpm) * step / steps
            self.now_s += STEP_S
            if self.has_speed:
                self.watch.note("road_speed_m_s", self.now_s, rpm / gear)
            self.watch.note("rpm", self.now_s, rpm)
        return self.watch.look()


def test_before_the_drive_it_says_where_to_begin() -> None:
    coverage = CoverageWatch(RANGE_RPM).look()
    assert [each.seconds for each in coverage.bins] == [0.0] * 10
    assert coverage.advice.startswith("Drive slowly from 1,500 to 2,500 rpm in top gear")


def test_a_drive_in_two_gears_is_enough() -> None:
    driver = Driver()
    assert "Sweep 2,000 to 2,500 rpm once, slowly" in driver.sweep(1500, 2000, 20, TOP).advice
    one_gear = driver.sweep(2000, 2500, 20, TOP)
    assert one_gear.advice == "Sweep 1,500 to 2,500 rpm once more in another gear."
    assert all(each.gears == 1 and each.is_covered for each in one_gear.bins)
    both = driver.sweep(2500, 1500, 40, THIRD)
    assert both.advice.startswith("Enough")
    assert all(each.gears == 2 for each in both.bins)


def test_a_hole_is_to_be_held() -> None:
    driver = Driver()
    driver.sweep(1500, 1900, 20, TOP)
    assert driver.sweep(2100, 2500, 20, TOP).advice == (
        "Hold 1,900 to 2,100 rpm for a few seconds, in top gear."
    )


def test_a_hurried_pass_is_of_no_use() -> None:
    coverage = Driver().sweep(1500, 2500, 4, TOP)
    assert coverage.advice.endswith("again, more slowly, in top gear.")
    assert sum(each.hurried_s for each in coverage.bins) > 3.0
    assert sum(each.seconds for each in coverage.bins) < 0.6


def test_without_road_speed_a_second_pass_is_asked_for() -> None:
    driver = Driver(has_speed=False)
    coverage = driver.sweep(1500, 2500, 30, TOP)
    assert not coverage.knows_gears
    assert "no road speed is recorded" in coverage.advice
    assert driver.sweep(2500, 1500, 30, THIRD).advice.startswith("Enough")


def test_without_a_car_file_the_range_grows_with_the_drive() -> None:
    driver = Driver(range_rpm=None)
    usual = driver.watch.look()
    assert (usual.bins[0].low_rpm, usual.bins[-1].low_rpm) == (1200.0, 3300.0)
    assert driver.sweep(3000, 4000, 40, TOP).bins[-1].low_rpm == 3900.0


def test_a_pause_between_readings_counts_for_nothing() -> None:
    driver = Driver()
    driver.sweep(2000, 2000, 1, TOP)
    driver.now_s += 60.0
    coverage = driver.sweep(2000, 2000, 1, TOP)
    assert sum(each.seconds for each in coverage.bins) < 2.5


@given(
    st.lists(
        st.tuples(st.floats(0.01, 3.0), st.floats(-100.0, 9000.0), st.floats(0.0, 80.0)),
        max_size=60,
    )
)
def test_no_second_is_counted_twice(steps: list[tuple[float, float, float]]) -> None:
    watch = CoverageWatch((500.0, 9000.0))
    now_s = 0.0
    for step_s, rpm, speed_m_s in steps:
        now_s += step_s
        watch.note("road_speed_m_s", now_s, speed_m_s)
        watch.note("rpm", now_s, rpm)
    coverage = watch.look()
    assert sum(each.seconds + each.hurried_s for each in coverage.bins) <= now_s + 1e-6
    assert len(coverage.bins) == (9000.0 - 500.0) / BIN_RPM
    assert coverage.advice


@pytest.mark.parametrize("step_m_s", [0.0, 1.0 / 3.6], ids=["fine", "whole km/h"])
def test_gears_are_told_apart(step_m_s: float) -> None:
    watch = GearWatch()
    seen: list[int | None] = []
    for ratio in (110.0, 80.0, 60.0, 80.0):
        for step in range(100):
            rpm = 2000.0 + 5.0 * step
            speed = rpm / ratio
            if step_m_s:
                speed = round(speed / step_m_s) * step_m_s
            seen.append(watch.gear(rpm, speed))
    assert [seen[at + 50] for at in (0, 100, 200, 300)] == [0, 1, 2, 1]


def test_standing_and_slipping_are_no_gear() -> None:
    watch = GearWatch()
    assert [watch.gear(900.0, 0.0) for _ in range(20)] == [None] * 20
    slipping = [watch.gear(2000.0 * 1.05**step, 20.0) for step in range(20)]
    assert slipping == [None] * 20


def test_a_gear_keeps_its_number_when_an_earlier_ratio_is_believed_later() -> None:
    """Passed through in a moment at first, third gear is driven only after top gear."""
    watch = GearWatch()
    for ratio, readings in ((80.0, 3), (60.0, 40)):
        seen = [watch.gear(25.0 * ratio, 25.0) for _ in range(readings)]
    top = seen[-1]
    assert top is not None
    third = [watch.gear(25.0 * 80.0, 25.0) for _ in range(40)][-1]
    assert third not in (None, top)
    assert [watch.gear(25.0 * 60.0, 25.0) for _ in range(40)][-1] == top
