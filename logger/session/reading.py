"""A session folder as it is read, also one that was killed half-way."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.drive import Drive, Engine, Sound, Trouble
from logger.errors import SessionError
from logger.folder.gaps import GapFiller
from logger.folder.names import TELEMETRY_FILE
from logger.folder.session_audio import SessionAudio, read_audio
from logger.folder.sound_reading import read_mono_blocks
from logger.folder.telemetry_file import TelemetryRead, read_telemetry
from logger.session.metadata import SessionMetadata, read_metadata

if TYPE_CHECKING:  # what is no session is refused without it
    import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A session folder as it was read; the sound stays in its files.

    Attributes
    ----------
    telemetry : pandas.DataFrame
        Rows in the order of ``time_s``; no rows when the session has no telemetry.
    audio_files : tuple of Path
        In order; empty for a session of levels only.
    sample_rate_hz : float or None
    channel_count : int
        0 without sound.
    """

    path: Path
    metadata: SessionMetadata
    telemetry: pd.DataFrame
    audio_files: tuple[Path, ...]
    sample_rate_hz: float | None
    channel_count: int
    frame_count: int

    def drive(self, *, channel: int | None = None, engine: Engine | None = None) -> Drive:
        """Join sound and telemetry; ``channel`` counts from 1, None is the first of the cabin.

        ``engine`` overrules what the session says. The sound is read when the drive's blocks are,
        and a file that turns out damaged then raises :class:`logger.errors.AudioError`.

        Raises
        ------
        SessionError
            There is no such channel, or it is no sound of the cabin.
        """
        return Drive(
            name=self.metadata.name,
            engine=engine or self._engine(),
            sound=self._sound(channel),
            tail=self._tail(channel),
            telemetry=self.telemetry,
            trouble=self.metadata.trouble,
            marks_s=self.metadata.marks_s,
        )

    def _sound(self, channel: int | None) -> Sound | None:
        if self.sample_rate_hz is None or self.frame_count == 0:
            return None
        return self._of_channel(self._cabin_channel(channel), self.sample_rate_hz)

    def _tail(self, channel: int | None) -> Sound | None:
        """Sound at the tail, unless it is asked for as if it were the cabin's."""
        tail = self.metadata.tail_channel  # may name one that a file made by hand does not have
        if self.sample_rate_hz is None or self.frame_count == 0 or tail in (None, channel):
            return None
        return self._of_channel(tail, self.sample_rate_hz) if tail <= self.channel_count else None

    def _of_channel(self, channel: int, sample_rate_hz: float) -> Sound:
        gaps = GapFiller(self.metadata.sound_gaps, sample_rate_hz, self.frame_count)
        return Sound(
            sample_rate_hz=sample_rate_hz,
            frame_count=gaps.frame_count,
            read_blocks=lambda: gaps.fill(read_mono_blocks(self.audio_files, channel)),
            full_scale_db_spl=self.metadata.full_scale_db_spl,
            gaps_s=gaps.gaps_s,
            response=self.metadata.response,
            channel=channel,
            other_channels=tuple(each for each in self._cabin_channels if each != channel),
        )

    def _cabin_channel(self, wanted: int | None) -> int:
        if wanted is not None and not 1 <= wanted <= self.channel_count:
            raise SessionError(
                f"{self.path} has no channel {wanted}; choose one of 1 to {self.channel_count}"
            )
        pickups, cabin = self.metadata.pickup_channels, self._cabin_channels
        if not cabin:
            raise SessionError(
                f"{self.path} holds no sound of the cabin, only an ignition pickup or the tail; "
                "record again with the microphone in another channel"
            )
        if wanted in pickups:
            raise SessionError(
                f"channel {wanted} of {self.path} is the ignition pickup; choose channel {cabin[0]}"
            )
        return cabin[0] if wanted is None else wanted

    @property
    def _cabin_channels(self) -> list[int]:
        others = (*self.metadata.pickup_channels, self.metadata.tail_channel)
        return [each for each in range(1, self.channel_count + 1) if each not in others]

    def _engine(self) -> Engine | None:
        if self.metadata.cylinders is None:
            return None
        return Engine(cylinders=self.metadata.cylinders, stroke_cycle=self.metadata.stroke_cycle)


def read_session(path: Path) -> Session:
    """Read a session folder, also one that was killed half-way.

    Raises
    ------
    SessionError
        It is no session folder, is damaged, or comes from a newer version.
    """
    metadata, is_finished = read_metadata(path)
    telemetry = read_telemetry(path / TELEMETRY_FILE)
    audio = read_audio(path)
    trouble = (*metadata.trouble, *_trouble(telemetry, audio, is_finished=is_finished))
    return Session(
        path=path,
        metadata=replace(metadata, trouble=trouble),
        telemetry=telemetry.frame,
        audio_files=audio.files,
        sample_rate_hz=audio.sample_rate_hz,
        channel_count=audio.channel_count,
        frame_count=audio.frame_count,
    )


def _trouble(
    telemetry: TelemetryRead, audio: SessionAudio, *, is_finished: bool
) -> Iterator[Trouble]:
    signs = {
        "the recording was never finished": not is_finished,
        "the sound's header does not fit its length": audio.was_cut,
        "the last telemetry line is incomplete": telemetry.was_cut,
    }
    if any(signs.values()):
        told = ", ".join(words for words, is_so in signs.items() if is_so)
        message = f"The session was interrupted ({told}); what was saved until then is used."
        yield Trouble(code="interrupted", message=message)
    if telemetry.rows_dropped:
        message = (
            f"{telemetry.rows_dropped} telemetry rows were left out: they are damaged, or their "
            "time does not rise."
        )
        yield Trouble(code="telemetry_rows_dropped", message=message)
