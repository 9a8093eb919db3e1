"""The whole of ``find`` on generated drives with known truth: what the project promises.

A band must be found when it was driven through whole, stands 12 dB out of the noise, is within
10 dB of the strongest order, and is a hill of 6 dB in the car's level itself. Where the promise is
a share, the share is said here.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom

from analysis.find.drone import find_drone
from analysis.find.sound.weighting import b_weighting_db
from analysis.findings import DroneBand, LockedTo
from tests.analysis.conftest import DRIVES, SAME_PLACE, FoundDrive
from tests.drives import TrueBand, generate, random_spec
from tests.drives.faults import with_automatic_gain, with_clipping, with_telemetry_gap

PEAK_WITHIN, ALMOST_ALL, NONE_BEYOND = 0.01, 0.95, 0.02
WIDTH_WITHIN, NO_WIDTH_BEYOND = 0.25, 0.4
DELAY_WITHIN_S = 0.060
FOUND_SHARE, INNER_FOUND_SHARE = 0.85, 0.95
INNER = 1.08  # a band this far (ratio) inside the swept range at both of its ends
ONE_IN_A_HUNDRED = 0.01
NEVER = {  # of a good drive
    "clipped_audio",
    "automatic_gain",
    "telemetry_unaligned",
    "levels_only",
    "wind_rumble",
    "speech",
    "microphone_roll_off",
    "steady_tone",
}


def pairs(drives: list[FoundDrive]) -> list[tuple[int, TrueBand, DroneBand]]:
    return [
        (drive.seed, truth, found)
        for drive in drives
        for truth in drive.must_be_found
        if (found := drive.found(truth)) is not None
    ]


def test_the_drives_are_as_many_and_mixed_as_promised(found_drives: list[FoundDrive]) -> None:
    assert DRIVES >= 30
    assert {drive.made.spec.source.cylinders for drive in found_drives} == {4, 6, 8}
    assert {drive.bands for drive in found_drives} == {0, 1, 2}
    rates = [drive.made.spec.telemetry.rate_hz for drive in found_drives]
    assert min(rates) < 1.5
    assert max(rates) > 15.0
    sweeps = [leg.duration_s for drive in found_drives for leg in drive.made.spec.legs[1::2]]
    assert min(sweeps) < 20.0
    assert max(sweeps) > 50.0
    assert sum(len(drive.must_be_found) for drive in found_drives) >= 50


def heard_db(band: TrueBand) -> float:
    return band.level_db + float(b_weighting_db(band.peak_hz))


def test_the_worst_band_is_found_in_its_right_order(found_drives: list[FoundDrive]) -> None:
    """The loudest true band as the ear weighs it; of two within 3 dB, either may come first.

    So may a louder one that is cut off by the end of the drive, and need not be found.
    """
    for drive in found_drives:
        wanted = drive.must_be_found
        if not wanted:
            continue
        assert drive.findings.bands, f"seed {drive.seed}: nothing found"
        loudest = max(map(heard_db, wanted))
        true = [band for band in drive.made.truth.bands if band.main]
        orders = {band.engine_order for band in true if heard_db(band) > loudest - 3.0}
        assert drive.findings.bands[0].engine_order in orders, f"seed {drive.seed}"


def test_nearly_all_bands_are_found(found_drives: list[FoundDrive]) -> None:
    """Not all: at the end of the driven range, and where two wide bands run into each other, an
    order can be missed. The share promised is 85 %, and 95 % of those well inside the range."""
    everywhere, inside = [], []
    for drive in found_drives:
        low_rpm, high_rpm = drive.made.spec.swept_rpm
        for truth in drive.must_be_found:
            seen = drive.found(truth) is not None
            everywhere.append(seen)
            if truth.low_rpm > INNER * low_rpm and truth.high_rpm < high_rpm / INNER:
                inside.append(seen)
    assert np.mean(everywhere) >= FOUND_SHARE
    assert len(inside) > 40
    assert np.mean(inside) >= INNER_FOUND_SHARE


def test_peak_within_one_percent(found_drives: list[FoundDrive]) -> None:
    """At least 95 % of bands within 1 %, and none beyond 2 %."""
    error = {
        (seed, truth.engine_order): abs(found.peak_hz / truth.peak_hz - 1.0)
        for seed, truth, found in pairs(found_drives)
    }
    assert np.mean(np.array(list(error.values())) <= PEAK_WITHIN) >= ALMOST_ALL, error
    assert max(error.values()) <= NONE_BEYOND, error


def test_width_within_a_quarter(found_drives: list[FoundDrive]) -> None:
    """At least 95 % of bands within 25 %, and none beyond 40 %."""
    error = {
        (seed, truth.engine_order): abs(
            (found.high_hz - found.low_hz) / (truth.high_hz - truth.low_hz) - 1.0
        )
        for seed, truth, found in pairs(found_drives)
    }
    assert np.mean(np.array(list(error.values())) <= WIDTH_WITHIN) >= ALMOST_ALL, error
    assert max(error.values()) <= NO_WIDTH_BEYOND, error


def test_no_false_band(found_drives: list[FoundDrive]) -> None:
    for drive in found_drives:
        if drive.bands == 0:
            assert drive.findings.bands == (), f"seed {drive.seed}"
        for found in drive.findings.bands:
            assert any(
                truth.engine_order == found.engine_order
                and abs(found.peak_hz / truth.peak_hz - 1.0) < SAME_PLACE
                for truth in drive.made.truth.bands
            ), f"seed {drive.seed}: order {found.engine_order:g} at {found.peak_hz:.1f} Hz"


def test_delay_within_60_ms(found_drives: list[FoundDrive]) -> None:
    for drive in found_drives:
        delay = drive.findings.telemetry_delay
        assert delay is not None, f"seed {drive.seed}"
        truth_s = drive.made.truth.telemetry_delay_s
        assert delay.delay_s == pytest.approx(truth_s, abs=DELAY_WITHIN_S), f"seed {drive.seed}"


def test_intervals_hold_the_truth(found_drives: list[FoundDrive]) -> None:
    """At least 90 % of the time, as far as so few drives can tell.

    Orders of one drive share a fit and err together, so what counts as one trial is a drive: were
    the true share 0.90, a share below the 1 % point of the binomial of that many trials would
    come up once in a hundred.
    """
    matched = pairs(found_drives)
    trials = len({seed for seed, _, _ in matched})
    least = binom.ppf(ONE_IN_A_HUNDRED, trials, 0.90) / trials
    assert trials > 20
    for name in ("peak_hz", "low_hz", "high_hz"):
        held = []
        for _, truth, found in matched:
            interval = getattr(found, f"{name}_ci95")
            held.append(interval.low <= getattr(truth, name) <= interval.high)
        assert np.mean(held) >= least, name


def test_intervals_are_narrow_enough_to_be_of_use(found_drives: list[FoundDrive]) -> None:
    def median_width(name: str) -> float:
        intervals = [getattr(found, f"{name}_ci95") for _, _, found in pairs(found_drives)]
        middle = [0.5 * (each.high + each.low) for each in intervals]
        size = [each.high - each.low for each in intervals]
        return float(np.median(np.array(size) / np.array(middle)))

    # as wide as recorded engines need, whose levels wander more than these drives' do
    assert median_width("peak_hz") < 0.04
    assert median_width("low_hz") < 0.08
    assert median_width("high_hz") < 0.08


def test_delay_intervals_hold_the_truth(found_drives: list[FoundDrive]) -> None:
    held, widths = [], []
    for drive in found_drives:
        delay = drive.findings.telemetry_delay
        assert delay is not None
        held.append(delay.ci95_s.low <= drive.made.truth.telemetry_delay_s <= delay.ci95_s.high)
        widths.append(delay.ci95_s.high - delay.ci95_s.low)
    assert sum(held) >= binom.ppf(ONE_IN_A_HUNDRED, len(held), 0.90)
    assert np.median(widths) < 2.0 * DELAY_WITHIN_S


def test_good_drives_raise_no_doubt_but_the_gear(found_drives: list[FoundDrive]) -> None:
    """One gear was driven in all of them; without a drone that leaves nothing open."""
    for drive in found_drives:
        codes = {doubt.code for doubt in drive.findings.warnings}
        assert ("one_gear_only" in codes) == bool(drive.findings.bands), f"seed {drive.seed}"
        assert not codes & NEVER, f"seed {drive.seed}"


def test_faults_are_noticed(found_drives: list[FoundDrive]) -> None:
    made = found_drives[0].made
    clipped = find_drone(with_clipping(made, 0.5).drive())
    assert "clipped_audio" in {doubt.code for doubt in clipped.warnings}
    levelled = find_drone(with_automatic_gain(made).drive())
    assert "automatic_gain" in {doubt.code for doubt in levelled.warnings}
    gap = find_drone(with_telemetry_gap(made, start_s=20.0, duration_s=8.0).drive())
    assert "telemetry_gap" in {doubt.code for doubt in gap.warnings}


@pytest.mark.parametrize("seed", [1, 3, 5])  # six, four and eight cylinders
def test_a_drone_of_the_engine_in_two_gears(seed: int) -> None:
    rng = np.random.default_rng([78, seed])
    spec = random_spec(rng, bands=1, engine=("4", "6", "8")[seed % 3], gears=2)
    findings = find_drone(generate(spec, seed).drive())
    assert findings.bands
    assert all(band.locked_to is LockedTo.ENGINE for band in findings.bands)
    assert "one_gear_only" not in {doubt.code for doubt in findings.warnings}


def test_a_boom_of_the_road_is_not_the_engines() -> None:
    """A shaft that turns with the wheels: order 2 in fourth gear and no half order in third.

    Promised: in at most one drive of eight a band is taken for the engine's, and most bands are
    seen to be the road's.
    """
    taken_for_engines: list[int] = []
    verdicts: list[LockedTo] = []
    for seed in range(0, 32, 4):
        rng = np.random.default_rng([78, seed])
        engine = ("4", "6", "8")[seed % 3]
        spec = random_spec(rng, bands=0, engine=engine, gears=2, road_drone=True)
        made = generate(spec, seed)
        bands = find_drone(made.drive()).bands
        booms_hz = [truth.peak_hz for truth in made.truth.road_bands]
        assert all(
            min(abs(band.peak_hz / hz - 1.0) for hz in booms_hz) < SAME_PLACE for band in bands
        )
        verdicts += [band.locked_to for band in bands]
        if LockedTo.ENGINE in verdicts[len(verdicts) - len(bands) :]:
            taken_for_engines.append(seed)
    assert len(taken_for_engines) <= 1, taken_for_engines
    assert np.mean([verdict is LockedTo.ROAD for verdict in verdicts]) > 0.5
