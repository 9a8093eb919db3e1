"""A microphone that colours the sound is corrected: levels are those of the sound itself."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import freqz, lfilter

from analysis.basics.arrays import FloatArray
from analysis.drive import Drive, Sound
from analysis.errors import DriveError
from analysis.find.drone import find_drone
from analysis.find.sound.level_map import levels_by_speed
from analysis.find.sound.order_tracking import OrderFrames, order_spectra, track_orders
from analysis.find.sound.response_filter import flattened, response_db
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.working_copy import WorkingCopy
from analysis.findings import Findings, LevelMap, OverallCurve
from tests.drives import DriveSpec, GeneratedDrive, generate

WITHIN_DB = 0.2
RATE_HZ = 4000.0
TILT = ((20.0, -10.0), (50.0, -6.0), (120.0, -2.0), (400.0, 0.0), (2000.0, 1.5))


def filtered(samples: FloatArray, response: tuple[tuple[float, float], ...]) -> FloatArray:
    blocks = iter(np.split(samples.astype(np.float32), [100, 100, 5000]))
    return np.concatenate(list(flattened(blocks, RATE_HZ, response))).astype(np.float64)


def test_between_points_it_runs_straight_over_the_logarithm() -> None:
    two = ((10.0, 2.0), (1000.0, -4.0))
    np.testing.assert_allclose(response_db(two, [0.0, 10.0, 100.0, 1e3, 9e3]), [2, 2, -1, -4, -4])


@settings(max_examples=40)
@given(
    st.lists(st.floats(-10.0, 10.0), min_size=2, max_size=6),
    st.floats(30.0, 1200.0),
)
def test_a_tone_changes_by_the_response_and_keeps_its_place(
    response: list[float], frequency_hz: float
) -> None:
    points = tuple(zip(np.geomspace(20.0, 1500.0, len(response)), response, strict=True))
    time_s = np.arange(12_000) / RATE_HZ
    tone = np.exp(2j * np.pi * frequency_hz * time_s)
    out = filtered(tone.real, points)
    assert out.size == time_s.size
    inner = slice(2000, -2000)
    window = np.hanning(8000)
    before = np.vdot(tone[inner], window * tone.real[inner])
    ratio = np.vdot(tone[inner], window * out[inner]) / before
    wanted_db = -float(response_db(points, frequency_hz))
    # Between the points the curve has corners, which the filter rounds.
    assert 20.0 * np.log10(abs(ratio)) == pytest.approx(wanted_db, abs=WITHIN_DB)
    assert abs(np.angle(ratio)) < 1e-3


@settings(max_examples=30)
@given(st.integers(0, 2**32 - 1), st.lists(st.integers(0, 3000), min_size=1, max_size=8))
def test_blocks_joined_are_the_whole(seed: int, sizes: list[int]) -> None:
    samples = np.random.default_rng(seed).normal(size=sum(sizes)).astype(np.float32)
    parts = np.split(samples, np.cumsum(sizes)[:-1])
    at_once, joined = (
        np.concatenate([np.empty(0), *flattened(iter(blocks), RATE_HZ, TILT)])
        for blocks in ([samples], parts)
    )
    assert joined.size == at_once.size == samples.size
    assert np.abs(joined - at_once).max(initial=0.0) < 1e-5


def test_no_response_gives_the_very_same_samples() -> None:
    blocks = iter([np.zeros(3, dtype=np.float32)])
    assert flattened(blocks, RATE_HZ, ()) is blocks


@pytest.mark.parametrize(
    "response",
    [
        ((50.0, 0.0), (50.0, 1.0)),
        ((0.0, 0.0), (50.0, 1.0)),
        ((20.0, float("nan")), (50.0, 1.0)),
        ((20.0, 1.0), (float("inf"), 1.0)),
    ],
)
def test_a_senseless_response_is_refused(response: tuple[tuple[float, float], ...]) -> None:
    sound = replace(Sound.from_array(np.ones(9), RATE_HZ), response=response)
    with pytest.raises(DriveError, match="response"):
        WorkingCopy(sound, lambda part: None)


# --- a whole drive ------------------------------------------------------------------------------


def thin_microphone(rate_hz: float) -> tuple[FloatArray, FloatArray]:
    """Coefficients of a shelf: 6 dB down at 50 Hz, 10 dB below; flat from 400 Hz up.

    The bilinear transform of (s + z) / (s + p), p > z.
    """
    zero, pole = 2.0 * np.pi * 32.0, 2.0 * np.pi * 101.0
    double = 2.0 * rate_hz
    return (
        np.array([double + zero, zero - double]) / (double + pole),
        np.array([1.0, (pole - double) / (double + pole)]),
    )


def through_thin_microphone(made: GeneratedDrive) -> Drive:
    """The drive as such a microphone records it, with its response in thirds of an octave."""
    top, bottom = thin_microphone(made.sample_rate_hz)
    thirds_hz = 10.0 ** np.arange(1.0, 3.55, 0.1)
    _, shown = freqz(top, bottom, worN=thirds_hz, fs=made.sample_rate_hz)
    shown_db = 20.0 * np.log10(np.abs(shown))
    assert np.interp(50.0, thirds_hz, shown_db) == pytest.approx(-6.0, abs=0.5)
    drive = made.drive()
    assert drive.sound is not None
    thin = Sound.from_array(
        lfilter(top, bottom, made.samples.astype(np.float64)),
        made.sample_rate_hz,
        full_scale_db_spl=drive.sound.full_scale_db_spl,
    )
    response = tuple(zip(thirds_hz.tolist(), shown_db.tolist(), strict=True))
    return replace(drive, sound=replace(thin, response=response))


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Everything the analysis takes levels from, at the same moments and engine speeds."""

    frames: OrderFrames
    picture: LevelMap
    overall: OverallCurve
    findings: Findings


def levels_of(drive: Drive, track: SpeedTrack) -> Levels:
    assert drive.sound is not None
    with WorkingCopy(drive.sound, lambda part: None) as copy:
        levels = levels_by_speed(copy, track, 0.0, lambda part: None)
        return Levels(
            frames=track_orders(order_spectra(copy, track)),
            picture=levels.picture,
            overall=levels.overall,
            findings=find_drone(drive),
        )


@pytest.fixture(scope="module")
def both() -> tuple[Levels, Levels, Levels]:
    """A true microphone, a thin one with its response, and the thin one without."""
    made = generate(DriveSpec(), seed=5)
    thin = through_thin_microphone(made)
    assert thin.sound is not None
    untold = replace(thin, sound=replace(thin.sound, response=()))
    track = SpeedTrack(start_s=0.0, step_s=0.02, rpm=made.truth.rpm[::2])
    true, told, untold_levels = (levels_of(each, track) for each in (made.drive(), thin, untold))
    return true, told, untold_levels


def test_orders_get_the_level_of_a_true_microphone(both: tuple[Levels, Levels, Levels]) -> None:
    true, told, untold = (each.frames for each in both)
    loudest_ms = true.total_ms.max(axis=1, keepdims=True)
    clear = (true.total_ms > 10.0 * true.background_ms) & (true.total_ms > 1e-3 * loudest_ms)
    assert np.count_nonzero(clear) > 1500
    off_db = 10.0 * np.log10(told.total_ms[clear] / true.total_ms[clear])
    assert np.abs(off_db).max() < WITHIN_DB
    untold_off_db = 10.0 * np.log10(untold.total_ms[clear] / true.total_ms[clear])
    assert np.abs(untold_off_db).max() > 3.0  # the check above can fail


def test_map_and_overall_levels_too(both: tuple[Levels, Levels, Levels]) -> None:
    true, told, _ = both
    for name in ("level_z_db", "level_c_db", "level_a_db"):
        np.testing.assert_allclose(
            getattr(told.overall, name), getattr(true.overall, name), atol=WITHIN_DB
        )
    heard = true.picture.frequency_hz >= 20.0
    level_db = true.picture.level_db[:, heard]
    off_db = told.picture.level_db[:, heard] - level_db
    clear = level_db > level_db.max(axis=1, keepdims=True) - 30.0
    assert np.abs(off_db[clear]).max() < WITHIN_DB


def test_the_bands_found_are_those_of_a_true_microphone(
    both: tuple[Levels, Levels, Levels],
) -> None:
    true, told, untold = (each.findings for each in both)
    assert len(true.bands) == len(told.bands) >= 1
    for one, other in zip(true.bands, told.bands, strict=True):
        assert other.level_db == pytest.approx(one.level_db, abs=WITHIN_DB)
        assert other.rise_db == pytest.approx(one.rise_db, abs=WITHIN_DB)
        assert other.peak_hz == pytest.approx(one.peak_hz, rel=0.001)
    assert untold.bands[0].level_db < true.bands[0].level_db - 1.0
    assert (true.is_flattened, told.is_flattened, untold.is_flattened) == (False, True, False)
