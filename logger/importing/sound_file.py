"""Bring a sound file into a session: a copy where that will do, else its samples as WAV."""
# SPDX-License-Identifier: GPL-2.0-or-later

import errno
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from itertools import count, takewhile
from pathlib import Path
from typing import BinaryIO

from logger.errors import AudioError
from logger.folder.names import audio_file_name
from logger.folder.sound_reading import (
    SoundFacts,
    block_frames,
    for_library,
    load_soundfile,
    open_sound,
    plain_facts,
    refuse_not_finite,
)
from logger.folder.wav_repair import WavLayout, read_wav_layout, wav_header
from logger.importing.media_file import Block, Media, look_at_media, open_media
from logger.session import SAMPLE_RATES_HZ

Progress = Callable[[float], None]

SHORTEST_S = 1.0
LARGEST_PIECE_BYTES = 1 << 31  # half of what a WAV file's sizes can tell; some readers stop here
_COPY_BYTES = 1 << 20
_WAV_SUBTYPES = {8: "PCM_U8", 16: "PCM_16", 24: "PCM_24", 32: "PCM_32"}
_FLOAT_SUBTYPES = {32: "FLOAT", 64: "DOUBLE"}


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundToImport:
    """A sound file that can be used; ``media`` is None where it holds samples as they are."""

    path: Path
    channel: int | None
    facts: SoundFacts
    media: Media | None = None


def look_at_sound(path: Path, channel: int | None) -> SoundToImport:
    """Check a sound file before anything is written.

    Raises
    ------
    AudioError
        It cannot be read, is too short, or has no such channel.
    """
    facts, media = plain_facts(path), None
    if facts is None:
        media = look_at_media(path)
        facts = media.facts
    low, high = SAMPLE_RATES_HZ
    if not low <= facts.sample_rate_hz <= high:
        raise AudioError(
            f"{path} has {facts.sample_rate_hz:,.0f} samples per second, which cannot be analysed; "
            f"it must have {low:,.0f} to {high:,.0f}: export it again at 48,000"
        )
    if facts.duration_s < SHORTEST_S:
        raise AudioError(
            f"{path} has {facts.frame_count} samples ({facts.duration_s:.3g} s); "
            f"at least {SHORTEST_S:g} s are needed, and a sweep of 15 s or more to find a drone"
        )
    if channel is not None and not 1 <= channel <= facts.channel_count:
        raise AudioError(
            f"{path} has no channel {channel}; give --channel 1 to {facts.channel_count}"
        )
    return SoundToImport(path=path, channel=channel, facts=facts, media=media)


def write_sound(
    sound: SoundToImport,
    folder: Path,
    progress: Progress,
    *,
    first_number: int = 1,
    piece_bytes: int = LARGEST_PIECE_BYTES,
) -> int:
    """Write ``audio.wav`` (and ``audio-2.wav``, ...) with the same rate, depth and samples.

    Starts with the file of ``first_number``, and gives the number after the last.

    Raises
    ------
    AudioError
        The sound turns out damaged, or holds values that are not finite.
    OSError
        A file cannot be written.
    """
    layout = None
    if sound.media is None:
        if sound.facts.is_float:
            _refuse_not_finite(sound)
        layout = read_wav_layout(sound.path)
    if layout is None or sound.channel is not None:
        return _write_samples(sound, folder, progress, piece_bytes, first_number)
    if sound.facts.sizes_are_wrong or layout.data_bytes > piece_bytes:
        return _copy_samples(layout, folder, progress, piece_bytes, first_number)
    # byte by byte, with what else the file holds: whatever a recorder noted in it stays
    size = sound.path.stat().st_size
    target = folder / audio_file_name(first_number)
    with sound.path.open("rb") as file, target.open("xb") as copy:
        for done in _copy_bytes(file, copy, size):
            progress(done / size)
    return first_number + 1


def _refuse_not_finite(sound: SoundToImport) -> None:
    frames = block_frames(sound.facts.sample_rate_hz, sound.facts.channel_count)
    with sample_blocks(sound, frames) as blocks:
        for block in blocks:
            refuse_not_finite(sound.path, block)


def _copy_samples(
    layout: WavLayout, folder: Path, progress: Progress, piece_bytes: int, first_number: int
) -> int:
    """Copy the bytes of the samples, under headers that are right."""
    number, whole = first_number, piece_bytes // layout.frame_bytes * layout.frame_bytes
    with layout.path.open("rb") as file:
        file.seek(layout.data_offset)
        for done in range(0, layout.data_bytes, whole):
            size = min(whole, layout.data_bytes - done)
            with (folder / audio_file_name(number)).open("xb") as copy:
                copy.write(wav_header(layout.fmt, size))
                for part in _copy_bytes(file, copy, size):
                    progress((done + part) / layout.data_bytes)
                # chunks have an even length; the size does not count it
                copy.write(b"\0" * (size % 2))
            number += 1
    return number


def _copy_bytes(file: BinaryIO, copy: BinaryIO, size: int) -> Iterator[int]:
    """Copy piece by piece; yield how many bytes are done."""
    done = 0
    while done < size:
        data = file.read(min(_COPY_BYTES, size - done))
        if not data:
            raise AudioError("the sound file became shorter while it was copied; try again")
        copy.write(data)
        done += len(data)
        yield done


def _write_samples(
    sound: SoundToImport, folder: Path, progress: Progress, piece_bytes: int, first_number: int
) -> int:
    """Decode, and encode as WAV of equal depth: integers as integers, floats as floats."""
    facts = sound.facts
    if sound.channel is not None:
        facts = replace(facts, channel_count=1)
    frames = min(
        piece_bytes // (facts.channel_count * facts.bit_depth // 8),
        block_frames(facts.sample_rate_hz, sound.facts.channel_count),
    )
    with sample_blocks(sound, frames) as blocks:
        done, number = write_blocks(
            blocks, facts, folder, progress, piece_bytes=piece_bytes, first_number=first_number
        )
    if done != facts.frame_count:
        raise AudioError(
            f"{sound.path} ends after {done / facts.sample_rate_hz:.1f} s though its header says "
            f"{facts.duration_s:.1f} s; export it again, or mend it with a sound editor"
        )
    return number


def write_blocks(
    blocks: Iterator[Block],
    facts: SoundFacts,
    folder: Path,
    progress: Progress,
    *,
    piece_bytes: int = LARGEST_PIECE_BYTES,
    first_number: int = 1,
) -> tuple[int, int]:
    """Write blocks of samples [shape=(n, channels)] as WAV of the kind that ``facts`` tell.

    No block is larger than a piece. Gives the frames written, and the number after the last file.
    """
    soundfile = load_soundfile()
    subtype = (_FLOAT_SUBTYPES if facts.is_float else _WAV_SUBTYPES)[facts.bit_depth]
    piece_frames = piece_bytes // (facts.channel_count * facts.bit_depth // 8)
    done, number, in_piece = 0, first_number, piece_frames
    with ExitStack() as open_piece:
        for block in blocks:
            in_piece += len(block)
            if in_piece > piece_frames:
                open_piece.close()
                piece = soundfile.SoundFile(
                    for_library(folder / audio_file_name(number)),
                    "x",
                    samplerate=int(facts.sample_rate_hz),
                    channels=facts.channel_count,
                    subtype=subtype,
                    format="WAV",
                )
                open_piece.enter_context(piece)
                number, in_piece = number + 1, len(block)
            try:
                piece.write(block)
            except soundfile.LibsndfileError as error:  # blame no sound that is being read
                raise OSError(errno.ENOSPC, "the disk is full or gone", str(folder)) from error
            done += len(block)
            progress(min(1.0, done / facts.frame_count))
    return done, number


@contextmanager
def sample_blocks(sound: SoundToImport, frames: int) -> Iterator[Iterator[Block]]:
    """Open a sound to go through its samples [shape=(n, channels)]: int32 or float64, as it has."""
    dtype = "float64" if sound.facts.is_float else "int32"
    kept = slice(None) if sound.channel is None else slice(sound.channel - 1, sound.channel)
    opened = open_sound(sound.path) if sound.media is None else open_media(sound.path)
    with opened as file:
        read = (file.read(frames, dtype=dtype, always_2d=True)[:, kept] for _ in count())
        yield takewhile(len, read)
