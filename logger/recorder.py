"""Record sound into a session folder; killed at any moment, it loses at most a second.

The folder and the file are there before the microphone starts. Every second the WAV header is
renewed and the disk made to hold it. ``session.json`` says from the start that the recording is
not finished, and is replaced at the end.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
import shutil
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from types import TracebackType

import numpy as np
from numpy.typing import NDArray

from logger.atomic import write_synced
from logger.errors import DeviceError, SessionError
from logger.loss_watch import Loss, LossWatch
from logger.microphone import SoundBlock, SoundSource
from logger.session import SessionMetadata, Trouble, encode_metadata
from logger.session_folder import METADATA_FILE, audio_file_name
from logger.wav_writer import WavWriter

_SILENT_AFTER_S = 2.0  # no block for so long: the microphone is gone
_FILE_S = 1800  # a new file each half hour, far below what a WAV file can hold


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """How the recording stands, once a second; levels in dB re full scale."""

    elapsed_s: float
    level_db: float
    peak_db: float
    trouble_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """A finished recording."""

    session: Path
    duration_s: float
    trouble: tuple[Trouble, ...]
    device_lost: bool


def record_sound(
    source: SoundSource,
    out: Path,
    metadata: SessionMetadata,
    *,
    seconds: float | None,
    stopped: Callable[[], bool],
    show: Callable[[Status], None],
    clock: Callable[[], float] = time.perf_counter,
) -> Recorded:
    """Record until ``seconds`` are over, somebody stops it, or the microphone is gone.

    Raises
    ------
    SessionError
        ``out`` exists, or the disk is full or refuses.
    DeviceError
        The microphone cannot be started, or not one sample came.
    KeyboardInterrupt
        Somebody stopped it before any sound came; nothing is left behind then.
    """
    _make_folder(out)
    take = _Take(source, out, metadata)
    try:
        with take:
            _fill(take, source, seconds, stopped, show, clock)
    except OSError as error:
        raise SessionError(
            f"recording stopped, the disk refuses: {error.strerror or error}; what was recorded "
            f"until then is in {out}"
        ) from error
    finally:
        if not take.frame_count:
            shutil.rmtree(out, ignore_errors=True)
    if not take.frame_count:
        if stopped():
            raise KeyboardInterrupt
        raise DeviceError(
            f"no sound came from {source.name!r}; allow this program to use the microphone, or "
            "choose another with --microphone"
        )
    return Recorded(
        session=out,
        duration_s=take.frame_count / source.sample_rate_hz,
        trouble=tuple(take.trouble),
        device_lost=take.device_lost,
    )


def _fill(
    take: _Take,
    source: SoundSource,
    seconds: float | None,
    stopped: Callable[[], bool],
    show: Callable[[Status], None],
    clock: Callable[[], float],
) -> None:
    most = math.inf if seconds is None else round(seconds * source.sample_rate_hz)
    with source:
        heard_s = clock()
        while take.frame_count < most and not stopped():
            block = source.next_block()
            if block is None:
                if clock() - heard_s > _SILENT_AFTER_S:
                    take.lose_device()
                    return
                continue
            heard_s = clock()
            status = take.add(block, min(most - take.frame_count, block.samples.shape[0]))
            if status is not None:
                show(status)


class _Take:
    """The files of one recording and what was noticed on the way."""

    def __init__(self, source: SoundSource, out: Path, metadata: SessionMetadata) -> None:
        self.frame_count = 0
        self.trouble: list[Trouble] = []
        self.device_lost = False
        self._out = out
        self._metadata = metadata
        self._rate_hz = source.sample_rate_hz
        self._channels = source.channel_count
        self._watch = LossWatch(source.sample_rate_hz)
        self._second: list[NDArray[np.float32]] = []
        self._peak = 0.0
        self._file_number = 1

    def __enter__(self) -> _Take:
        self._save("recording")
        self._file = self._next_file()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self._file.close()
        if self.frame_count and self._peak == 0.0:
            self.trouble.append(
                Trouble(
                    code="no_signal",
                    message="every sample is zero; allow this program to use the microphone",
                )
            )
        self._save("complete")

    def add(self, block: SoundBlock, frame_count: float) -> Status | None:
        """Write a block, or the first frames of it; once a second tell how things stand."""
        loss = self._watch.note(block.samples.shape[0], block.arrived_s)
        if loss is not None:
            self._note(_lost(loss))
        samples = block.samples[: int(frame_count)]
        self._file.write(samples)
        self.frame_count += samples.shape[0]
        self._peak = max(self._peak, float(np.abs(samples).max(initial=0.0)))
        self._second.append(samples)
        if sum(part.shape[0] for part in self._second) < self._rate_hz:
            return None
        return self._end_second()

    def lose_device(self) -> None:
        """Note that the microphone is gone."""
        self.device_lost = True
        at_s = self.frame_count / self._rate_hz
        self._note(Trouble(code="microphone_lost", message="the microphone stopped", start_s=at_s))

    def _end_second(self) -> Status:
        heard = np.concatenate(self._second)
        self._second.clear()
        peak = float(np.abs(heard).max())
        self._file.sync()
        if self._file.frame_count >= _FILE_S * self._rate_hz:
            self._file.close()
            self._file_number += 1
            self._file = self._next_file()
        return Status(
            elapsed_s=self.frame_count / self._rate_hz,
            level_db=_decibel(float(np.mean(np.square(heard, dtype=np.float64)))),
            peak_db=_decibel(peak * peak),
            trouble_count=len(self.trouble),
        )

    def _next_file(self) -> WavWriter:
        path = self._out / audio_file_name(self._file_number)
        return WavWriter(path, self._rate_hz, self._channels)

    def _note(self, trouble: Trouble) -> None:
        self.trouble.append(trouble)
        self._save("recording")

    def _save(self, state: str) -> None:
        metadata = replace(self._metadata, trouble=tuple(self.trouble))
        part = self._out / f".{METADATA_FILE}.part"
        part.unlink(missing_ok=True)
        write_synced(part, encode_metadata(metadata, state=state))
        part.replace(self._out / METADATA_FILE)


def _make_folder(out: Path) -> None:
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        out.mkdir()
    except FileExistsError as error:
        raise SessionError(
            f"{out} exists already and a recording never replaces anything; choose another --out"
        ) from error
    except OSError as error:
        raise SessionError(
            f"cannot make {out}: {error.strerror}; choose a folder you can write to"
        ) from error


def _lost(loss: Loss) -> Trouble:
    return Trouble(
        code="sound_lost",
        message=f"about {1000.0 * loss.duration_s:.0f} ms of sound seem to be missing; close other "
        "programs",
        start_s=loss.start_s,
        duration_s=loss.duration_s,
    )


def _decibel(mean_square: float) -> float:
    return 10.0 * math.log10(mean_square) if mean_square > 0.0 else -math.inf
