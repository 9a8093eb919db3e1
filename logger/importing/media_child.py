"""A program of its own that decodes one media file and writes its sound to standard output.

Media files are made by strangers, and their decoders are large. Here they can take no more than
the time and memory they are given, and a crash ends this process only. It imports nothing of
pipenote.

Every message is one letter, the length of what follows in 4 bytes, and that many bytes:
``H`` what the sound is (JSON), ``D`` interleaved samples, ``G`` sound that is missing (JSON),
``E`` the end (JSON), ``X`` why it cannot be decoded (text).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
import struct
import sys
from pathlib import Path
from typing import Any, BinaryIO

Av = Any  # the decoding library and what it gives; it has no types
# judgement: decoding takes 50 MB; a file that wants more than this does not hold a drive
_MOST_BYTES = 400 * 1024 * 1024
_MOST_CPU_S = 600  # judgement: a two-hour video takes well under a minute
# Demuxers that read one file. Playlists, which name other files or addresses, are not among them.
_CONTAINERS = (
    "aac,ac3,aiff,amr,amrnb,amrwb,ape,asf,au,avi,caf,eac3,flac,flv,matroska,webm,mov,mp4,m4a,3gp,3g2,mj2,"
    "mp3,mpeg,mpegts,ogg,rm,tta,voc,w64,wav,wv,xwma"
)
_KEPT = {"u8": "s16", "s16": "s16", "s32": "s32", "s64": "s32", "flt": "flt", "dbl": "flt"}
# judgement: containers round to milliseconds, and a frame lasts 20; less than this is rounding
_SHORTEST_GAP_S = 0.1
_LONGEST_GAP_S = 2.0  # judgement: a phone drops packets, and a damaged file seconds
_LONGEST_S = 24 * 3600.0  # judgement: no drive lasts longer
# judgement: a file that plays this much shorter than it says was cut
_SHORT_BY_S = 0.5
_SHORT_BY_OF_VIDEO_S = 2.0  # judgement: the picture may go on for a moment without sound
# Containers that state how long they are; others guess it from their size.
_STATE_LENGTH = ("mov", "matroska", "asf", "caf", "wav", "w64", "aiff", "ogg")
_MP3_LENGTH = (b"Xing\0\0\0", b"Info\0\0\0")  # the first frame may hold the number of frames
_OGG_LAST_PAGE = 0x04  # RFC 3533, 6: the flag of a page that ends its stream
_LARGEST_OGG_PAGE = 65_307  # bytes; RFC 3533, 6
_FIRST_BYTES = 1 << 20  # judgement: a cover picture before the first frame is smaller


def main(path: str, out: BinaryIO) -> None:
    """Decode the file at ``path`` and send it as messages."""
    import av

    _limit_this_process()
    try:
        _send_all(av, path, out)
    except av.error.FFmpegError as error:
        _send(out, b"X", str(error.strerror or error).encode("utf-8", "replace"))
    except MemoryError:
        _send(out, b"X", b"it asks for more memory than a recording can need")
    except Unusable as error:
        _send(out, b"X", str(error).encode("utf-8", "replace"))


class Unusable(Exception):  # noqa: N818  (never leaves this program)
    """The file holds no sound that can be used, and why."""


def _limit_this_process() -> None:
    try:
        import resource
    except ImportError:  # Windows; there the parent's clock is the only limit
        return
    for kind, most in ((resource.RLIMIT_DATA, _MOST_BYTES), (resource.RLIMIT_CPU, _MOST_CPU_S)):
        _, hard = resource.getrlimit(kind)
        most = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(kind, (most, most))


def _send_all(av: Av, path: str, out: BinaryIO) -> None:
    # "file:" keeps a name with a colon from being taken for an address
    options = {"format_whitelist": _CONTAINERS, "protocol_whitelist": "file"}
    with av.open("file:" + path, options=options, metadata_errors="replace") as container:
        stream = container.streams.best("audio")
        if stream is None:
            raise Unusable("it holds no sound")
        stream.codec_context.thread_count = 1
        sent = _Sender(av, container, stream, out, path)
        for packet in container.demux(stream):
            if packet.is_corrupt:
                raise Unusable(f"it is damaged after {sent.seconds:.1f} s of sound")
            try:
                frames = packet.decode()
            except av.error.InvalidDataError as error:
                raise Unusable(f"it is damaged after {sent.seconds:.1f} s of sound") from error
            for frame in frames:
                sent.frame(frame)
        sent.end()


class _Sender:
    """Sends frames in one form, and tells where sound is missing between them."""

    def __init__(self, av: Av, container: Av, stream: Av, out: BinaryIO, path: str) -> None:
        self._path = path
        self._av, self._container, self._stream, self._out = av, container, stream, out
        self._resampler: Any = None
        self._rate = 0
        self._frame_bytes = 0
        self._frames = 0
        self._next_s: float | None = None

    @property
    def seconds(self) -> float:
        return self._frames / self._rate if self._rate else 0.0

    def frame(self, frame: Av) -> None:
        if self._resampler is None:
            self._begin(frame)
        self._tell_gap(frame)
        for part in self._resampler.resample(frame):
            self._samples(part)
        if self.seconds > _LONGEST_S:
            raise Unusable(f"it lasts longer than {_LONGEST_S / 3600:.0f} hours")

    def end(self) -> None:
        if self._resampler is not None:
            for part in self._resampler.resample(None):
                self._samples(part)
        self._refuse_cut()
        _send(self._out, b"E", json.dumps({"frames": self._frames}).encode())

    def _begin(self, frame: Av) -> None:
        kind = _KEPT[frame.format.packed.name]
        self._resampler = self._av.AudioResampler(kind, frame.layout, frame.sample_rate)
        self._rate = int(frame.sample_rate)
        channels = len(frame.layout.channels)
        self._frame_bytes = channels * (2 if kind == "s16" else 4)
        context = self._stream.codec_context
        about = {
            "rate_hz": self._rate,
            "channels": channels,
            "kind": kind,
            "codec": context.name,
            "container": self._container.format.name,
            "bit_rate": context.bit_rate or self._container.bit_rate or None,
            "created": self._container.metadata.get("creation_time", ""),
        }
        _send(self._out, b"H", json.dumps(about).encode())

    def _tell_gap(self, frame: Av) -> None:
        """Say so where the container's clock runs on without sound, as when packets were lost."""
        if frame.pts is None or frame.time_base is None:
            return
        starts_s = float(frame.pts * frame.time_base)
        if self._next_s is not None and starts_s - self._next_s > _SHORTEST_GAP_S:
            gap = {"after_frame": self._frames, "duration_s": starts_s - self._next_s}
            if gap["duration_s"] > _LONGEST_GAP_S:
                raise Unusable(f"{gap['duration_s']:.1f} s are missing after {self.seconds:.1f} s")
            _send(self._out, b"G", json.dumps(gap).encode())
        self._next_s = starts_s + frame.samples / frame.sample_rate

    def _samples(self, part: Av) -> None:
        data = bytes(part.planes[0])[: part.samples * self._frame_bytes]
        self._frames += part.samples
        _send(self._out, b"D", data)

    def _refuse_cut(self) -> None:
        name = self._container.format.name
        if name == "ogg" and not _ogg_is_whole(self._path):
            raise Unusable(f"it was cut after {self.seconds:.1f} s")
        if not (
            name.startswith(_STATE_LENGTH) or (name == "mp3" and _mp3_states_length(self._path))
        ):
            return
        stream, container = self._stream, self._container
        if stream.duration is not None:
            stated_s, most_s = float(stream.duration * stream.time_base), _SHORT_BY_S
        elif container.duration is not None:
            alone = len(container.streams) == 1
            most_s = _SHORT_BY_S if alone else _SHORT_BY_OF_VIDEO_S
            stated_s = container.duration / 1e6
        else:
            return
        if self.seconds < stated_s - most_s:
            raise Unusable(f"it ends after {self.seconds:.1f} s though it says {stated_s:.1f} s")


def _ogg_is_whole(path: str) -> bool:
    with Path(path).open("rb") as file:
        file.seek(max(0, Path(path).stat().st_size - _LARGEST_OGG_PAGE))
        end = file.read()
    at = end.rfind(b"OggS")
    return at >= 0 and len(end) > at + 5 and bool(end[at + 5] & _OGG_LAST_PAGE)


def _mp3_states_length(path: str) -> bool:
    with Path(path).open("rb") as file:
        start = file.read(_FIRST_BYTES)
    return any(tag in start for tag in _MP3_LENGTH)


def _send(out: BinaryIO, letter: bytes, data: bytes) -> None:
    out.write(letter + struct.pack("<I", len(data)) + data)


if __name__ == "__main__":
    try:
        main(sys.argv[1], sys.stdout.buffer)
        sys.stdout.buffer.flush()
    except BrokenPipeError:  # the parent wants no more
        sys.stderr.close()
