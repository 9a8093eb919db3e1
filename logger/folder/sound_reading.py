"""Read sound files in blocks, with a repaired header where a writer was killed.

The sound library is loaded only when sound is really read, so that everything else works
without it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from logger.arrays import Samples
from logger.errors import AudioError
from logger.folder.wav_repair import RepairedWav, WavLayout, read_wav_layout
from logger.folder.wav_repair import SoundFacts as SoundFacts  # what is read here

# blocks under a second make reading several times slower; judgement: memory against time
_BLOCK_S = 8.0
_BLOCK_SAMPLES = 8_000_000  # of all channels: 64 MB at most; judgement: memory, no value changes

# Bits of a sample in each kind, by definition.
_BIT_DEPTHS = {
    "PCM_S8": 8,
    "PCM_U8": 8,
    "PCM_16": 16,
    "PCM_24": 24,
    "PCM_32": 32,
    "FLOAT": 32,
    "DOUBLE": 64,
}
# what libsndfile notes beside a size in a header that the file's own length belies
_SIZE_CORRECTED = "(should be "
_WHOLE_NUMBERS = {"PCM_16": "int16", "PCM_24": "int32", "PCM_32": "int32"}


def plain_facts(path: Path) -> SoundFacts | None:
    """Look at the header of a file that holds samples as they are: WAV, FLAC, AIFF and the like.

    None where it holds anything else.

    Raises
    ------
    AudioError
        It is a WAV file with a damaged header, or it cannot be opened.
    """
    layout = _layout(path)
    if layout is not None:
        return layout.facts
    if _begins_as_mpeg(path):
        return None
    soundfile = load_soundfile()
    try:
        file = soundfile.info(for_library(path))
    except soundfile.LibsndfileError:
        return None
    if file.subtype not in _BIT_DEPTHS:
        return None
    return SoundFacts(
        sample_rate_hz=float(file.samplerate),
        bit_depth=_BIT_DEPTHS[file.subtype],
        is_float=file.subtype in ("FLOAT", "DOUBLE"),
        channel_count=int(file.channels),
        frame_count=int(file.frames),
        sizes_are_wrong=_SIZE_CORRECTED in file.extra_info,
    )


def block_frames(sample_rate_hz: float, channel_count: int) -> int:
    """Give how many frames to read at once."""
    return max(1, min(int(_BLOCK_S * sample_rate_hz), _BLOCK_SAMPLES // channel_count))


@contextmanager
def open_sound(path: Path) -> Iterator[Any]:
    """Open a sound file for reading; gives a ``soundfile.SoundFile``.

    Raises
    ------
    AudioError
        The file cannot be read, now or while the block runs.
    """
    soundfile = load_soundfile()
    layout = _layout(path)
    # read as if the header were right: the file itself is evidence, and is left as it is
    repaired = RepairedWav(layout) if layout is not None and layout.facts.sizes_are_wrong else None
    try:
        with soundfile.SoundFile(for_library(path) if repaired is None else repaired) as file:
            yield file
    except soundfile.LibsndfileError as error:
        raise AudioError(
            f"{path} cannot be read as sound ({error.error_string.strip().rstrip('.')}); "
            "export it as WAV or FLAC"
        ) from error
    finally:
        if repaired is not None:
            repaired.close()


def read_mono_blocks(files: Sequence[Path], channel: int) -> Iterator[Samples]:
    """Yield one channel (counted from 1) of several files that follow each other.

    Blocks are float32 [shape=(n,)], full scale -1..1.

    Raises
    ------
    AudioError
        A file cannot be read, or holds values that are not finite.
    """
    for path in files:
        with open_sound(path) as file:
            frames = block_frames(file.samplerate, file.channels)
            # the library turns whole numbers into fractions four times slower than numpy does
            kind = _WHOLE_NUMBERS.get(file.subtype, "float32")
            one_step = np.float32(1.0 if kind == "float32" else 1.0 / (1.0 + np.iinfo(kind).max))
            room = np.empty((frames, file.channels), dtype=kind)  # for every block in its turn
            while True:
                block = file.read(out=room)
                if block.shape[0] == 0:
                    break
                mono = block[:, channel - 1].astype(np.float32)
                mono *= one_step
                if kind == "float32":
                    refuse_not_finite(path, mono)
                yield mono


def refuse_not_finite(path: Path, samples: np.ndarray[Any, Any]) -> None:
    """Refuse samples that are no numbers: one of them would spoil every sum."""
    if not np.isfinite(samples).all():
        raise AudioError(
            f"{path} holds values that are not numbers (NaN or infinite); export the sound again, "
            "as 24 bit"
        )


def for_library(path: Path) -> str | bytes:
    """Give the path as the library takes it: as bytes where a name need not be text."""
    return str(path) if os.name == "nt" else os.fsencode(path)


def load_soundfile() -> Any:  # noqa: ANN401  (the library has no types)
    """Import the sound file library.

    Raises
    ------
    AudioError
        It is not there, or its binary part cannot be loaded.
    """
    try:
        import soundfile
    except (ImportError, OSError) as error:
        raise AudioError(
            "sound files cannot be read because the soundfile library does not load "
            f"({error}); install it with: python -m pip install soundfile"
        ) from error
    return soundfile


def _begins_as_mpeg(path: Path) -> bool:
    """Say whether the library would write on the screen what it misses in MPEG sound."""
    with path.open("rb") as file:
        start = file.read(3)
    return start == b"ID3" or (start[:1] == b"\xff" and start[1:2] >= b"\xe0")


def _layout(path: Path) -> WavLayout | None:
    try:
        return read_wav_layout(path)
    except OSError as error:
        raise AudioError(f"cannot read {path}: {error.strerror or error}") from error
