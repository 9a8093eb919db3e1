"""The drone as it should sound: what is turned down, by how much, and what is left alone."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from analysis.branches import LevelCurves
from analysis.drive import Drive, Engine, Sound
from analysis.findings import EngineSpeed
from analysis.listen.stretch import RATE_HZ, droning_stretch
from analysis.listen.with_branches import listening, turned_down
from tests.analysis.report.found_examples import band, findings
from tests.analysis.report.sized_examples import sizing

CARD_HZ = 16_000.0
LOW_RPM, HIGH_RPM, LONG_S = 1500.0, 3000.0, 40.0
ORDER, OTHER = 3.0, 1.5


def sweep() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Time and engine speed of one even climb through the drone."""
    time_s = np.arange(int(LONG_S * CARD_HZ)) / CARD_HZ
    return time_s, LOW_RPM + (HIGH_RPM - LOW_RPM) * time_s / LONG_S


def drive(noise: float = 0.0, gaps_s: tuple[tuple[float, float], ...] = ()) -> Drive:
    time_s, rpm = sweep()
    turns = np.cumsum(rpm / 60.0) / CARD_HZ
    samples = 0.2 * np.sin(2.0 * np.pi * ORDER * turns) + 0.05 * np.sin(2.0 * np.pi * OTHER * turns)
    samples += noise * np.random.default_rng(3).standard_normal(samples.size)
    return Drive(
        name="drive",
        engine=Engine(cylinders=6),
        sound=replace(Sound.from_array(samples, CARD_HZ), gaps_s=gaps_s),
        telemetry=pd.DataFrame({"time_s": time_s[::8000], "rpm": rpm[::8000]}),
    )


def speed() -> EngineSpeed:
    time_s, rpm = (each[::800] for each in sweep())
    return EngineSpeed(
        time_s=time_s, rpm=rpm, sigma_part=np.zeros(rpm.size), gear_index=np.zeros(rpm.size)
    )


def quieter_by(change_db: float, from_hz: float, to_hz: float) -> LevelCurves:
    """A prediction that changes frequencies from here to there by so much, and no others."""
    rpm = np.arange(500.0, 8000.0, 5.0)
    hz = ORDER * rpm / 60.0
    after = np.where((hz > from_hz) & (hz < to_hz), change_db, 0.0)
    return LevelCurves(rpm=rpm, before_db=np.zeros(rpm.size), after_db=after, after_worst_db=after)


def level_db(samples: NDArray[np.float64], rpm: NDArray[np.float64], order: float) -> float:
    """Level along an order by a single Fourier sum over the whole stretch."""
    turns = np.cumsum(rpm / 60.0) / RATE_HZ
    return float(20.0 * np.log10(abs(np.mean(samples * np.exp(-2j * np.pi * order * turns)))))


def stretch_of(made: Drive) -> tuple[NDArray[np.float64], NDArray[np.float64], object]:
    assert made.sound is not None
    stretch = droning_stretch(made.sound, speed(), band())
    assert stretch is not None
    return stretch.samples, stretch.rpm, stretch


def test_the_stretch_is_where_the_engine_drones() -> None:
    _, rpm, _ = stretch_of(drive())
    assert rpm.mean() == pytest.approx(band().peak_rpm, rel=0.02)


def test_a_stretch_with_lost_sound_is_not_taken() -> None:
    peak_s = (band().peak_rpm - LOW_RPM) / (HIGH_RPM - LOW_RPM) * LONG_S
    made = drive(gaps_s=((peak_s - 0.1, peak_s + 0.1),))
    assert made.sound is not None
    stretch = droning_stretch(made.sound, speed(), band())
    assert stretch is None or not stretch.start_s < peak_s < stretch.start_s + 10.0


@pytest.mark.parametrize("change_db", [-6.0, -20.0])
def test_the_order_gets_quieter_by_what_was_predicted(change_db: float) -> None:
    samples, rpm, stretch = stretch_of(drive())
    after = turned_down(stretch, quieter_by(change_db, 80.0, 300.0), ORDER)  # type: ignore[arg-type]
    inner = slice(4000, -4000)
    changed = level_db(after[inner], rpm[inner], ORDER) - level_db(
        samples[inner], rpm[inner], ORDER
    )
    assert changed == pytest.approx(change_db, abs=0.5)
    left = level_db(after[inner], rpm[inner], OTHER) - level_db(samples[inner], rpm[inner], OTHER)
    assert left == pytest.approx(0.0, abs=0.3)  # its frequency lies below


def test_another_order_at_the_same_frequency_is_changed_alike() -> None:
    samples, rpm, stretch = stretch_of(drive())
    after = turned_down(stretch, quieter_by(-12.0, 30.0, 70.0), ORDER)  # type: ignore[arg-type]
    inner = slice(4000, -4000)
    changed = level_db(after[inner], rpm[inner], OTHER) - level_db(
        samples[inner], rpm[inner], OTHER
    )
    assert changed == pytest.approx(-12.0, abs=0.5)


def test_noise_is_left_as_it_was() -> None:
    quiet, loud = (
        turned_down(stretch_of(drive(noise))[2], quieter_by(-20.0, 60.0, 300.0), ORDER)  # type: ignore[arg-type]
        for noise in (0.0, 0.1)
    )
    noise = loud - quiet
    assert noise.std() == pytest.approx(0.1 * np.sqrt(RATE_HZ / CARD_HZ), rel=0.05)


def test_both_pieces_are_on_one_scale() -> None:
    found = replace(findings(band()), engine_speed=speed())
    heard = listening(drive(), found, sizing())
    assert heard is not None
    assert heard.as_recorded.size == heard.with_branches.size == 10 * RATE_HZ
    assert np.abs(heard.as_recorded).max() == pytest.approx(0.7)
    assert heard.with_branches.std() < heard.as_recorded.std()


def test_without_sound_or_a_drone_there_is_nothing_to_hear() -> None:
    found = replace(findings(band()), engine_speed=speed())
    assert listening(replace(drive(), sound=None), found, sizing()) is None
    assert listening(drive(), replace(found, bands=()), sizing()) is None
