"""A tone that stays put while engine speed changes, and what must not be taken for one."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from rich.console import Console

from analysis.answers.documents import comparison_document
from analysis.compare.comparison import compare_drives
from analysis.compare.whistles import new_whistles
from analysis.find.drone import find_drone
from analysis.findings import Findings
from logger.command.tables.compare import compare_text
from tests.drives import FixKind, GeneratedDrive, generate_pair, random_spec

WHISTLE_HZ = 331.0


@cache
def pair(seed: int, kind: FixKind) -> tuple[GeneratedDrive, GeneratedDrive]:
    spec = random_spec(np.random.default_rng([66, seed]), bands=1, engine=("4", "6")[seed % 2])
    spec = replace(spec, legs=spec.legs[:4])
    before, after, _ = generate_pair(spec, seed, kind)
    return before, after


def singing(drive: GeneratedDrive, size: float) -> GeneratedDrive:
    """A tone while the engine is between 1,900 and 2,700 rpm."""
    time_s = np.arange(drive.samples.size) / drive.sample_rate_hz
    rpm = np.interp(time_s, drive.truth.time_s, drive.truth.rpm)
    tone = size * np.sin(2.0 * np.pi * WHISTLE_HZ * time_s)
    heard = np.where((rpm > 1900.0) & (rpm < 2700.0), tone, 0.0)
    return replace(drive, samples=(drive.samples + heard).astype(np.float32))


def found(drive: GeneratedDrive) -> Findings:
    return find_drone(drive.drive())


@cache
def baseline(seed: int) -> Findings:
    """Before anything was done, which is the same drive for every kind of work."""
    return found(pair(seed, FixKind.BRANCH)[0])


@pytest.mark.parametrize("kind", [FixKind.BRANCH, FixKind.UNCHANGED, FixKind.MOVED])
@pytest.mark.parametrize("seed", [1, 2])
def test_no_tone_where_there_is_none(seed: int, kind: FixKind) -> None:
    _, after = pair(seed, kind)
    assert new_whistles(baseline(seed), found(after)) == ()


def test_a_singing_branch_is_told_and_an_old_tone_is_not() -> None:
    before, after = pair(1, FixKind.BRANCH)
    size = 0.3 * float(np.sqrt(np.mean(after.samples**2)))
    base, sung = baseline(1), found(singing(after, size))
    (tone,) = new_whistles(base, sung)
    assert tone.frequency_hz == pytest.approx(WHISTLE_HZ, abs=3.0)
    assert 1800.0 < tone.low_rpm < 2100.0
    assert 2500.0 < tone.high_rpm < 2800.0
    assert new_whistles(found(singing(before, size)), sung) == ()
    comparison = compare_drives(base, sung)
    document = comparison_document(comparison)
    assert isinstance(document["whistles"], list)
    assert len(document["whistles"]) == 1
    console = Console(file=io.StringIO(), width=300)
    with console.capture() as shown:
        console.print(compare_text(comparison))
    assert "may be singing" in shown.get()
