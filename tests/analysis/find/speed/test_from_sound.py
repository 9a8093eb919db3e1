"""Engine speed from the sound alone, against drives whose engine speed is known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.basics.arrays import FloatArray, IntArray
from analysis.drive import Drive, Engine, Sound, SpeedHints
from analysis.errors import DriveError
from analysis.find.drone import find_drone
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.from_sound import Unlogged, speed_from_sound
from analysis.find.speed.speed_path import COST_OF_JUMP, COST_OF_STEP, best_path
from tests.drives import DriveSpec, GeneratedDrive, Leg, Resonator, Source, generate
from tests.drives.spec import CROSS_PLANE_BANK_DEG, even_fire

NO_ROWS = pd.DataFrame({"time_s": np.empty(0)})
LEGS = (
    Leg(duration_s=2.0, end_rpm=1100.0, gear=3, load=0.6),
    Leg(duration_s=20.0, end_rpm=3800.0, gear=3),
    Leg(duration_s=1.0, end_rpm=2700.0, gear=None, load=0.3),  # into the next gear
    Leg(duration_s=14.0, end_rpm=1300.0, gear=4, load=0.8),
)
SOURCES = {
    "four": Source(cylinders=4, firing_deg=even_fire(4)),
    "six": Source(),
    "eight": Source(cylinders=8, firing_deg=even_fire(8)),
    "unlike four": Source(
        cylinders=4, firing_deg=(0.0, 170.0, 368.0, 541.0), cylinder_imbalance=0.25
    ),
    "one bank of a V8": Source(cylinders=8, firing_deg=CROSS_PLANE_BANK_DEG),
}


@cache
def made(source: Source) -> GeneratedDrive:
    spec = DriveSpec(
        source=source, legs=LEGS, exhaust=(Resonator(frequency_hz=96.0, gain=3.0, q=8.0),)
    )
    return generate(spec, seed=5)


def heard(sound: Sound, cylinders: int, time_s: FloatArray) -> FloatArray:
    told: list[float] = []
    with WorkingCopy(sound, lambda part: None) as copy:
        track = speed_from_sound(
            copy, Unlogged(engine=Engine(cylinders=cylinders), telemetry=NO_ROWS), told.append
        )
    assert told[-1] == 1.0
    return track.at(time_s)


@pytest.mark.parametrize("name", list(SOURCES))
def test_speed_is_right_or_not_given(name: str) -> None:
    drive = made(SOURCES[name])
    sound = drive.drive().sound
    assert sound is not None
    time_s = np.arange(1.0, drive.spec.duration_s - 1.0, 0.05)
    off = heard(sound, drive.spec.source.cylinders, time_s) / np.interp(
        time_s, drive.truth.time_s, drive.truth.rpm
    )
    known = np.isfinite(off)
    assert known.mean() > 0.9
    assert (np.abs(off[known] - 1.0) < 0.01).mean() > 0.97


def test_the_drone_is_found_without_any_log() -> None:
    drive = made(SOURCES["six"])
    findings = find_drone(replace(drive.drive(), telemetry=NO_ROWS))
    truth = drive.truth.bands[0]
    assert findings.bands[0].engine_order == truth.engine_order
    assert findings.bands[0].peak_hz == pytest.approx(truth.peak_hz, rel=0.006)
    assert findings.telemetry_delay is None
    codes = [doubt.code for doubt in findings.warnings]
    assert "rpm_from_sound" in codes
    assert not {"telemetry_unaligned", "telemetry_gap"} & set(codes)


def drive_of(samples: FloatArray, engine: Engine | None) -> Drive:
    sound = Sound.from_array(samples.astype(np.float32), 8000.0)
    return Drive(name="noise", engine=engine, sound=sound, telemetry=NO_ROWS)


def noise(seconds: float) -> FloatArray:
    """Noise that falls by 6 dB an octave, as of a road."""
    rng = np.random.default_rng(4)
    walk = np.cumsum(rng.standard_normal(round(8000 * seconds)))
    walk -= np.convolve(walk, np.full(801, 1.0 / 801), mode="same")
    return np.asarray(0.05 * walk / walk.std())


@pytest.mark.parametrize("hum", [0.0, 0.002], ids=["noise alone", "a tone that stands still"])
def test_noise_and_hum_have_no_engine_speed(hum: float) -> None:
    """No engine of that firing order stays at one speed, of 100 Hz."""
    time_s = np.arange(8000 * 40) / 8000.0
    with pytest.raises(DriveError, match="the sound does not tell it"):
        find_drone(
            drive_of(noise(40.0) + hum * np.sin(200.0 * np.pi * time_s), Engine(cylinders=4))
        )


def test_notes_are_not_taken_for_a_drive() -> None:
    """A song gives lines at every harmonic, as an engine does, but keeps to its pitches."""
    time_s = np.arange(8000 * 60) / 8000.0
    # two, four and five semitones above 55 Hz, 2 s each; by definition of the scale
    pitch_hz = 55.0 * 2.0 ** (np.array([2.0, 4.0, 5.0])[(time_s // 2.0).astype(int) % 3] / 12.0)
    turns = np.cumsum(pitch_hz) / 8000.0
    song = sum(np.sin(2.0 * np.pi * number * turns) / number for number in range(1, 9))
    with pytest.raises(DriveError, match="few steady pitches"):
        find_drone(drive_of(0.2 * noise(60.0) + 0.05 * song, Engine(cylinders=4)))


def test_the_sound_is_whole_again_after_listening() -> None:
    """A hum is left out to listen; who looks for tones afterwards must find it."""
    drive = made(SOURCES["unlike four"])
    sound = drive.drive().sound
    assert sound is not None
    samples = np.concatenate(list(sound.read_blocks()))
    hum = 0.1 * np.sin(2.0 * np.pi * 120.0 * np.arange(samples.size) / sound.sample_rate_hz)
    with WorkingCopy(
        Sound.from_array((samples + hum).astype(np.float32), sound.sample_rate_hz),
        lambda part: None,
    ) as copy:
        before = copy.read(0, copy.frame_count)
        told = Unlogged(engine=Engine(cylinders=4), telemetry=NO_ROWS)
        track = speed_from_sound(copy, told, lambda part: None)
        np.testing.assert_array_equal(copy.read(0, copy.frame_count), before)
    time_s = np.arange(1.0, drive.spec.duration_s - 1.0, 0.05)
    off = track.at(time_s) / np.interp(time_s, drive.truth.time_s, drive.truth.rpm)
    assert abs(np.nanmedian(off) - 1.0) < 0.01


def test_a_moment_outside_of_the_sound_is_refused() -> None:
    drive = replace(
        drive_of(noise(5.0), Engine(cylinders=4)), hints=SpeedHints(rpm_at=((9.0, 2000.0),))
    )
    with pytest.raises(DriveError, match="9 s lies outside of the sound, which is 5 s long"):
        find_drone(drive)


def test_an_rpm_that_no_reading_fits_is_refused() -> None:
    drive = made(SOURCES["unlike four"])
    known = float(np.interp(15.0, drive.truth.time_s, drive.truth.rpm))
    hints = SpeedHints(rpm_at=((15.0, 1.23 * known),))
    with pytest.raises(DriveError, match="check --rpm-at and --cylinders"):
        find_drone(replace(drive.drive(), telemetry=NO_ROWS, hints=hints))


def test_an_rpm_at_a_moment_at_which_nothing_is_heard_is_refused() -> None:
    """Or it would speak against those readings only that heard something then."""
    drive = made(SOURCES["unlike four"])
    sound = drive.drive().sound
    assert sound is not None
    samples = np.concatenate(list(sound.read_blocks()))
    rate_hz = round(sound.sample_rate_hz)
    quiet = slice(14 * rate_hz, 18 * rate_hz)
    samples[quiet] = 1e-3 * np.random.default_rng(2).standard_normal(4 * rate_hz)
    hints = SpeedHints(rpm_at=((16.0, 2500.0),))
    deaf = replace(
        drive.drive(),
        sound=Sound.from_array(samples, rate_hz),
        telemetry=NO_ROWS,
        hints=hints,
    )
    with pytest.raises(DriveError, match="not heard well enough at 16 s"):
        find_drone(deaf)


def test_the_number_of_cylinders_is_asked_for() -> None:
    with pytest.raises(DriveError, match="--cylinders"):
        find_drone(drive_of(noise(5.0), None))


@settings(max_examples=40)
@given(
    st.integers(2, 12),
    st.integers(2, 30),
    st.integers(0, 2**32 - 1),
    st.lists(st.booleans(), min_size=12, max_size=12),
)
def test_the_path_is_the_best_of_all(
    frames: int, speeds: int, seed: int, joins: list[bool]
) -> None:
    """Against the plain dynamic programme that tries every step between two speeds."""
    score = np.random.default_rng(seed).uniform(0.0, 12.0, (frames, speeds)).astype(np.float32)
    joined = np.array(joins[:frames])
    steps = np.abs(np.arange(speeds)[:, np.newaxis] - np.arange(speeds))
    cost = np.minimum(COST_OF_STEP * steps, COST_OF_JUMP)

    def worth(path: IntArray) -> float:
        moves = cost[path[1:], path[:-1]] * joined[1:]
        return float(score[np.arange(frames), path].sum() - moves.sum())

    value = score[0].astype(np.float64)
    for frame in range(1, frames):
        value = score[frame] + (value[np.newaxis, :] - cost * joined[frame]).max(axis=1)
    assert worth(best_path(score, joined)) == pytest.approx(float(value.max()), abs=1e-4)
