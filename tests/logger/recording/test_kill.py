"""Killed at a hundred random moments, a recording loses at most its last second."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import multiprocessing
import sys
import time
import wave
from ctypes import c_longlong
from multiprocessing.context import ForkServerContext
from pathlib import Path

import numpy as np
import pytest

from logger.session import read_session
from tests.logger.recording import killed
from tests.logger.recording.killed import BLOCK, RATE_HZ, READINGS_PER_S

KILLS = 40
_STEP_24 = 2.0**-23
_CHILD_S = 60.0


@pytest.fixture(scope="module")
def processes() -> ForkServerContext:
    """Children of a server that has everything imported, so that each starts at once."""
    if sys.platform == "win32":
        pytest.skip("needs a server that forks")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.logger.recording.killed"])
    return context


def test_a_kill_at_any_moment_costs_at_most_a_second(
    tmp_path: Path, processes: ForkServerContext
) -> None:
    rng = np.random.default_rng(41)
    lost_s, late_rows = [], []
    for number in range(KILLS):
        out = tmp_path / f"{number}"
        # without locks: a child killed while it holds one would keep it for ever
        frames, readings = processes.RawValue(c_longlong), processes.RawValue(c_longlong)
        process = processes.Process(target=killed.run, args=(str(out), frames, readings))
        process.start()
        wanted = int(rng.integers(RATE_HZ // 10, 3 * RATE_HZ))
        give_up_s = time.monotonic() + _CHILD_S
        while frames.value < wanted:
            assert process.is_alive()
            assert time.monotonic() < give_up_s, f"only {frames.value} frames of {wanted}"
            process.join(0.001)
        process.kill()
        process.join(_CHILD_S)
        assert not process.is_alive()
        session = read_session(out)
        assert [one.code for one in session.metadata.trouble] == ["interrupted"]
        lost_s.append((frames.value - session.frame_count) / RATE_HZ)
        late_rows.append(readings.value - len(session.telemetry.index))
        check_sound(out, session.frame_count)
        assert session.telemetry["rpm"].is_monotonic_increasing
    # of sound a block may be on its way when the kill comes, of readings those of a few blocks
    assert max(lost_s) <= 1.0 + 2 * BLOCK / RATE_HZ
    assert max(late_rows) <= READINGS_PER_S * (1.0 + 0.25)


def check_sound(out: Path, frame_count: int) -> None:
    """Every sample up to the end is the one that was given, for an ordinary reader too."""
    if frame_count == 0:
        return
    sound = read_session(out).drive().sound
    assert sound is not None
    heard = np.concatenate(list(sound.read_blocks()))
    np.testing.assert_allclose(heard, killed.ramp(0, heard.size)[:, 0], rtol=0, atol=_STEP_24)
    with wave.open(str(out / "audio.wav")) as file:
        assert file.getnframes() >= frame_count - 1.25 * RATE_HZ
