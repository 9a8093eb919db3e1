"""What must hold for any pair of drives, and how often the 95 % interval holds the truth."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from analysis.compare.comparison import compare_drives
from analysis.compare.match.level_change import (
    DAY_SPREAD_DB,
    PASS_SPREAD_DB,
    PASS_SPREAD_TRUST,
    LevelChange,
    change_in_bins,
)
from analysis.find.curves.pass_table import bins_within
from analysis.findings import OrderCurve
from analysis.verdicts import Verdict
from tests.analysis.made_findings import (
    amplified_curve,
    drone_ms,
    grid,
    make_band,
    make_curve,
    make_findings,
)

RPM = grid(1800.0, 2800.0)
PEAK = 2240.0
BAND = make_band(3.0, PEAK)

curves = st.builds(
    lambda seed, passes, noise_db, spread_db: make_curve(
        3.0,
        drone_ms(RPM, PEAK),
        RPM,
        passes=passes,
        background_ms=float(10.0 ** (noise_db / 10.0)),
        pass_spread_db=spread_db,
        frames_per_bin=4,
        rng=np.random.default_rng(seed),
    ),
    st.integers(0, 2**32 - 1),
    st.integers(1, 4),
    st.floats(-90.0, -50.0),
    st.floats(0.0, 2.0),
)


def over_band(before: OrderCurve, after: OrderCurve) -> LevelChange:
    return change_in_bins(before, after, bins_within(BAND.low_rpm, BAND.high_rpm))


@given(curve=curves)
@settings(max_examples=40)
def test_a_drive_against_itself_has_not_changed(curve: OrderCurve) -> None:
    before, after = (
        make_findings([each], [BAND]) for each in (curve, amplified_curve(curve, 1e-9))
    )
    (change,) = compare_drives(before, after).changes
    # a stretch by a bin is hardly worse, so weather is allowed for by a little
    assert change.level_change_db == pytest.approx(0.0, abs=0.3)
    assert change.ci95_db.low < 0.0 < change.ci95_db.high
    wide = change.ci95_db.high - change.ci95_db.low > 8.0  # passes of up to 2 dB spread
    assert change.verdict is (Verdict.CANNOT_TELL if wide else Verdict.UNCHANGED)


@given(before=curves, after=curves, gain_db=st.floats(-30.0, 30.0))
@settings(max_examples=40)
def test_swapping_flips_the_sign_and_a_common_gain_changes_nothing(
    before: OrderCurve, after: OrderCurve, gain_db: float
) -> None:
    change = over_band(before, after)
    swapped = over_band(after, before)
    assert swapped.change_db == -change.change_db
    assert swapped.ci95_db.low == pytest.approx(-change.ci95_db.high, abs=1e-9)
    assert swapped.ci95_db.high == pytest.approx(-change.ci95_db.low, abs=1e-9)
    louder = over_band(amplified_curve(before, gain_db), amplified_curve(after, gain_db))
    assert louder.change_db == pytest.approx(change.change_db, abs=1e-6)
    assert louder.ci95_db.low == pytest.approx(change.ci95_db.low, abs=1e-6)
    assert louder.ci95_db.high == pytest.approx(change.ci95_db.high, abs=1e-6)


@given(curve=curves, gain_db=st.floats(-20.0, 20.0))
@settings(max_examples=40)
def test_a_gain_on_one_drive_is_the_change(curve: OrderCurve, gain_db: float) -> None:
    change = over_band(curve, amplified_curve(curve, gain_db))
    assert change.change_db == pytest.approx(gain_db, abs=1e-6)


@given(curve=curves, lingered=st.floats(1.5, 50.0))
@settings(max_examples=20)
def test_lingering_at_one_speed_does_not_bias(curve: OrderCurve, lingered: float) -> None:
    longer = np.where(np.abs(curve.rpm / PEAK - 1.0) < 0.02, lingered, 1.0)
    slow = replace(curve, seconds=curve.seconds * longer)
    assert over_band(curve, slow).change_db == pytest.approx(0.0, abs=1e-9)


PAIRS = 200
CLEAN_MS, NOISY_MS = 1e-7, 3e-5
DAY_DB = DAY_SPREAD_DB / np.sqrt(2.0)  # how far each of two days strays, as assumed


def pair_of_drives(
    decibels: float, passes: int, noise_ms: float, rng: np.random.Generator
) -> LevelChange:
    """Compare two drives with spread between passes and days as assumed."""
    before_ms = drone_ms(RPM, PEAK)
    evenness = PASS_SPREAD_TRUST / rng.chisquare(PASS_SPREAD_TRUST)  # drivers differ
    days_db = DAY_DB * rng.standard_normal(2)  # each drive has a day of its own
    after_ms = before_ms * 10.0 ** ((decibels + days_db[1] - days_db[0]) / 10.0)
    pair = (
        make_curve(
            3.0,
            values,
            RPM,
            passes=passes,
            background_ms=noise_ms,
            pass_spread_db=PASS_SPREAD_DB * float(np.sqrt(evenness)),
            frames_per_bin=2,
            rng=rng,
        )
        for values in (before_ms, after_ms)
    )
    return over_band(*pair)


@pytest.mark.parametrize(
    ("passes", "noise_ms"), [(1, CLEAN_MS), (2, NOISY_MS), (3, CLEAN_MS), (6, NOISY_MS)]
)
def test_interval_holds_the_truth_as_often_as_it_says(passes: int, noise_ms: float) -> None:
    """Spread between passes and days as assumed; a tone 8 to 30 dB over its noise, and a cut.

    Of 200 honest 95 % intervals fewer than ``binom.ppf(0.001, 200, 0.95)`` = 180 hold the truth
    once in a thousand times, and more than 198 as seldom. Where noise counts there is no bound
    above: what it makes is put in on the safe side.
    """
    rng = np.random.default_rng(7)
    true_db = rng.uniform(-12.0, 3.0, PAIRS)
    held = 0
    for decibels in true_db:
        interval = pair_of_drives(float(decibels), passes, noise_ms, rng).ci95_db
        held += interval.low <= decibels <= interval.high
    assert held >= binom.ppf(0.001, PAIRS, 0.95)
    if noise_ms == CLEAN_MS:
        assert held <= binom.ppf(0.999, PAIRS, 0.95)


@pytest.mark.parametrize(("passes", "noise_ms"), [(1, NOISY_MS), (2, CLEAN_MS), (6, NOISY_MS)])
def test_with_nothing_changed_few_pairs_seem_to_change_by_more(
    passes: int, noise_ms: float
) -> None:
    """At most 5 of 100, so of 200 more than ``binom.ppf(0.999, 200, 0.05)`` = 20 once in 1000."""
    rng = np.random.default_rng(11)
    above = sum(
        not abs(change.change_db) <= change.smallest_change_db
        for change in (pair_of_drives(0.0, passes, noise_ms, rng) for _ in range(PAIRS))
    )
    assert above <= binom.ppf(0.999, PAIRS, 0.05)


def test_a_cure_does_not_make_drives_show_less() -> None:
    """What they can show is told by how they were driven, not by what came out."""
    same, cured = (
        pair_of_drives(decibels, 2, 3e-5, np.random.default_rng(5)) for decibels in (0.0, -40.0)
    )
    assert cured.after_buried
    assert cured.smallest_change_db == pytest.approx(same.smallest_change_db, rel=0.3)


def test_drives_that_drown_the_drone_show_no_change() -> None:
    assert np.isnan(pair_of_drives(0.0, 1, 10.0, np.random.default_rng(5)).smallest_change_db)


def test_more_passes_make_the_interval_shorter() -> None:
    rng = np.random.default_rng(3)

    def width(passes: int) -> float:
        widths = []
        for _ in range(20):
            before, after = (
                make_curve(
                    3.0, drone_ms(RPM, PEAK), RPM, passes=passes, pass_spread_db=0.7, rng=rng
                )
                for _ in range(2)
            )
            bins = bins_within(BAND.low_rpm, BAND.high_rpm)
            interval = change_in_bins(before, after, bins, between_drives_db=0.0).ci95_db
            widths.append(interval.high - interval.low)
        return float(np.mean(widths))

    one, three, eight = width(1), width(3), width(8)
    assert one > 1.1 * three
    assert three > 1.1 * eight
