"""A WAV file that stays valid while it grows: 24-bit PCM, its header renewed now and then.

Ordinary sound libraries fill in the sizes in a WAV header only when the file is closed, so a
logger that is killed leaves a file that many programs refuse. Here such programs lack at most the
sound since the last :meth:`WavWriter.renew`. A power cut takes what came since the last
:meth:`WavWriter.sync`.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import contextlib
import os
import struct
from pathlib import Path

import numpy as np

from logger.arrays import Samples
from logger.folder.disk_sync import sync_folder, sync_handle
from logger.folder.wav_repair import PCM_TAG, wav_header

BYTES_PER_SAMPLE = 3  # 24-bit PCM, by definition
_FULL_SCALE = 1 << 23
HEADER_BYTES = 44  # RIFF: one fmt chunk of 16 bytes, then data
LARGEST_DATA_BYTES = 0xFFFFFFFF - HEADER_BYTES  # RIFF: sizes have 32 bits


class WavWriter:
    """Write one new WAV file; close it in the end.

    Parameters
    ----------
    path : Path
        Must not exist.
    sample_rate_hz : int > 0
    channel_count : int > 0

    Raises
    ------
    OSError
        From every method: the file exists already, or the disk is full or gone.
    """

    def __init__(self, path: Path, sample_rate_hz: int, channel_count: int) -> None:
        self.frame_count = 0
        self.synced_frame_count = 0
        self._renewed_frame_count = 0
        self._sample_rate_hz = sample_rate_hz
        self._frame_bytes = channel_count * BYTES_PER_SAMPLE
        self._channel_count = channel_count
        self._path = path
        # never over what is there: it may be somebody's drive
        self._file = path.open("xb")
        self._file.write(self._header())

    @property
    def data_bytes(self) -> int:
        """Bytes of sound so far."""
        return self.frame_count * self._frame_bytes

    def write(self, samples: Samples) -> None:
        """Append samples [shape=(n_frames, n_channels)]; full scale is -1..1, more is clipped."""
        self._file.write(to_pcm24(samples))
        self._file.flush()  # what waits here is lost when the program is killed
        self.frame_count += samples.shape[0]

    def renew(self) -> None:
        """Let the header tell of all sound so far; waits for no disk."""
        # the samples are flushed by now: a kill in between leaves a header that tells of too little
        self._file.seek(0)
        self._file.write(self._header())
        self._file.seek(0, os.SEEK_END)
        self._file.flush()
        self._renewed_frame_count = self.frame_count

    def sync(self) -> None:
        """Wait until the disk holds all that the header tells of.

        Another thread may do so while this one writes; once it is closed, that is done.
        """
        if self._file.closed:
            return
        frame_count = self._renewed_frame_count
        sync_handle(self._file.fileno())
        if not self.synced_frame_count:  # else a power cut may take the name of a new file
            sync_folder(self._path.parent)
        self.synced_frame_count = frame_count

    def close(self) -> None:
        """Finish the file; a second call does nothing."""
        if self._file.closed:
            return
        try:
            if self.data_bytes % 2:
                self._file.write(b"\0")  # chunks have an even length; the size does not count it
            self.renew()
            self.sync()
        finally:
            self._file.close()

    def abandon(self) -> None:
        """Close the file as it was at the last :meth:`sync`; needs no room on the disk.

        After a :meth:`close` that was refused too.
        """
        if self._file.closed and self.frame_count == self.synced_frame_count:
            return
        with contextlib.suppress(OSError):  # it tries once more to write what it could not
            self._file.close()
        self.frame_count = self.synced_frame_count
        with self._path.open("rb+") as file:
            file.truncate(HEADER_BYTES + self.data_bytes)
            file.write(self._header())

    def _header(self) -> bytes:
        rate, frame_bytes = self._sample_rate_hz, self._frame_bytes
        kind = (PCM_TAG, self._channel_count, rate, rate * frame_bytes, frame_bytes)
        fmt = struct.pack("<HHIIHH", *kind, 8 * BYTES_PER_SAMPLE)
        return wav_header(fmt, self.data_bytes)


def to_pcm24(samples: Samples) -> bytes:
    """Turn samples (full scale -1..1) into little-endian 24-bit integers, clipped."""
    scaled = np.round(np.asarray(samples, dtype=np.float64) * _FULL_SCALE)
    whole = np.clip(scaled, -_FULL_SCALE, _FULL_SCALE - 1).astype("<i4")
    # the lower three bytes of each number, as the file has them
    return whole.reshape(-1, 1).view(np.uint8)[:, :BYTES_PER_SAMPLE].tobytes()
