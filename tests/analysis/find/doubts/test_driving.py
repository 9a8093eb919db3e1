"""Doubts about how was driven: gears, passes, sweeps, and where the drive ended."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import lfilter

from analysis.find.doubts.evidence import Evidence
from analysis.find.doubts.raised import doubts
from analysis.find.sound.order_tracking import ORDERS
from analysis.findings import (
    Climb,
)
from tests.analysis.find.doubts.good_drive import (
    BAND,
    COUNT,
    GOOD,
    RPM,
    SONG,
    TIME_S,
    codes,
    driven,
)


def test_one_gear_or_none_known() -> None:
    one = driven(gear=np.where(TIME_S < 60.0, 0.0, np.nan))
    none = driven(gear=np.full(COUNT, np.nan))
    assert codes(one) == codes(none) == ["one_gear_only"]
    assert "second gear" in doubts(one)[0].message
    assert "road speed" in doubts(none)[0].message
    assert codes(replace(one, bands=())) == codes(replace(none, bands=())) == []


def test_one_pass_only() -> None:
    once = driven(pass_index=np.zeros(COUNT, dtype=np.int64))
    assert codes(once) == ["few_passes"]
    assert codes(replace(once, bands=())) == []
    rest = (RPM > 1490.0) & (RPM < 1510.0) & (TIME_S > 50.0)
    rest_in_the_band = driven(pass_index=rest.astype(np.int64))
    assert codes(rest_in_the_band) == ["few_passes"]


def test_once_through_a_resonance_that_another_order_met_often_is_no_chance() -> None:
    """4 times 1500 rpm and 5 times 1200 rpm are 100 Hz both: 60 Hz to 1 rpm of order 1, by hand."""
    low = replace(BAND, engine_order=5.0, peak_rpm=1200.0, low_rpm=1140.0, high_rpm=1260.0)
    passes = np.where(RPM < 1300.0, 0, GOOD.driven.pass_index)
    both = replace(driven(pass_index=passes), bands=(BAND, low))
    assert "few_passes" not in codes(both)
    assert "few_passes" in codes(replace(both, bands=(low,)))
    elsewhere = replace(low, engine_order=6.0)
    assert "few_passes" in codes(replace(both, bands=(BAND, elsewhere)))


def swept_at(rpm_per_s: float) -> Evidence:
    return driven(rpm=1100.0 + (rpm_per_s * TIME_S) % 800.0)


def test_too_fast_a_sweep_says_how_fast_would_do() -> None:
    assert "sweep_too_fast" not in codes(swept_at(300.0))
    assert "sweep_too_fast" in codes(swept_at(600.0))


# What a sweep of S (f / Q)^2 per second does to a resonance: table of a simulation by the
# envelope's differential equation; 0.9 is the limit of ISO 7626-2 (quoted from memory).
SWEEP_TABLE = [
    # S, peak error in dB, shift in widths, apparent width
    (0.1, -0.02, 0.06, 1.004),
    (0.3, -0.11, 0.17, 1.04),
    (0.9, -0.49, 0.42, 1.23),
    (2.0, -1.14, 0.75, 1.53),
]


def swept_resonance(speed: float) -> tuple[float, float, float]:
    """Level error in dB, shift and width of the peak for a sweep of ``speed`` widths^2 per s.

    Time in 1 / width: a' = -pi a + pi exp(j pi speed t^2), solved by exact steps for a drive
    that is constant in size over each; what is seen is |a| over the frequency speed * t.
    """
    step = 2e-4 / max(1.0, speed)
    time = np.arange(-6.0 / speed, 8.0 / speed, step)
    drive = np.exp(1j * np.pi * speed * (time + 0.5 * step) ** 2)
    keep = np.exp(-np.pi * step)
    size = np.abs(lfilter([1.0 - keep], [1.0, -keep], drive))
    top = int(size.argmax())
    above = np.flatnonzero(size > size[top] / np.sqrt(2.0))
    width = speed * (time[above[-1]] - time[above[0]])
    return 20.0 * np.log10(size[top]), speed * time[top], width


@pytest.mark.parametrize(("speed", "level_db", "shift", "width"), SWEEP_TABLE)
def test_what_a_sweep_does_to_a_resonance(
    speed: float, level_db: float, shift: float, width: float
) -> None:
    found = swept_resonance(speed)
    assert found[0] == pytest.approx(level_db, abs=0.02)
    assert found[1] == pytest.approx(shift, abs=0.01)
    assert found[2] == pytest.approx(width, abs=0.02)


def test_the_speed_advised_moves_the_peak_by_a_fifth_of_its_width_at_most() -> None:
    (doubt,) = (each for each in doubts(swept_at(900.0)) if each.code == "sweep_too_fast")
    (advised_rpm_per_s,) = re.findall(r"slower than (\d+) rpm per second", doubt.message)
    width_hz = BAND.high_hz - BAND.low_hz
    speed = float(advised_rpm_per_s) * BAND.engine_order / 60.0 / width_hz**2
    level_db, shift, width = swept_resonance(speed)
    assert 0.1 < shift < 0.2
    assert level_db > -0.2
    assert width < 1.1


def climb(order: float, rpm: float, from_rpm: float, climb_db: float) -> Climb:
    return Climb(engine_order=order, rpm=rpm, from_rpm=from_rpm, climb_db=climb_db, level_db=70.0)


def test_a_level_that_climbs_on_beyond_the_drive() -> None:
    assert "climbs_on" not in codes(GOOD)
    (doubt,) = doubts(replace(GOOD, climbs=(climb(4.0, 3100.0, 2600.0, 9.2),)))
    assert doubt.code == "climbs_on"
    assert doubt.may_hide
    assert doubt.message.startswith(
        "Order 4 is still climbing at 3,100 rpm, about the fastest you drove, 9 dB up on 2,600 rpm:"
        " drive a little faster"
    )


def test_a_climb_is_told_where_it_is_loud_and_no_note_makes_it() -> None:
    climbing = replace(GOOD, climbs=(climb(4.0, 2100.0, 1800.0, 9.2),))
    assert codes(climbing) == ["climbs_on"]
    assert "climbs_on" not in codes(replace(climbing, tones=SONG))
    faint_ms = GOOD.heard.frames.total_ms.copy()
    faint_ms[:, ORDERS == 4.0] = 0.05  # 13 dB below all others
    faint = replace(GOOD.heard, frames=replace(GOOD.heard.frames, total_ms=faint_ms))
    assert "climbs_on" not in codes(replace(climbing, heard=faint))


def test_levels_that_climb_on_at_both_ends_are_told_in_one_warning() -> None:
    up = (climb(4.0, 3100.0, 2600.0, 9.2), climb(6.0, 3100.0, 2600.0, 12.0))
    down = climb(2.0, 1200.0, 1500.0, 10.0)
    (doubt,) = doubts(replace(GOOD, climbs=(*up, down)))
    assert "Orders 4 and 6 are still climbing at 3,100 rpm" in doubt.message
    assert "Order 2 is still climbing at 1,200 rpm, about the slowest you drove" in doubt.message
    assert "more slowly" in doubt.message
