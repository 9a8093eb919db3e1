"""A fault of the sound system while a drive is recorded: is it told, and is time right after it?"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import tempfile
import threading
from pathlib import Path

import numpy as np

from tests.benchmarks.recorder_faults.outcome import LATE_S, Outcome, RisingEngine
from tests.live.faults import (
    LOUDSPEAKER,
    MICROPHONE,
    NAMES,
    RATE_HZ,
    SOUND_FAULTS,
    Scene,
    live_through,
)
from tests.live.in_step import Signals
from tests.live.recording import Recording
from tests.live.sound_card import SoundCard
from tests.live.sound_server import SoundServer
from tests.live.waiting import wait_until
from tests.logger.sources.talkers import PtyAdapter

_ANSWER_S = 0.02
_LATER_S = (0.0, 1.0)
_GOES_ON_S = (0.0, 4.0)  # after it was told


def strike(number: int) -> Outcome:
    """Record, strike, mend, and look at what was recorded; the number is also the seed."""
    rng = np.random.default_rng([17, number])
    fault = SOUND_FAULTS[number % len(SOUND_FAULTS)]
    engine = RisingEngine()
    with (
        tempfile.TemporaryDirectory(prefix="sound") as name,
        SoundServer(Path(name), NAMES) as server,
        SoundCard(server, MICROPHONE, RATE_HZ) as card,
        PtyAdapter(rpm_at=engine.rpm_at, latency_s=_ANSWER_S) as adapter,
    ):
        server.load("module-null-sink", f"sink_name={LOUDSPEAKER}", "rate=48000", "channels=1")
        server.control("set-default-source", MICROPHONE)
        rpm = ("--rpm", f"obd:{adapter.path}")
        out = Path(name) / "drive"
        with Recording(out, fault.from_name, server.environment, *rpm) as recording:
            wait_until(lambda: any(asked.rpm for asked in adapter.log), recording.said)
            scene, signals = Scene(server, card, recording), Signals(recording)
            threading.Event().wait(rng.uniform(*_LATER_S))
            told = live_through(fault, scene, signals, rng.uniform(*_GOES_ON_S))
        return _judged(fault.name, number, told, recording, signals, engine)


def _judged(
    kind: str,
    number: int,
    told: bool,
    recording: Recording,
    signals: Signals,
    engine: RisingEngine,
) -> Outcome:
    rows = recording.rpm_rows()
    origins_s = signals.origins_s()
    sound_late_s = signals.late_s()
    rows_late_s = float(engine.off_s(rows, origins_s[0]).max())
    faults = [
        "" if told else f"not told, only {recording.trouble()}",
        "" if abs(sound_late_s) <= LATE_S else f"sound late by {1e3 * sound_late_s:.0f} ms",
        "" if rows_late_s <= LATE_S else f"a row off by {1e3 * rows_late_s:.0f} ms",
    ]
    return Outcome(
        kind=kind,
        number=number,
        told=told,
        late_s=max(abs(sound_late_s), rows_late_s),
        rows=len(rows),
        wrong=engine.wrong_count(rows, origins_s[0]),
        fault="; ".join(one for one in faults if one),
    )
