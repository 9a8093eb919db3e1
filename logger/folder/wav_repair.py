"""Read the layout of a WAV file, also where a killed writer left its sizes wrong."""
# SPDX-License-Identifier: GPL-2.0-or-later

import io
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from logger.errors import AudioError

# RIFF: format tags and sizes of Microsoft's "Multiple Channel Audio Data and WAVE Files" (2001),
# from memory.
PCM_TAG = 1
FLOAT_TAG = 3
EXTENSIBLE_TAG = 0xFFFE

_LARGEST_CHUNK = 0xFFFF_FFFF  # RIFF: sizes have 32 bits
_MOST_CHUNKS = 10_000  # judgement: no writer makes so many; empty ones fill a damaged file
_MIN_FMT_BYTES = 16  # RIFF: the plain fmt chunk


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundFacts:
    """What a sound file is: rate, depth, channels, length.

    ``sizes_are_wrong`` is true for a file that was cut, or whose writer was killed.
    """

    sample_rate_hz: float
    bit_depth: int
    is_float: bool
    channel_count: int
    frame_count: int
    sizes_are_wrong: bool = False

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.frame_count / self.sample_rate_hz


@dataclass(frozen=True, slots=True, kw_only=True)
class WavLayout:
    """Where the samples of a WAV file are, from its own header and its true length.

    Attributes
    ----------
    fmt : bytes
        The body of the ``fmt`` chunk, as it stands.
    data_bytes : int
        Bytes of whole frames that are really there.
    """

    path: Path
    facts: SoundFacts
    fmt: bytes
    frame_bytes: int
    data_offset: int
    data_bytes: int


def read_wav_layout(path: Path) -> WavLayout | None:
    """Find the samples of a RIFF/WAVE file; None when it holds another kind of sound.

    RIFF/WAVE as in the Multimedia Programming Interface 1.0 (IBM and Microsoft, 1991).

    Raises
    ------
    AudioError
        It is a WAV file without a format or without samples.
    OSError
        The file cannot be read.
    """
    file_bytes = path.stat().st_size
    with path.open("rb") as file:
        start = file.read(12)
        if len(start) < 12 or start[:4] != b"RIFF" or start[8:] != b"WAVE":
            return None
        fmt = b""
        for _ in range(_MOST_CHUNKS):
            head = file.read(8)
            if len(head) < 8:
                raise AudioError(f"{path} holds no sound, only a WAV header; choose another file")
            kind, size = head[:4], struct.unpack("<I", head[4:])[0]
            if kind == b"data":
                return _layout(path, file, fmt, size, file_bytes)
            if kind == b"fmt ":
                fmt = file.read(min(size, 1024))
                file.seek(size - len(fmt) + size % 2, io.SEEK_CUR)
            else:
                file.seek(size + size % 2, io.SEEK_CUR)
    raise AudioError(f"{path} has a damaged WAV header (no end of it); export it again")


def wav_header(fmt: bytes, data_bytes: int) -> bytes:
    """Make a RIFF/WAVE header for ``data_bytes`` of samples that follow it."""
    riff_bytes = 4 + 8 + len(fmt) + 8 + data_bytes + data_bytes % 2
    return (
        struct.pack("<4sI4s4sI", b"RIFF", riff_bytes, b"WAVE", b"fmt ", len(fmt))
        + fmt
        + struct.pack("<4sI", b"data", data_bytes)
    )


class RepairedWav(io.RawIOBase):
    """A WAV file as it should have been: a true header in memory, then the file's samples."""

    def __init__(self, layout: WavLayout) -> None:
        # what the 32-bit size fields of one file can tell, in whole frames
        most = _LARGEST_CHUNK - len(wav_header(layout.fmt, 0)) - 1
        data_bytes = min(layout.data_bytes, most // layout.frame_bytes * layout.frame_bytes)
        self._header = wav_header(layout.fmt, data_bytes)
        self._size = len(self._header) + data_bytes
        self._data_offset = layout.data_offset
        self._file: BinaryIO = layout.path.open("rb")
        self._position = 0

    def seek(self, offset: int, whence: int = io.SEEK_SET, /) -> int:
        """Move in the repaired file."""
        origin = {io.SEEK_SET: 0, io.SEEK_CUR: self._position, io.SEEK_END: self._size}[whence]
        self._position = max(0, origin + offset)
        return self._position

    def readinto(self, buffer: bytearray | memoryview, /) -> int:  # type: ignore[override]
        """Fill the buffer from the header, then from the file."""
        wanted = min(len(buffer), max(0, self._size - self._position))
        piece = self._header[self._position : self._position + wanted]
        if len(piece) < wanted:
            behind_header = self._position + len(piece) - len(self._header)
            self._file.seek(self._data_offset + behind_header)
            piece += self._file.read(wanted - len(piece))
        buffer[: len(piece)] = piece
        self._position += len(piece)
        return len(piece)

    def close(self) -> None:
        """Close the file below."""
        self._file.close()
        super().close()


def _layout(
    path: Path, file: BinaryIO, fmt: bytes, stated: int, file_bytes: int
) -> WavLayout | None:
    if len(fmt) < _MIN_FMT_BYTES:
        raise AudioError(f"{path} has a damaged WAV header (no format); export it again")
    tag, channels, rate, _, frame_bytes, bits = struct.unpack("<HHIIHH", fmt[:16])
    if tag == EXTENSIBLE_TAG and len(fmt) >= 26:
        tag = struct.unpack("<H", fmt[24:26])[0]
    if tag not in (PCM_TAG, FLOAT_TAG):
        return None  # squeezed samples, in blocks of their own
    if channels < 1 or rate < 1 or bits < 1 or frame_bytes != channels * ((bits + 7) // 8):
        raise AudioError(f"{path} has a damaged WAV header (impossible format); export it again")
    offset = file.tell()
    there = file_bytes - offset
    wrong = stated > there or not _chunks_end_the_file(file, offset, stated, file_bytes)
    frame_count = (there if wrong else stated) // frame_bytes
    return WavLayout(
        path=path,
        facts=SoundFacts(
            sample_rate_hz=float(rate),
            bit_depth=bits,
            is_float=tag == FLOAT_TAG,
            channel_count=channels,
            frame_count=frame_count,
            sizes_are_wrong=wrong,
        ),
        fmt=fmt,
        frame_bytes=frame_bytes,
        data_offset=offset,
        data_bytes=frame_count * frame_bytes,
    )


def _chunks_end_the_file(file: BinaryIO, offset: int, stated: int, file_bytes: int) -> bool:
    """Say whether what follows the samples is nothing, one padding byte, or further chunks."""
    position = offset + stated
    if file_bytes - position <= 1:
        return True
    position += position % 2
    for _ in range(_MOST_CHUNKS):
        if file_bytes - position < 8:
            break
        file.seek(position)
        kind, size = struct.unpack("<4sI", file.read(8))
        if not all(0x20 <= sign < 0x7F for sign in kind):
            return False
        position += 8 + size + size % 2
    return 0 <= file_bytes - position + 1 <= 8
