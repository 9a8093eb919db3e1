"""Drives that no logger should make: one clear refusal, or findings that make sense.

Warnings are errors in this suite, so a stray division by zero fails these tests too.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.basics.arrays import FloatArray
from analysis.drive import Drive, Engine, Sound
from analysis.errors import DriveError
from analysis.find.bands.drone_bands import LEAST_RISE_DB
from analysis.find.drone import find_drone
from analysis.findings import Findings
from tests.analysis.made_drives import (
    RATE_HZ,
    SIX,
    drive_of,
    orders_sound,
    rows,
    there_and_back,
)

RPM = there_and_back(20.0, 1000.0, 4000.0)
SOUND = orders_sound(RPM, noise=0.002)
ROWS = rows(RPM)
TIMES = ROWS["time_s"].to_numpy()


def assert_sensible(findings: Findings) -> None:
    assert [curve.engine_order for curve in findings.curves]
    for band in findings.bands:
        low, high = findings.driven_rpm
        assert 0.93 * low < band.low_rpm < band.peak_rpm < band.high_rpm < 1.07 * high
        assert band.rise_db >= LEAST_RISE_DB
        assert np.isfinite(band.level_db)
        for name in ("peak_hz", "low_hz", "high_hz"):
            interval = getattr(band, f"{name}_ci95")
            assert interval.low <= getattr(band, name) <= interval.high
    for curve in findings.curves:
        assert np.isfinite(curve.total_ms).all()
        assert np.isfinite(curve.background_ms).all()
    overall = findings.overall
    assert (np.diff(overall.rpm) > 0.0).all()
    columns = np.stack([overall.level_z_db, overall.level_c_db, overall.level_a_db])
    assert np.isfinite(columns).any(axis=0).all()


def assert_findings_or_one_line(drive: Drive) -> None:
    refusal = ""
    try:
        assert_sensible(find_drone(drive))
    except DriveError as error:
        refusal = str(error)
    assert "\n" not in refusal


def changed(column: str, row: int, value: float) -> pd.DataFrame:
    values = ROWS[column].to_numpy(copy=True)
    values[row] = value
    return ROWS.assign(**{column: values})


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, 1e30])
def test_sound_that_is_no_sound(value: float) -> None:
    spoilt = SOUND.copy()
    spoilt[12_345] = value
    with pytest.raises(DriveError, match="export it again"):
        find_drone(drive_of(spoilt, ROWS))


def test_sound_without_samples_or_with_two_channels() -> None:
    with pytest.raises(DriveError, match="at least one sample"):
        Sound.from_array(np.empty(0), RATE_HZ)
    with pytest.raises(DriveError, match="one channel"):
        Sound.from_array(np.zeros((5, 2)), RATE_HZ)
    empty = Sound(sample_rate_hz=RATE_HZ, frame_count=0, read_blocks=lambda: iter(()))
    with pytest.raises(DriveError, match="no samples"):
        find_drone(Drive(name="x", engine=SIX, sound=empty, telemetry=ROWS))


@pytest.mark.parametrize("rate_hz", [0.0, -1.0, np.nan])
def test_no_sample_rate(rate_hz: float) -> None:
    with pytest.raises(DriveError, match="sample rate"):
        Sound.from_array(SOUND, rate_hz)


@pytest.mark.parametrize("rate_hz", [1.0, 100.0, 1e9, np.inf])
def test_sample_rate_of_no_sound_card(rate_hz: float) -> None:
    with pytest.raises(DriveError, match="samples per second"):
        find_drone(drive_of(SOUND, ROWS, rate_hz=rate_hz))


@pytest.mark.parametrize(
    ("telemetry", "says"),
    [
        (ROWS[["rpm"]], "no time_s column"),
        (ROWS[:1], "1 rows"),
        (ROWS.assign(rpm=0.0), "0 rows"),
        (ROWS.assign(rpm=-ROWS["rpm"]), "0 rows"),
        (ROWS.assign(rpm=1e9), "0 rows"),
        (ROWS.assign(rpm=ROWS["rpm"].astype(str)), "numbers are needed"),
        (changed("rpm", 30, np.inf), "row 31 has an infinite rpm"),
        (changed("time_s", 79, np.inf), "row 80 has no time"),
        (changed("time_s", 30, np.nan), "row 31 has no time"),
        (changed("time_s", 79, 1e12), "unit of the time column"),
        (ROWS.assign(time_s=np.floor(TIMES)), "must rise"),
        (ROWS.assign(time_s=5.0), "must rise"),
        (ROWS[::-1], "must rise"),
        (ROWS.sample(frac=1.0, random_state=0), "must rise"),
        (ROWS.assign(time_s=TIMES + 1000.0), "do not overlap"),
        (ROWS.assign(time_s=TIMES - 1000.0), "do not overlap"),
        (ROWS.assign(time_s=TIMES + 1.7e9), "do not overlap"),
        (ROWS.assign(time_s=TIMES + 100.0), "do not overlap"),
    ],
)
def test_telemetry_that_no_stage_could_use(telemetry: pd.DataFrame, says: str) -> None:
    with pytest.raises(DriveError, match=says):
        find_drone(drive_of(SOUND, telemetry))


@pytest.mark.parametrize("samples", [1, 3, 8000])
def test_too_short(samples: int) -> None:
    with pytest.raises(DriveError, match="same drive"):
        find_drone(drive_of(SOUND[:samples], ROWS[: max(2, samples // 1000)]))


@pytest.mark.parametrize("seconds", [4.0, 6.0, 8.0])
def test_a_few_seconds(seconds: float) -> None:
    """A fit over the delay has nothing to compare with, and says that it cannot tell."""
    cut = ROWS[ROWS["time_s"] < seconds]
    findings = find_drone(drive_of(SOUND[: round(seconds * RATE_HZ)], cut))
    assert_sensible(findings)
    assert "telemetry_unaligned" in {doubt.code for doubt in findings.warnings}


@pytest.mark.parametrize("size", [0.0, 1e-25])
def test_silence_is_low_signal_and_no_drone(size: float) -> None:
    findings = find_drone(drive_of(size * SOUND, ROWS))
    assert findings.bands == ()
    assert "low_signal" in {doubt.code for doubt in findings.warnings}


def test_a_channel_without_sound_names_another() -> None:
    drive = drive_of(1e-5 * SOUND / np.abs(SOUND).max(), ROWS)
    assert drive.sound is not None
    stereo = replace(drive, sound=replace(drive.sound, other_channels=(2,)))
    with pytest.raises(DriveError, match=r"channel 1 .* no sound .*-100 dB.* --channel 2$"):
        find_drone(stereo)


def test_sound_lost_for_a_while_makes_no_drone() -> None:
    """Orders of even size have no drone; and a hole of silence is no edge of one."""
    time_s = np.arange(SOUND.size) / RATE_HZ
    for hole in ((time_s > 4.0) & (time_s < 5.0), time_s < 10.0, (time_s > 4.0) & (time_s < 16.0)):
        findings = find_drone(drive_of(np.where(hole, 0.0, SOUND), ROWS))
        assert_sensible(findings)
        assert findings.bands == ()


@pytest.mark.parametrize("rpm", [302.0, 2000.0])
def test_engine_speed_that_never_changes(rpm: float) -> None:
    steady = np.full(SOUND.size, rpm)
    findings = find_drone(drive_of(orders_sound(steady, noise=0.002), rows(steady)))
    assert findings.bands == ()
    assert findings.telemetry_delay is None
    assert findings.driven_rpm == pytest.approx((rpm, rpm), rel=0.01)


def test_tone_of_a_machine_that_is_not_the_engine() -> None:
    """A constant tone is crossed by every order once, and belongs to none."""
    tone = 0.1 * np.sin(2.0 * np.pi * 100.0 * np.arange(SOUND.size) / RATE_HZ)
    findings = find_drone(drive_of(tone, ROWS))
    assert_sensible(findings)
    assert findings.bands == ()


def test_constant_pressure() -> None:
    """Its rounding is taken for many tones, each to be taken out: so only a short drive."""
    seconds = 5.0
    pressure = np.full(round(seconds * RATE_HZ), 0.1)
    findings = find_drone(drive_of(pressure, ROWS[seconds > TIMES]))
    assert_sensible(findings)
    assert findings.bands == ()


@pytest.mark.parametrize("slip_rpm", [0.0, -100.0, 65_535.0, 1e9])
def test_one_slip_of_the_logger_changes_nothing(slip_rpm: float) -> None:
    clean = find_drone(drive_of(SOUND, ROWS.drop(index=30)))
    slipped = find_drone(drive_of(SOUND, changed("rpm", 30, slip_rpm)))
    assert slipped.driven_rpm == clean.driven_rpm
    assert slipped.bands == clean.bands


def test_gaps_in_telemetry_are_said_and_left_out() -> None:
    findings = find_drone(drive_of(SOUND, ROWS[(ROWS["time_s"] % 8.0) < 4.0]))
    assert_sensible(findings)
    assert "telemetry_gap" in {doubt.code for doubt in findings.warnings}
    assert sum(findings.curves[0].seconds) < 12.0


@pytest.mark.parametrize("speed", [np.nan, 0.0, -10.0])
def test_road_speed_that_tells_no_gear(speed: float) -> None:
    findings = find_drone(drive_of(SOUND, ROWS.assign(road_speed_m_s=speed)))
    assert not (findings.engine_speed.gear_index >= 0.0).any()


def test_no_engine_is_fine_with_sound() -> None:
    assert find_drone(drive_of(SOUND, ROWS, engine=None)).engine is None


LEVELS = 60.0 + 10.0 * np.exp(-(((ROWS["rpm"].to_numpy() - 2000.0) / 150.0) ** 2))


def levels_drive(levels: FloatArray, telemetry: pd.DataFrame = ROWS) -> Drive:
    return Drive(name="old", engine=SIX, sound=None, telemetry=telemetry.assign(level_a_db=levels))


@pytest.mark.parametrize(
    ("drive", "says"),
    [
        (levels_drive(np.full(LEVELS.size, np.nan)), "neither sound nor a level"),
        (levels_drive(np.where(LEVELS > 65.0, np.inf, LEVELS)), "infinite level_a_db"),
        (levels_drive(np.where(LEVELS < 65.0, -np.inf, LEVELS)), "infinite level_a_db"),
        (levels_drive(1e5 * LEVELS), "unit of level_a_db"),
        (levels_drive(LEVELS[:19], ROWS[:19]), "19 rows"),
        (levels_drive(LEVELS, ROWS[::-1]), "must rise"),
        (levels_drive(LEVELS, ROWS.assign(time_s=np.floor(TIMES))), "must rise"),
        (replace(levels_drive(LEVELS), engine=None), "number of cylinders"),
        (Drive(name="x", engine=SIX, sound=None, telemetry=ROWS), "neither sound nor a level"),
        (
            Drive(
                name="x",
                engine=SIX,
                sound=None,
                telemetry=pd.concat(
                    [ROWS, pd.DataFrame({"time_s": TIMES + 1000.0, "level_a_db": LEVELS})]
                ),
            ),
            "never known at the same time",
        ),
    ],
)
def test_levels_that_cannot_be_used(drive: Drive, says: str) -> None:
    with pytest.raises(DriveError, match=says):
        find_drone(drive)


@pytest.mark.parametrize("levels", [np.full(LEVELS.size, 70.0), np.zeros(LEVELS.size)])
def test_levels_without_a_drone(levels: FloatArray) -> None:
    findings = find_drone(levels_drive(levels))
    assert findings.bands == ()
    assert findings.levels_only


@st.composite
def odd_drives(draw: st.DrawFn) -> Drive:
    """Short drives with every kind of oddity that still has the right shape."""
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    rate_hz = draw(st.sampled_from([1000.0, 4000.0, 8000.0, 11_025.0]))
    duration_s = draw(st.one_of(st.floats(4.0, 14.0), st.floats(0.01, 4.0)))
    low_rpm, high_rpm = draw(st.floats(800.0, 3000.0)), draw(st.floats(250.0, 9000.0))
    rpm = there_and_back(duration_s + 0.01, low_rpm, high_rpm, rate_hz)
    noise = draw(st.sampled_from([0.0, 1e-6, 0.01, 1.0]))
    sound = draw(st.sampled_from([0.0, 1e-9, 0.1, 3.0])) * orders_sound(
        rpm, noise=noise, rate_hz=rate_hz
    )
    if draw(st.booleans()):
        sound = np.where(rng.uniform(size=sound.size) < 0.3, 0.0, sound)
    if draw(st.booleans()):
        start = int(rng.integers(0, sound.size))
        sound[start : start + int(rng.integers(1, sound.size + 1))] = 0.0
    telemetry = rows(
        rpm,
        every_s=draw(st.sampled_from([0.05, 0.3, 1.0, 4.0])),
        delay_s=draw(st.sampled_from([0.0, 0.5, -3.0, 25.0])),
        step_rpm=draw(st.sampled_from([0.0, 25.0, 1000.0])),
        rate_hz=rate_hz,
    )
    if draw(st.booleans()):
        speed = rng.choice([-1.0, 0.0, 10.0, np.nan, 30.0], size=len(telemetry))
        telemetry["road_speed_m_s"] = speed
    if draw(st.booleans()):
        telemetry.loc[rng.uniform(size=len(telemetry)) < 0.3, "rpm"] = draw(
            st.sampled_from([np.nan, 0.0, -5.0, 16_383.75])
        )
    return Drive(
        name="odd",
        engine=Engine(
            cylinders=draw(st.integers(1, 12)), stroke_cycle=draw(st.sampled_from([2, 4]))
        ),
        sound=Sound.from_array(sound, rate_hz),
        telemetry=telemetry,
    )


@settings(max_examples=25)
@given(odd_drives())
def test_no_drive_of_the_right_shape_breaks_anything(drive: Drive) -> None:
    assert_findings_or_one_line(drive)


@settings(max_examples=12)
@given(
    st.integers(0, 2**32 - 1),
    st.integers(2, 150),
    st.sampled_from(["level_a_db", "level_c_db", "level_z_db"]),
    st.sampled_from([0.1, 0.25, 1.0, 5.0]),
)
def test_no_levels_break_anything(seed: int, count: int, column: str, every_s: float) -> None:
    rng = np.random.default_rng(seed)
    telemetry = pd.DataFrame(
        {
            "time_s": np.cumsum(every_s * rng.uniform(0.2, 1.8, size=count)),
            "rpm": rng.choice([np.nan, 0.0, 800.0, 2000.0, 6000.0], size=count)
            + 100.0 * rng.normal(size=count),
            column: rng.choice([np.nan, -100.0, 60.0, 120.0], size=count) + rng.normal(size=count),
        }
    )
    assert_findings_or_one_line(Drive(name="old", engine=SIX, sound=None, telemetry=telemetry))
