"""A tone that stays put while engine speed changes, and what must not be taken for one."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analysis.answers.documents import comparison_document
from analysis.compare.comparison import compare_drives
from analysis.compare.whistles import new_whistles
from analysis.find.sound.level_map import levels_by_speed
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.working_copy import WorkingCopy
from analysis.findings import Findings
from analysis.words.matching import whistle_words
from tests.analysis.made_pairs import BAND, BEFORE_MS
from tests.analysis.made_pairs import drive as made
from tests.drives import FixKind, GeneratedDrive, generate, random_spec
from tests.drives.generate import fixed_spec

WHISTLE_HZ = 331.0


@cache
def before(seed: int) -> GeneratedDrive:
    spec = random_spec(np.random.default_rng([66, seed]), bands=1, engine=("4", "6")[seed % 2])
    return generate(replace(spec, legs=spec.legs[:4]), seed)


@cache
def after(seed: int, kind: FixKind) -> GeneratedDrive:
    baseline = before(seed)
    spec = fixed_spec(baseline.spec, kind, baseline.truth.bands[0].peak_hz)
    return generate(spec, seed, outing=1)


def singing(drive: GeneratedDrive, size: float) -> GeneratedDrive:
    """A tone while the engine is between 1,900 and 2,700 rpm."""
    time_s = np.arange(drive.samples.size) / drive.sample_rate_hz
    rpm = np.interp(time_s, drive.truth.time_s, drive.truth.rpm)
    tone = size * np.sin(2.0 * np.pi * WHISTLE_HZ * time_s)
    heard = np.where((rpm > 1900.0) & (rpm < 2700.0), tone, 0.0)
    return replace(drive, samples=(drive.samples + heard).astype(np.float32))


def heard(drive: GeneratedDrive) -> Findings:
    """What ``find`` makes of the sound for the map, at the true engine speed."""
    sound = drive.drive().sound
    assert sound is not None
    time_s, step_s = drive.truth.time_s, 0.05
    even_s = np.arange(time_s[0], time_s[-1], step_s)
    rpm = np.interp(even_s, time_s, drive.truth.rpm)
    track = SpeedTrack(start_s=float(time_s[0]), step_s=step_s, rpm=rpm)
    with WorkingCopy(sound, lambda _: None) as copy:
        levels = levels_by_speed(copy, track, 0.0, lambda _: None)
    return replace(made(BEFORE_MS, (BAND,)), level_map=levels.picture)


@cache
def baseline(seed: int) -> Findings:
    return heard(before(seed))


@pytest.mark.parametrize("kind", [FixKind.BRANCH, FixKind.UNCHANGED, FixKind.MOVED])
@pytest.mark.parametrize("seed", [1, 2])
def test_no_tone_where_there_is_none(seed: int, kind: FixKind) -> None:
    assert new_whistles(baseline(seed), heard(after(seed, kind))) == ()


def test_a_singing_branch_is_told_and_an_old_tone_is_not() -> None:
    branched = after(1, FixKind.BRANCH)
    size = 0.3 * float(np.sqrt(np.mean(branched.samples**2)))
    base, sung = baseline(1), heard(singing(branched, size))
    (tone,) = new_whistles(base, sung)
    assert tone.frequency_hz == pytest.approx(WHISTLE_HZ, abs=3.0)
    assert 1800.0 < tone.low_rpm < 2100.0
    assert 2500.0 < tone.high_rpm < 2800.0
    assert "may be singing" in whistle_words(tone)
    assert new_whistles(heard(singing(before(1), size)), sung) == ()
    told = comparison_document(compare_drives(base, sung))["whistles"]
    assert isinstance(told, list)
    assert len(told) == 1
