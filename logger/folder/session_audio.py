"""The sound files of a session folder: what their headers say."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from pathlib import Path

from logger.errors import AudioError, SessionError
from logger.folder.names import audio_files
from logger.folder.sound_reading import SoundFacts, plain_facts
from logger.folder.wav_writer import HEADER_BYTES


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionAudio:
    """The sound files of one session, in order, and what they have in common.

    ``sample_rate_hz`` is None without sound; ``was_cut`` is true when a header does not fit its
    file.
    """

    files: tuple[Path, ...]
    sample_rate_hz: float | None
    channel_count: int
    frame_count: int
    was_cut: bool


def read_audio(folder: Path) -> SessionAudio:
    """Look at the headers of a session's sound files.

    Raises
    ------
    SessionError
        A file cannot be read, or the files do not belong together.
    """
    files: list[Path] = []
    facts: list[SoundFacts] = []
    was_cut = False
    for file in audio_files(folder):
        if file.stat().st_size < HEADER_BYTES:  # killed before it wrote a whole header
            was_cut = True
            continue
        try:
            fact = plain_facts(file)
        except AudioError as error:
            raise SessionError(str(error)) from error
        if fact is None:
            raise SessionError(f"{file} is no WAV file that can be read; import its sound anew")
        files.append(file)
        facts.append(fact)
    kinds = {(fact.sample_rate_hz, fact.channel_count) for fact in facts}
    if len(kinds) > 1:
        raise SessionError(
            f"the sound files of {folder} differ in rate or channels, so they are not one drive; "
            "import each one by itself"
        )
    sample_rate_hz, channel_count = next(iter(kinds), (None, 0))
    return SessionAudio(
        files=tuple(files),
        sample_rate_hz=sample_rate_hz,
        channel_count=channel_count,
        frame_count=sum(fact.frame_count for fact in facts),
        was_cut=was_cut or any(fact.sizes_are_wrong for fact in facts),
    )
