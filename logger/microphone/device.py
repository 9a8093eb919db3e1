"""The microphone: sound blocks with their time of arrival, nothing else.

PortAudio's own times and overflow flags are not to be trusted on every platform, so a block says
when it came, by the same clock for all, and :mod:`logger.recording.timeline` counts; a flag is but
a hint.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import contextlib
import math
import queue
import re
import sys
import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import ModuleType, TracebackType
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from logger.errors import DeviceError

_BLOCK_S = 0.03  # a sound system may shift by a block; that must stay below what counts as lost
_TOGETHER_S = 0.1  # so much is handed over at once: each time wakes the recorder, which costs
_QUEUE_BLOCKS = 600  # a minute: longer than any disk should hold us up
_WAIT_S = 0.2
_GONE_S = 3.0
_LOOK_EVERY_S = 1.0
_OVERSLEPT_S = 3.0  # since the last look
_GOODBYE_S = 5.0
_WASAPI = "Windows WASAPI"
# of sounddevice and what it calls, while devices come and go
_PASSING_ERRORS = (OSError, RuntimeError, ValueError, LookupError)
_ALSA_NUMBER = re.compile(r" \(hw:\d+,\d+\)$")
_CURES = {
    "linux": "install it with: sudo apt install libportaudio2 (or your system's own package)",
    "darwin": "install it with: brew install portaudio",
    "win32": "install pipenote again with: python -m pip install --force-reinstall sounddevice",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundBlock:
    """Sound that arrived at once.

    Attributes
    ----------
    samples : ndarray [shape=(n_frames, n_channels)], full scale -1..1
    arrived_s : float
        :func:`time.perf_counter` when the last sample was there.
    is_flagged : bool
        The sound system says that it lost sound before the block or in it.
    """

    samples: NDArray[np.float32]
    arrived_s: float
    is_flagged: bool = False


class SoundSource(Protocol):
    """Where sound comes from; a context manager that runs while it is open."""

    @property
    def name(self) -> str:
        """What a person calls it."""
        ...

    @property
    def sample_rate_hz(self) -> int:
        """Frames per second, nominal."""
        ...

    @property
    def channel_count(self) -> int:
        """Samples in each frame."""
        ...

    @property
    def refusal(self) -> str:
        """Why the device cannot be used although it is back, and what to do; else empty."""
        ...

    def __enter__(self) -> SoundSource: ...

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None: ...

    def next_block(self) -> SoundBlock | None:
        """Next block; None when none came for a moment."""
        ...


class _Flags(Protocol):
    @property
    def input_overflow(self) -> bool: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class MicrophoneFacts:
    """One line of the list of microphones."""

    index: int
    name: str
    host: str
    channel_count: int
    sample_rate_hz: int
    is_default: bool


def load_portaudio() -> ModuleType:
    """Import sounddevice, and PortAudio with it, only when a microphone is wanted.

    Raises
    ------
    DeviceError
        PortAudio is missing; the message says how to install it here.
    """
    try:
        import sounddevice
    except (ImportError, OSError) as error:
        cure = _CURES.get(sys.platform, "install PortAudio with your system's package manager")
        raise DeviceError(
            f"live recording needs the PortAudio library, which is missing; {cure}"
        ) from error
    return sounddevice  # type: ignore[no-any-return]


def list_microphones(audio: ModuleType) -> tuple[MicrophoneFacts, ...]:
    """Every input of this machine.

    Raises
    ------
    DeviceError
        The sound system does not answer.
    """
    try:
        hosts = audio.query_hostapis()
        default = _default_input(audio, hosts)
        return tuple(
            MicrophoneFacts(
                index=index,
                name=str(device["name"]),
                host=str(hosts[device["hostapi"]]["name"]),
                channel_count=int(device["max_input_channels"]),
                sample_rate_hz=round(device["default_samplerate"]),
                is_default=index == default,
            )
            for index, device in enumerate(audio.query_devices())
            if device["max_input_channels"] > 0
        )
    except audio.PortAudioError as error:
        raise DeviceError(
            f"the sound system does not answer ({error}); check that its service is running"
        ) from error


def _default_input(audio: ModuleType, hosts: Sequence[Mapping[str, Any]]) -> int:
    """Index of the default input; on Windows through WASAPI, which knows the device's own rate."""
    for host in hosts:
        if host["name"] == _WASAPI and host["default_input_device"] >= 0:
            return int(host["default_input_device"])
    return int(audio.default.device[0])


def choose_channels(facts: MicrophoneFacts, wanted: tuple[int, ...] | None) -> tuple[int, ...]:
    """Take the wanted channels, or the first two; some drivers claim to have a hundred.

    Raises
    ------
    DeviceError
        The microphone has no such channel.
    """
    if wanted is None:
        return tuple(range(1, min(2, facts.channel_count) + 1))
    if max(wanted) > facts.channel_count:
        raise DeviceError(
            f"{facts.name!r} has {facts.channel_count} channel(s), not {max(wanted)}; choose "
            "another with --microphone, or other --channels"
        )
    return wanted


def choose_microphone(
    microphones: tuple[MicrophoneFacts, ...], wanted: str | None
) -> MicrophoneFacts:
    """Pick by index, by exact name, or by a part of a name that only one has.

    Raises
    ------
    DeviceError
        There is none, or more than one fits.
    """
    if not microphones:
        raise DeviceError("no microphone was found; plug one in and run pipenote check")
    if wanted is None:
        return next((m for m in microphones if m.is_default), microphones[0])
    fitting = [m for m in microphones if wanted in (str(m.index), m.name)] or [
        m for m in microphones if wanted.casefold() in m.name.casefold()
    ]
    if len(fitting) != 1:
        found = "no microphone is" if not fitting else f"{len(fitting)} microphones are"
        raise DeviceError(
            f"{found} called {wanted!r}; pipenote check lists them, take one by its number"
        )
    return fitting[0]


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
        self._parts: list[NDArray[np.float32]] = []
        self._is_flagged = False
        self._came_s = -math.inf
        self._waiting_from_s = -math.inf
        self._closing = threading.Event()
        self._stream: Any = None
        self._watcher = threading.Thread(target=self._watch, name="microphone", daemon=True)

    def __enter__(self) -> Microphone:
        self._open(self._facts.index)
        self._watcher.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self._closing.set()
        self._watcher.join(_GOODBYE_S)
        if not self._watcher.is_alive():  # else the sound system hangs, and closing would too
            self._close()

    def take(
        self,
        samples: NDArray[np.float32],
        frames: int = 0,
        times: object = None,
        flags: _Flags | None = None,
    ) -> None:
        """Copy and queue: PortAudio calls this on its own thread and takes the buffer back.

        When the queue is full the block is dropped; the recorder sees that frames are missing.
        """
        del frames, times
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
            samples=np.concatenate(parts), arrived_s=self._came_s, is_flagged=is_flagged
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
        try:
            self._stream = self._audio.InputStream(
                device=index,
                samplerate=self.sample_rate_hz,
                channels=max(self._columns) + 1,
                blocksize=round(_BLOCK_S * self.sample_rate_hz),
                dtype="float32",
                latency="high",
                extra_settings=self._conversion(),
                callback=self.take,
            )
            self._stream.start()
        except self._audio.PortAudioError as error:
            raise DeviceError(
                f"microphone {self.name!r} cannot be opened ({error}); close other programs that "
                "use it, allow access to it, or choose another with --microphone"
            ) from error
        self._waiting_from_s = time.perf_counter()

    def _conversion(self) -> object:
        """Windows converts a rate only when asked; others do so or refuse by themselves."""
        if self._facts.host != _WASAPI:
            return None
        return self._audio.WasapiSettings(auto_convert=True)

    def _close(self) -> None:
        stream, self._stream = self._stream, None
        if stream is not None:
            with contextlib.suppress(self._audio.PortAudioError):
                stream.close()
        self._hand_over()  # what comes after a gap must not be joined to what came before

    def _watch(self) -> None:
        looked_s = time.perf_counter()
        while not self._closing.wait(_LOOK_EVERY_S):
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
            restart_portaudio(self._audio)
            for facts in list_microphones(self._audio):
                if _lasting_name(facts) == _lasting_name(self._facts):
                    self._open_again(facts)
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


def _lasting_name(facts: MicrophoneFacts) -> tuple[str, str]:
    """Name and host; without ALSA's card number, as another socket may give another one."""
    return _ALSA_NUMBER.sub("", facts.name), facts.host


def restart_portaudio(audio: ModuleType) -> None:
    """Start the library anew, which makes its list of devices anew; no stream may be open."""
    # sounddevice documents these two for this very purpose
    with contextlib.suppress(audio.PortAudioError):  # it did not start the last time
        audio._terminate()
    audio._initialize()
