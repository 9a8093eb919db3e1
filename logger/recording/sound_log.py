"""The sound files of a recording: one after the other, each valid at every moment."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections import deque
from pathlib import Path

from logger.arrays import Samples
from logger.folder.names import audio_file_name
from logger.folder.wav_writer import BYTES_PER_SAMPLE, LARGEST_DATA_BYTES, WavWriter

_FILE_S = 1800  # a damaged file costs half an hour at most; judgement: shorter makes many files


class SoundLog:
    """Write sound into ``audio.wav``, ``audio-2.wav``, ... of a folder.

    Raises
    ------
    OSError
        From every method: the disk is full or gone.
    """

    def __init__(self, folder: Path, sample_rate_hz: int, channel_count: int) -> None:
        self.frame_count = 0
        self._folder = folder
        self._rate_hz = sample_rate_hz
        self._channel_count = channel_count
        self._number = 1
        self._frames_in_file = min(
            _FILE_S * sample_rate_hz,
            LARGEST_DATA_BYTES // (channel_count * BYTES_PER_SAMPLE),
        )
        self._file = self._open()
        self._full: deque[WavWriter] = deque()  # waits to be closed, which waits for the disk

    def write(self, samples: Samples) -> None:
        """Append samples [shape=(n_frames, n_channels)]."""
        start = 0
        while start < samples.shape[0]:
            if self._file.frame_count >= self._frames_in_file:
                # its close waits for the disk; a kill before that must not cost its last second
                self._file.renew()
                self._full.append(self._file)
                self._number += 1
                self._file = self._open()
            room = self._frames_in_file - self._file.frame_count
            part = samples[start : start + room]
            self._file.write(part)
            self.frame_count += part.shape[0]
            start += part.shape[0]

    def renew(self) -> None:
        """Let the headers tell of all sound so far; waits for no disk."""
        self._file.renew()

    def sync(self) -> None:
        """Wait until the disk holds all that the headers tell of.

        Another thread may do so while this one writes.
        """
        newest = self._file  # it may be full meanwhile; then its turn comes with the next sync
        while self._full and self._full[0] is not newest:
            self._full[0].close()
            self._full.popleft()
        newest.sync()

    def close(self) -> None:
        """Finish all files."""
        for file in (*self._full, self._file):
            file.close()

    def cut_to_last_sync(self) -> None:
        """Give back what came since the last :meth:`sync`: a full disk needs room for the rest.

        No file is synced before the one in front of it, so what is left has no hole.
        """
        for file in (*self._full, self._file):
            self.frame_count -= file.frame_count - file.synced_frame_count
            file.abandon()

    def _open(self) -> WavWriter:
        path = self._folder / audio_file_name(self._number)
        return WavWriter(path, self._rate_hz, self._channel_count)
