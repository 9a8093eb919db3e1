"""Beside music only bands are told that are louder and wider than its notes, pass after pass."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from analysis.basics.interval import Interval
from analysis.find.bands import no_notes as room
from analysis.find.bands.drone_bands import FittedOrder
from analysis.find.bands.resonance_model import ResonanceFit
from analysis.find.curves.driven import driven_at
from analysis.find.curves.order_curves import binned
from analysis.find.sound.order_tracking import ORDERS, OrderFrames
from analysis.findings import DroneBand, LockedTo

COUNT = 2000
RPM = 2200.0 + 900.0 * np.sin(2.0 * np.pi * np.arange(COUNT) / 400.0)
ORDER, PEAK_RPM = 2.0, 2400.0  # 80 Hz
NEAR = Interval(low=79.0, high=81.0)
BAND = DroneBand(
    engine_order=ORDER,
    peak_rpm=PEAK_RPM,
    low_rpm=0.94 * PEAK_RPM,
    high_rpm=1.06 * PEAK_RPM,
    rise_db=10.0,
    level_db=-30.0,
    locked_to=LockedTo.UNKNOWN,
    peak_hz_ci95=NEAR,
    low_hz_ci95=NEAR,
    high_hz_ci95=NEAR,
)


# the mode that lifts order 2 by 23 dB at 80 Hz, to half power 12 % wide: 20 lg (1 + 13)
SHAPE = ResonanceFit(
    trend=np.array([0.0]),
    modes=np.array([np.log(80.0), np.log(0.12), np.log(13.0), 0.0]),
    covariance=np.zeros((4, 4)),
    reference_hz=(40.0, 110.0),
)


def heard(*, band: float, notes: float, shown_for: int = COUNT) -> OrderFrames:
    """Order 2 with so much power in its band, and notes of so much at 80 Hz half of the time.

    The band is there in the first ``shown_for`` frames only.
    """
    noise = np.random.default_rng(8).chisquare(4, size=(COUNT, ORDERS.size)) / 4.0
    total = noise + np.random.default_rng(9).chisquare(4, size=noise.shape) / 4.0
    hz = RPM[:, np.newaxis] / 60.0 * ORDERS
    sounds = np.abs(hz / 80.0 - 1.0) < 0.06
    sounds &= (np.arange(COUNT) // 10 % 2 == 0)[:, np.newaxis]
    noise[sounds] += notes
    total[sounds] += notes
    on_band = (np.abs(RPM / PEAK_RPM - 1.0) < 0.06) & (np.arange(COUNT) < shown_for)
    total[on_band, int(2.0 * ORDER) - 1] += band
    return OrderFrames(
        time_s=0.1 * np.arange(COUNT, dtype=np.float64),
        rpm=RPM,
        total_ms=total,
        background_ms=noise,
    )


def no_notes(
    bands: list[DroneBand], frames: OrderFrames, *, are_many: bool = True
) -> tuple[DroneBand, ...]:
    rows = pd.DataFrame({"time_s": frames.time_s, "rpm": frames.rpm})
    points = binned(frames, driven_at(frames.time_s, frames.rpm, rows, frames.time_s))
    (own,) = (each for each in points if each.engine_order == ORDER)
    fitted = FittedOrder(points=own, bands=tuple(bands), shapes=(SHAPE,) * len(bands))
    (left,) = room.no_notes([fitted], frames, are_many=are_many)
    assert len(left.shapes) == len(left.bands)
    return left.bands


def test_a_band_stands_where_it_is_louder_than_the_notes_at_its_pitch() -> None:
    assert no_notes([BAND], heard(band=200.0, notes=10.0)) == (BAND,)
    assert no_notes([BAND], heard(band=200.0, notes=0.0)) == (BAND,)
    assert no_notes([BAND], heard(band=0.0, notes=200.0)) == ()
    assert no_notes([BAND], heard(band=200.0, notes=200.0)) == ()


def test_a_band_that_each_pass_shows_need_not_be_as_loud() -> None:
    """6 dB over the notes: told if all ten climbs and falls show it, not if the first five do."""
    assert no_notes([BAND], heard(band=200.0, notes=50.0)) == (BAND,)
    assert no_notes([BAND], heard(band=400.0, notes=0.0, shown_for=COUNT // 2)) == ()


def test_what_is_no_wider_than_the_line_of_a_steady_note_is_one() -> None:
    """A Hann window over 16 turns shows a line 1.44 / 16 of an order wide; definition."""
    half = 0.5 * 1.44 / 16.0 / ORDER
    narrow = replace(BAND, low_rpm=(1.0 - half) * PEAK_RPM, high_rpm=(1.0 + half) * PEAK_RPM)
    assert no_notes([narrow], heard(band=200.0, notes=0.0)) == ()


def test_where_little_sounds_beside_it_a_band_need_be_only_loud_or_wide() -> None:
    narrow = replace(BAND, low_rpm=0.98 * PEAK_RPM, high_rpm=1.02 * PEAK_RPM)
    for band, notes, told in ((BAND, 200.0, True), (narrow, 0.0, True), (narrow, 200.0, False)):
        frames = heard(band=200.0, notes=notes)
        assert bool(no_notes([band], frames, are_many=False)) is told
        assert not no_notes([band], frames)


def test_where_only_the_band_was_driven_nothing_tells_a_note() -> None:
    frames = heard(band=200.0, notes=0.0)
    on_band = np.abs(RPM / PEAK_RPM - 1.0) < 0.05
    alone = OrderFrames(
        time_s=frames.time_s[on_band],
        rpm=frames.rpm[on_band],
        total_ms=frames.total_ms[on_band],
        background_ms=frames.background_ms[on_band],
    )
    assert no_notes([BAND], alone) == ()
