"""``pipenote record`` as a process of its own."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import signal
import subprocess
import sys
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from logger.session import read_session
from tests.live.waiting import LONG_S, wait_until

ROOT = Path(__file__).resolve().parents[2]
_BYTES_PER_FRAME = 3  # one channel of 24 bits
_MOST_SECONDS = 240  # it ends by itself, should the tests be killed


class Recording:
    """A drive being recorded from one channel of a microphone; a context manager.

    Leaving it kills the process if it still runs.
    """

    def __init__(
        self, out: Path, microphone: str, environment: dict[str, str], *options: str
    ) -> None:
        self.out = out
        self._errors = out.with_suffix(".errors")
        self._options = [f"--microphone={microphone}", *options]
        self._environment = environment

    def arguments(self) -> list[str]:
        """What Python is started with."""
        command = ["-m", "pipenote", "record", f"--out={self.out}", "--channels=1"]
        return [*command, "--cylinders=6", f"--seconds={_MOST_SECONDS}", *self._options]

    def __enter__(self) -> Recording:
        with self._errors.open("wb") as errors:
            self.process = subprocess.Popen(
                [sys.executable, *self.arguments(), "--plain"],
                cwd=ROOT,
                env=self._environment,
                stdout=subprocess.PIPE,
                stderr=errors,
                text=True,
            )
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.process.kill()
        self.process.communicate(timeout=LONG_S)

    def said(self) -> str:
        """What it printed to standard error so far."""
        return self._errors.read_text(errors="replace")

    def seconds(self) -> float:
        """How much sound is on the disk."""
        audio = self.out / "audio.wav"
        if not audio.exists():
            return 0.0
        header = audio.read_bytes()[:44]
        rate_hz = int.from_bytes(header[24:28], "little") or 1
        return (audio.stat().st_size - len(header)) / _BYTES_PER_FRAME / rate_hz

    def wait_for_sound(self, more_s: float = 1.0) -> None:
        """Wait until so much more sound is on the disk."""
        enough_s = self.seconds() + more_s
        wait_until(lambda: self.seconds() >= enough_s, self.said, more_s + LONG_S)

    def stop(self, by: signal.Signals = signal.SIGINT) -> str:
        """Ask it to stop as a person does; gives what it printed to standard output."""
        self.process.send_signal(by)
        output, _ = self.process.communicate(timeout=LONG_S)
        return output

    def document(self) -> dict[str, Any]:
        """What ``session.json`` says."""
        document: dict[str, Any] = json.loads((self.out / "session.json").read_text("utf-8"))
        return document

    def trouble(self) -> list[str]:
        """The codes of all trouble."""
        return [one["code"] for one in self.document()["trouble"]]

    def sound(self) -> tuple[NDArray[np.floating], int]:
        """The sound in session time, zero in the gaps, and its rate."""
        sound = read_session(self.out).drive().sound
        assert sound is not None
        return np.concatenate(list(sound.read_blocks())), round(sound.sample_rate_hz)

    def rpm_rows(self) -> pd.DataFrame:
        """The rows of ``telemetry.csv`` that hold rpm."""
        rows = pd.read_csv(self.out / "telemetry.csv")
        return rows[rows["rpm"].notna()]
