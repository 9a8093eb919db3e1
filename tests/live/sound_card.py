"""A sound card whose clock is ours: what it hears at which moment is known to the sample.

It is a PulseAudio pipe source: this end writes each sample when its time has come. A writer that
comes late on a busy machine catches up, as a card's buffer does, so that sample ``n`` of what is
played always belongs to the moment ``start + n / rate``.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
import threading
import time
from types import TracebackType

import numpy as np
from numpy.typing import NDArray

from logger.arrays import Samples
from tests.live.sound_server import SoundServer

_EVERY_S = 0.01
_AT_ONCE = 2048  # frames of 2 bytes: as much as a pipe takes whole or not at all
_LEAD_S = 0.2


class SoundCard:
    """One channel at ``rate_hz``; hears faint noise except what is played to it.

    Parameters
    ----------
    fast_ppm : float
        How much faster its clock runs than that of the computer.

    Attributes
    ----------
    noise : float
        Root mean square of the faint noise, full scale 1; may be set anew at any moment.
    """

    def __init__(
        self, server: SoundServer, name: str, rate_hz: int, *, fast_ppm: float = 0.0
    ) -> None:
        self.name = name
        self.rate_hz = rate_hz
        self.noise = 0.001
        self._pace = 1.0 + 1e-6 * fast_ppm
        self._server = server
        self._module = ""
        self._pipe: int | None = None
        self._guard = threading.Lock()
        self._stop = threading.Event()
        self._epoch_s = 0.0
        self._done = 0
        self._played = np.zeros(0, np.int16)
        self._played_from = 0
        self._thread = threading.Thread(target=self._run, name="sound card")

    def __enter__(self) -> SoundCard:
        self.plug_in()
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self._stop.set()
        self._thread.join(timeout=10.0)
        assert not self._thread.is_alive()
        self.unplug()

    def plug_in(self, rate_hz: int | None = None) -> None:
        """Let the sound system have it, at another rate perhaps; nothing is played to it."""
        self.rate_hz = rate_hz or self.rate_hz
        path = self._server.folder / self.name
        self._module = self._server.load(
            "module-pipe-source",
            f"source_name={self.name}",
            f"file={path}",
            "format=s16le",
            f"rate={self.rate_hz}",
            "channels=1",
        )
        with self._guard:
            self._pipe = os.open(path, os.O_RDWR | os.O_NONBLOCK)
            self._epoch_s, self._done = time.perf_counter(), 0
            self._played = np.zeros(0, np.int16)

    def unplug(self) -> None:
        """Take it away from the sound system."""
        with self._guard:
            pipe, self._pipe = self._pipe, None
        if pipe is not None:
            self._server.control("unload-module", self._module)
            os.close(pipe)

    def be_lost(self) -> None:
        """Take note that the sound system died, and the card's place in it with it."""
        with self._guard:
            pipe, self._pipe = self._pipe, None
        if pipe is not None:
            os.close(pipe)
            (self._server.folder / self.name).unlink()

    def play(self, samples: Samples) -> float:
        """Let it hear this, once, at the card's rate; gives the moment of its first sample."""
        with self._guard:
            start = self._frames_until(time.perf_counter() + _LEAD_S)
            self._played = np.round(32767.0 * samples).astype(np.int16)
            self._played_from = start
        return self._epoch_s + start / (self.rate_hz * self._pace)

    def _frames_until(self, now_s: float) -> int:
        return int((now_s - self._epoch_s) * self.rate_hz * self._pace)

    def _run(self) -> None:
        faint = np.random.default_rng(8)
        while not self._stop.wait(_EVERY_S):
            with self._guard:
                due = self._frames_until(time.perf_counter())
                for first in range(self._done, due, _AT_ONCE):
                    count = min(_AT_ONCE, due - first)
                    heard = np.round(32767.0 * self.noise * faint.standard_normal(count))
                    self._hear(first, heard.astype(np.int16))
                self._done = due

    def _hear(self, first: int, heard: NDArray[np.int16]) -> None:
        at = first - self._played_from
        sound = self._played[max(at, 0) : max(at + heard.size, 0)]
        offset = max(-at, 0)
        heard[offset : offset + sound.size] += sound
        if self._pipe is None:
            return
        try:
            os.write(self._pipe, heard.tobytes())
        except BlockingIOError:
            return  # nobody takes it: it is lost, as with any card
