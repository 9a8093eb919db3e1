"""Sound out of media files as phones and recorders make them, by a decoder in its own process."""
# SPDX-License-Identifier: GPL-2.0-or-later

import importlib.util
import json
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO

import numpy as np

from logger.errors import AudioError
from logger.folder.gaps import SoundGap
from logger.folder.json_fields import moment
from logger.folder.sound_reading import SoundFacts, block_frames, refuse_not_finite
from logger.session import SoundOrigin

Block = np.ndarray[tuple[int, ...], np.dtype[np.float64 | np.int32]]

_CHILD = Path(__file__).with_name("media_child.py")
# judgement: a slow disk answers within it; a decoder that says nothing for longer hangs
_SILENT_S = 30.0
_LARGEST_MESSAGE = 1 << 26  # judgement: one frame of sound is a thousandth of it
_SAMPLE_BYTES = {"s16": 2, "s32": 4, "flt": 4}
_LETTERS = b"HDGEX"


@dataclass(frozen=True, slots=True, kw_only=True)
class Media:
    """What a media file is; its own clock runs on without sound at the ``gaps``."""

    facts: SoundFacts
    origin: SoundOrigin
    gaps: tuple[SoundGap, ...]


def look_at_media(path: Path) -> Media:
    """Decode a whole media file once, to know its length and that it is sound to the end.

    Raises
    ------
    AudioError
        It cannot be decoded, is damaged, or was cut.
    """
    with open_media(path) as reader:
        frames = block_frames(reader.rate_hz, reader.channel_count)
        while (block := reader.read(frames)).shape[0]:
            refuse_not_finite(path, block)
        return Media(
            facts=SoundFacts(
                sample_rate_hz=float(reader.rate_hz),
                bit_depth=8 * _SAMPLE_BYTES[reader.kind],
                is_float=reader.kind == "flt",
                channel_count=reader.channel_count,
                frame_count=reader.frames_read,
            ),
            origin=reader.origin,
            gaps=tuple(reader.gaps),
        )


@contextmanager
def open_media(path: Path) -> Iterator["MediaReader"]:
    """Start the decoder on a file; it is ended with the block."""
    if importlib.util.find_spec("av") is None:
        raise AudioError(
            f"{path} is neither WAV nor FLAC, and the decoder for other sound is not installed; "
            "install it with: python -m pip install av"
        )
    # -P: the decoder's folder holds modules of ours, which it must not take for the library's
    command = [sys.executable, "-P", str(_CHILD), str(path.resolve())]
    with subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    ) as child:
        watch = _Watch(child)
        try:
            assert child.stdout is not None
            yield MediaReader(path, child.stdout, watch)
        finally:
            watch.stop()
            child.kill()


class _Watch:
    """Ends a child that has said nothing for too long."""

    def __init__(self, child: subprocess.Popen[bytes]) -> None:
        self.timed_out = False
        self._child = child
        self._waiting_since_s: float | None = None
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._run, name="media watch", daemon=True)
        self._thread.start()

    def waiting(self, is_waiting: bool) -> None:
        self._waiting_since_s = time.monotonic() if is_waiting else None

    def stop(self) -> None:
        self._stopped.set()
        self._thread.join()

    def _run(self) -> None:
        while not self._stopped.wait(0.5):
            since_s = self._waiting_since_s
            if since_s is not None and time.monotonic() - since_s > _SILENT_S:
                self.timed_out = True
                self._child.kill()
                return


class MediaReader:
    """The decoder's messages as blocks of samples [shape=(n, channels)]."""

    def __init__(self, path: Path, pipe: IO[bytes], watch: _Watch) -> None:
        self._path, self._pipe, self._watch = path, pipe, watch
        self.frames_read = 0
        self.gaps: list[SoundGap] = []
        self._kept = bytearray()
        self._ended = False
        letter, data = self._message()
        if letter != b"H":
            raise self._refusal("it holds no sound")
        about = json.loads(data)
        self.rate_hz = int(about["rate_hz"])
        self.channel_count = int(about["channels"])
        self.kind = str(about["kind"])
        self.origin = SoundOrigin(
            name=path.name,
            codec=str(about["codec"]),
            container=str(about["container"]),
            bit_rate_bps=None if about["bit_rate"] is None else int(about["bit_rate"]),
            start_time_utc=_moment(str(about["created"])),
        )

    def read(self, frames: int, *, dtype: str = "", always_2d: bool = True) -> Block:
        """Give the next frames, fewer at the end: int32 over its full range, or float64.

        The arguments are those of ``soundfile.SoundFile.read``; the kind of number is the file's.
        """
        frame_bytes = _SAMPLE_BYTES[self.kind] * self.channel_count
        while len(self._kept) < frames * frame_bytes and not self._ended:
            self._take()
        whole = min(frames, len(self._kept) // frame_bytes) * frame_bytes
        data = bytes(self._kept[:whole])
        del self._kept[:whole]
        self.frames_read += whole // frame_bytes
        shape = (-1, self.channel_count)
        if self.kind == "flt":
            return np.frombuffer(data, np.float32).astype(np.float64).reshape(shape)
        if self.kind == "s32":
            return np.frombuffer(data, np.int32).reshape(shape)
        wide = np.frombuffer(data, np.int16).astype(np.int32)
        return (wide * np.int32(1 << 16)).reshape(shape)

    def _take(self) -> None:
        letter, data = self._message()
        if letter == b"D":
            self._kept += data
        elif letter == b"G":
            gap = json.loads(data)
            self.gaps.append(
                SoundGap(after_frame=int(gap["after_frame"]), duration_s=float(gap["duration_s"]))
            )
        else:
            self._ended = True

    def _message(self) -> tuple[bytes, bytes]:
        self._watch.waiting(True)
        try:
            head = self._pipe.read(5)
            if len(head) < 5 or head[:1] not in _LETTERS:
                raise self._refusal(self._why_silent())
            size = struct.unpack("<I", head[1:])[0]
            data = self._pipe.read(size) if size <= _LARGEST_MESSAGE else b""
            if len(data) < size:
                raise self._refusal(self._why_silent())
        finally:
            self._watch.waiting(False)
        if head[:1] == b"X":
            raise self._refusal(data.decode("utf-8", "replace"))
        return head[:1], data

    def _why_silent(self) -> str:
        if self._watch.timed_out:
            return f"its decoder said nothing for {_SILENT_S:.0f} s"
        return "its decoder broke off"

    def _refusal(self, reason: str) -> AudioError:
        return AudioError(
            f"{self._path} cannot be read as sound ({reason.strip().rstrip('.')}); "
            "copy it from the phone or recorder once more, or export it as WAV or FLAC"
        )


def _moment(written: str) -> datetime | None:
    """Read a container's time, which counts in UTC (ISO/IEC 14496-12, 8.2.2, from memory)."""
    try:
        return moment(written)
    except ValueError:
        return None
