"""Gaps in the sound are left out: what was heard beside them gives the same bands."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.errors import DriveError
from analysis.find.drone import find_drone
from analysis.find.sound.gaps import SoundGaps
from analysis.findings import DroneBand, Findings
from tests.analysis.made_drives import RATE_HZ, copy_of, drive_of, orders_sound, rows, wandering
from tests.drives import DriveSpec, GeneratedDrive, Leg, generate
from tests.drives.faults import with_clipping, with_sound_gaps

PEAK_WITHIN, RISE_WITHIN_DB = 0.005, 1.0
TWICE_UP_AND_DOWN = (
    Leg(duration_s=3.0, end_rpm=1100.0, gear=3, load=0.6),
    Leg(duration_s=22.0, end_rpm=3800.0, gear=3),
    Leg(duration_s=22.0, end_rpm=1100.0, gear=3, load=0.8),
    Leg(duration_s=22.0, end_rpm=3800.0, gear=3),
    Leg(duration_s=22.0, end_rpm=1100.0, gear=3, load=0.8),
    Leg(duration_s=3.0, end_rpm=1100.0, gear=3, load=0.6),
)


@pytest.fixture(scope="module")
def made() -> GeneratedDrive:
    return generate(DriveSpec(legs=TWICE_UP_AND_DOWN), 5)


@pytest.fixture(scope="module")
def whole(made: GeneratedDrive) -> Findings:
    return find_drone(made.drive())


def through_the_drone(made: GeneratedDrive, lasting_s: float) -> tuple[float, float]:
    """A gap about the moment at which the engine first passes the drone's peak."""
    first = int(np.flatnonzero(made.truth.rpm > made.truth.bands[0].peak_rpm)[0])
    at_s = float(made.truth.time_s[first])
    return at_s - 0.5 * lasting_s, at_s + 0.5 * lasting_s


def codes(findings: Findings) -> set[str]:
    return {doubt.code for doubt in findings.warnings}


def is_as(band: DroneBand, other: DroneBand) -> bool:
    return (
        band.engine_order == other.engine_order
        and abs(band.peak_hz / other.peak_hz - 1.0) < PEAK_WITHIN
        and abs(band.rise_db - other.rise_db) < RISE_WITHIN_DB
    )


def same_bands(findings: Findings, whole: Findings) -> bool:
    return len(findings.bands) == len(whole.bands) and all(
        any(is_as(band, other) for other in findings.bands) for band in whole.bands
    )


@pytest.mark.parametrize("lasting_s", [0.3, 2.0, 20.0])
def test_a_gap_at_the_drone_changes_nothing(
    made: GeneratedDrive, whole: Findings, lasting_s: float
) -> None:
    lossy = with_sound_gaps(made, through_the_drone(made, lasting_s))
    findings = find_drone(lossy.drive())
    assert same_bands(findings, whole)
    assert codes(findings) == codes(whole) | {"sound_gap"}
    assert findings.telemetry_delay is not None
    assert whole.telemetry_delay is not None
    assert findings.telemetry_delay.delay_s == pytest.approx(
        whole.telemetry_delay.delay_s, abs=0.02
    )


def test_unlisted_the_same_silence_spoils_the_bands() -> None:
    """What the listing is for: taken for sound, the silence moves or makes bands."""
    once = generate(DriveSpec(), 7)  # one sweep up and one down
    whole = find_drone(once.drive())
    for lasting_s in (2.0, 20.0):
        lossy = with_sound_gaps(once, through_the_drone(once, lasting_s))
        assert same_bands(find_drone(lossy.drive()), whole)
        assert not same_bands(find_drone(replace(lossy, sound_gaps_s=()).drive()), whole)


def test_many_short_gaps_change_nothing(made: GeneratedDrive, whole: Findings) -> None:
    """0.1 s lost every 5 s, as on a laptop that is too busy."""
    starts_s = np.arange(2.0, made.spec.duration_s - 1.0, 5.0)
    lossy = with_sound_gaps(made, *((start, start + 0.1) for start in starts_s))
    findings = find_drone(lossy.drive())
    assert same_bands(findings, whole)
    message = next(doubt.message for doubt in findings.warnings if doubt.code == "sound_gap")
    assert f"{starts_s.size} stretches, {0.1 * starts_s.size:.1f} s" in message


def test_gaps_at_both_ends(made: GeneratedDrive, whole: Findings) -> None:
    """Half of the first climb and half of the last fall."""
    end_s = made.spec.duration_s
    findings = find_drone(with_sound_gaps(made, (0.0, 14.0), (end_s - 14.0, end_s)).drive())
    assert same_bands(findings, whole)
    assert "sound_gap" in codes(findings)


def test_nine_tenths_lost_makes_no_false_band(made: GeneratedDrive) -> None:
    end_s = made.spec.duration_s
    findings = find_drone(with_sound_gaps(made, (0.1 * end_s, end_s)).drive())
    assert all(
        any(
            truth.engine_order == band.engine_order
            and abs(band.peak_hz / truth.peak_hz - 1.0) < 0.02
            for truth in made.truth.bands
        )
        for band in findings.bands
    )
    message = next(doubt.message for doubt in findings.warnings if doubt.code == "sound_gap")
    assert "driven only during them" in message
    assert findings.duration_s == pytest.approx(end_s, abs=0.01)


def test_all_lost_is_refused_in_one_line(made: GeneratedDrive) -> None:
    lossy = with_sound_gaps(made, (1.0, made.spec.duration_s))
    with pytest.raises(DriveError, match=r"s of its sound were lost, so drive again$"):
        find_drone(lossy.drive())


def test_sound_in_pieces_too_short_for_anything_is_refused() -> None:
    rpm = wandering(20.0, seed=1)
    drive = drive_of(orders_sound(rpm, noise=0.002), rows(rpm))
    assert drive.sound is not None
    gaps_s = tuple((float(at), float(at) + 0.05) for at in np.arange(0.0, 20.0, 0.2))
    with pytest.raises(DriveError, match="lost"):
        find_drone(replace(drive, sound=replace(drive.sound, gaps_s=gaps_s)))


def test_gaps_say_nothing_of_clipping_gain_or_a_weak_signal(made: GeneratedDrive) -> None:
    """Half the drive is lost; the rest is as clipped, and as loud, as before."""
    clipped = with_clipping(made, 0.5)
    half_s = 0.5 * made.spec.duration_s
    with copy_of(
        clipped.samples[: round(half_s * made.sample_rate_hz)].astype(np.float64), 8000.0
    ) as copy:
        share = copy.facts.clipped_fraction
    findings = find_drone(with_sound_gaps(clipped, (half_s, 2.0 * half_s)).drive())
    (doubt,) = (doubt for doubt in findings.warnings if doubt.code == "clipped_audio")
    assert float(doubt.message.split(" %")[0]) == pytest.approx(100.0 * share, rel=0.01)
    assert not codes(findings) & {"automatic_gain", "low_signal", "telemetry_gap"}


gap_lists = st.lists(
    st.tuples(st.floats(-5.0, 105.0), st.floats(0.0, 20.0)).map(lambda g: (g[0], g[0] + g[1])),
    max_size=6,
)


@given(gap_lists, st.floats(0.0, 100.0), st.floats(0.0, 10.0))
def test_touch_is_what_a_fine_look_says(
    gaps_s: list[tuple[float, float]], from_s: float, lasting_s: float
) -> None:
    """Against each gap in turn, as it was given."""
    gaps = SoundGaps.between(gaps_s, 100.0, smeared_s=0.01)
    to_s = from_s + lasting_s
    inside = [(max(a, 0.0), min(b, 100.0)) for a, b in gaps_s if b > 0.0 and a < 100.0 and b > a]
    expected = any(a - 0.01 < to_s and b + 0.01 > from_s for a, b in inside)
    assert bool(gaps.touch(np.array([from_s]), np.array([to_s]))[0]) == expected
    grid = np.arange(0.005, 100.0, 0.01)
    lost = np.zeros(grid.size, dtype=np.bool_)
    for a, b in inside:
        lost |= (grid > a) & (grid < b)
    assert gaps.lost_s == pytest.approx(0.01 * np.count_nonzero(lost), abs=0.15)


def test_level_map_leaves_gaps_out() -> None:
    """A gap in a steady sound leaves the level as it is."""
    steady = np.full(round(20.0 * RATE_HZ), 2000.0)
    sound = orders_sound(steady, noise=0.002)
    quiet = sound.copy()
    quiet[round(5.0 * RATE_HZ) : round(15.0 * RATE_HZ)] = 0.0
    lossy = drive_of(quiet, rows(steady))
    assert lossy.sound is not None
    lossy = replace(lossy, sound=replace(lossy.sound, gaps_s=((5.0, 15.0),)))
    before = find_drone(drive_of(sound, rows(steady)))
    after = find_drone(lossy)
    assert after.overall.level_z_db == pytest.approx(before.overall.level_z_db, abs=0.01)
    assert after.overall.seconds.sum() < 0.52 * before.overall.seconds.sum()
    for curve, other in zip(after.curves, before.curves, strict=True):
        if curve.engine_order in (3.0, 6.0):
            mean_ms = [np.average(each.total_ms, weights=each.seconds) for each in (curve, other)]
            assert mean_ms[0] == pytest.approx(mean_ms[1], rel=0.001)
