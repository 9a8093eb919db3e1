"""A microphone that runs: it gives blocks of sound, and is opened again when it was unplugged."""
# SPDX-License-Identifier: GPL-2.0-or-later

import contextlib
import itertools
import math
import queue
import threading
import time
from types import ModuleType
from typing import Any, Protocol

import numpy as np

from logger.arrays import Samples
from logger.errors import DeviceError
from logger.microphone.behind import sound_behind
from logger.microphone.contract import SoundBlock
from logger.microphone.microphones import WASAPI, MicrophoneFacts, lasting_name, list_microphones
from logger.microphone.portaudio import restart_portaudio

# judgement: all of these. They trade a screen that lags for a computer that is woken often, and say
# how soon a dead device is told. Sound is lost only past what the queue holds.
_BLOCK_S = 0.03  # a sound system may shift by a block; that must stay below what counts as lost
_TOGETHER_S = 0.05  # at once, and lost by a kill; twice as much takes 0.4 % less of a core
_QUEUE_BLOCKS = 1200  # a minute: longer than any disk should hold us up
_WAIT_S = 0.2
_GONE_S = 3.0
_LOOK_EVERY_S = 1.0
_BEHIND_EVERY = 3  # looks; judgement: soon enough to tell, and to ask costs a fiftieth of a second
_OVERSLEPT_S = 3.0  # since the last look
_GOODBYE_S = 5.0
# of sounddevice and what it calls, while devices come and go
_PASSING_ERRORS = (OSError, RuntimeError, ValueError, LookupError)


class _Flags(Protocol):
    @property
    def input_overflow(self) -> bool: ...


class Microphone:
    """A running microphone, at the rate the device likes best.

    When it is unplugged no library says so: no sound comes, and that is all. A thread of its own
    watches for that and opens the microphone again, found by its name, until it is there. It is
    opened at the rate it had, as one recording has one rate; what refuses that is in ``refusal``.

    Parameters
    ----------
    channels : tuple of int
        Which channels of the device to record, counted from 1, rising.
    """

    def __init__(
        self, audio: ModuleType, facts: MicrophoneFacts, channels: tuple[int, ...]
    ) -> None:
        self.name = facts.name
        self.sample_rate_hz = facts.sample_rate_hz
        self.channel_count = len(channels)
        self.refusal = ""
        self._audio = audio
        self._facts = facts
        self._columns = [channel - 1 for channel in channels]
        self._blocks: queue.Queue[SoundBlock] = queue.Queue(maxsize=_QUEUE_BLOCKS)
        self._guard = threading.Lock()
        self._parts: list[Samples] = []
        self._is_flagged = False
        self._came_s = -math.inf
        self._waiting_from_s = -math.inf
        self._closing = threading.Event()
        self._stream: Any = None
        self._behind = ""
        self._watcher = threading.Thread(target=self._watch, name="microphone", daemon=True)

    def __enter__(self) -> "Microphone":
        self._open(self._facts.index)
        self._watcher.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._closing.set()
        self._watcher.join(_GOODBYE_S)
        if not self._watcher.is_alive():  # else the sound system hangs, and closing would too
            self._close()

    def take(
        self, samples: Samples, _frames: int = 0, _times: object = None, flags: _Flags | None = None
    ) -> None:
        """Copy and queue: PortAudio calls this on its own thread and takes the buffer back.

        When the queue is full the block is dropped; the recorder sees that frames are missing.
        """
        # not the times that PortAudio gives: some systems leave them 0, stamp with the wall clock,
        # or drift by a third in the first seconds
        self._came_s = time.perf_counter()
        with self._guard:
            self._is_flagged |= flags is not None and flags.input_overflow
            self._parts.append(samples[:, self._columns])
            is_enough = sum(map(len, self._parts)) >= _TOGETHER_S * self.sample_rate_hz
        if is_enough:
            self._hand_over()

    def _hand_over(self) -> None:
        with self._guard:
            parts, self._parts = self._parts, []
            is_flagged, self._is_flagged = self._is_flagged, False
        if not parts:
            return
        block = SoundBlock(
            samples=np.concatenate(parts),
            arrived_s=self._came_s,
            is_flagged=is_flagged,
            behind=self._behind,
        )
        with contextlib.suppress(queue.Full):
            self._blocks.put_nowait(block)

    def next_block(self) -> SoundBlock | None:
        """Next block; None when none came for a moment."""
        try:
            return self._blocks.get(timeout=_WAIT_S)
        except queue.Empty:
            return None

    def _open(self, index: int) -> None:
        # Windows converts a rate only when asked; others do so or refuse by themselves
        is_wasapi = self._facts.host == WASAPI
        converts = self._audio.WasapiSettings(auto_convert=True) if is_wasapi else None
        try:
            self._stream = self._audio.InputStream(
                device=index,
                # its own rate: another is refused on Windows, or made by a converter of any quality
                samplerate=self.sample_rate_hz,
                channels=max(self._columns) + 1,
                blocksize=round(_BLOCK_S * self.sample_rate_hz),
                dtype="float32",
                latency="high",
                extra_settings=converts,
                callback=self.take,
            )
            self._stream.start()
        except self._audio.PortAudioError as error:
            raise DeviceError(
                f"microphone {self.name!r} cannot be opened ({error}); close other programs that "
                "use it, allow access to it, or choose another with --microphone"
            ) from error
        self._waiting_from_s = time.perf_counter()

    def _close(self) -> None:
        stream, self._stream = self._stream, None
        if stream is not None:
            with contextlib.suppress(self._audio.PortAudioError):
                stream.close()
        self._hand_over()  # what comes after a gap must not be joined to what came before

    def _watch(self) -> None:
        looked_s = time.perf_counter()
        for turn in itertools.count():
            if self._closing.wait(_LOOK_EVERY_S):
                return
            if turn % _BEHIND_EVERY == 0:
                self._behind = sound_behind() or self._behind
            now_s = time.perf_counter()
            if now_s - looked_s > _OVERSLEPT_S:  # the sound may have been kept for us meanwhile
                self._waiting_from_s = now_s
            looked_s = now_s
            if now_s - self._came_s > _TOGETHER_S:
                self._hand_over()
            if now_s - max(self._came_s, self._waiting_from_s) > _GONE_S:
                self._reopen()

    def _reopen(self) -> None:
        """Try once; the list of devices is only made anew when the library starts anew.

        What fails here is tried again: with this thread the microphone would be gone for good.
        """
        with contextlib.suppress(self._audio.PortAudioError, DeviceError, *_PASSING_ERRORS):
            self._close()
            # its list of devices is made once; numbers change when one is plugged in again
            restart_portaudio(self._audio)
            here = list_microphones(self._audio)
            same = [each for each in here if lasting_name(each) == lasting_name(self._facts)]
            if same:  # of two alike the one in the same socket, if it is there
                exact = [each for each in same if each.name == self._facts.name]
                self._open_again((exact or same)[0])
                return
        self.refusal = ""

    def _open_again(self, facts: MicrophoneFacts) -> None:
        try:
            self._open(facts.index)
            self.refusal = ""
        except DeviceError as error:
            own_hz, here_hz = facts.sample_rate_hz, self.sample_rate_hz
            changed = (
                f"microphone {self.name!r} is back, but at {own_hz} Hz, and refuses the {here_hz} "
                f"Hz of this recording; set it to {here_hz} Hz in the sound settings, or stop and "
                "record into another folder"
            )
            self.refusal = str(error) if own_hz == here_hz else changed
