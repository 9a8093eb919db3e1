"""The sound of a drive in one or several files, one behind the other."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from logger.errors import AudioError
from logger.folder.gaps import SoundGap
from logger.folder.sound_reading import SoundFacts
from logger.importing.sound_file import Progress, SoundToImport, look_at_sound, write_sound

if TYPE_CHECKING:  # only a second recorder is aligned
    from logger.importing.sound_alignment import Alignment

# A media file tells its start in whole seconds, and phones need a moment to start the next one.
# judgement: less than this is no gap
_SHORTEST_GAP_S = 2.0
_LONGEST_GAP_S = 3600.0  # judgement: what lies further apart is of two drives


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A second recorder's file, and how it lies on the first one's."""

    sound: SoundToImport
    alignment: Alignment


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveSound:
    """Sound files that were looked at and can be used, in their order.

    Attributes
    ----------
    facts : SoundFacts
        Of all parts together; without the gaps.
    gaps : tuple of SoundGap
        Within the parts and between them.
    beside : Beside or None
        A second recorder, whose channels come behind those of the parts.
    notes : tuple of str
        Assumptions, one sentence each.
    """

    parts: tuple[SoundToImport, ...]
    facts: SoundFacts
    gaps: tuple[SoundGap, ...]
    beside: Beside | None = None
    notes: tuple[str, ...] = ()

    @property
    def channel_count(self) -> int:
        """Channels that are kept."""
        both = self.beside.sound.facts.channel_count if self.beside else 0
        return both + (1 if self.first.channel is not None else self.first.facts.channel_count)

    @property
    def first(self) -> SoundToImport:
        """The part that the drive begins with."""
        return self.parts[0]


def look_at_parts(paths: Sequence[Path], channel: int | None) -> DriveSound:
    """Check sound files before anything is written.

    Raises
    ------
    AudioError
        One cannot be used, they are not of one kind, or their own times say that they are not
        parts of one recording.
    """
    parts = [look_at_sound(path, channel) for path in paths]
    _refuse_unlike(parts)
    between, told = _between(parts)
    facts = parts[0].facts
    notes: tuple[str, ...] = ()
    if len(parts) > 1:
        names = ", ".join(part.path.name for part in parts)
        notes = (f"{names} were joined in this order{told}.",)
    return DriveSound(
        parts=tuple(parts),
        facts=replace(facts, frame_count=sum(part.facts.frame_count for part in parts)),
        gaps=tuple(_gaps(parts, between)),
        notes=notes,
    )


def write_parts(sound: DriveSound, folder: Path, progress: Progress) -> None:
    """Write ``audio.wav`` and those that follow, as :func:`write_sound` does."""
    done, number = 0, 1
    for part in sound.parts:
        start, share = done, part.facts.frame_count / sound.facts.frame_count

        def tell(fraction: float, start: int = start, share: float = share) -> None:
            progress(start / sound.facts.frame_count + share * fraction)

        number = write_sound(part, folder, tell, first_number=number)
        done += part.facts.frame_count


def _refuse_unlike(parts: Sequence[SoundToImport]) -> None:
    first = parts[0].facts
    for part in parts[1:]:
        facts = part.facts
        if (facts.sample_rate_hz, facts.channel_count, facts.bit_depth, facts.is_float) != (
            first.sample_rate_hz,
            first.channel_count,
            first.bit_depth,
            first.is_float,
        ):
            raise AudioError(
                f"{parts[0].path.name} and {part.path.name} differ in sample rate, channels or "
                "depth, so they are no parts of one recording; a second recorder's file goes with "
                "--second-audio"
            )


def _between(parts: Sequence[SoundToImport]) -> tuple[list[float], str]:
    """Seconds without sound behind each part but the last, by the files' own times."""
    if len(parts) == 1:
        return [], ""
    starts = (part.media.origin.start_time_utc for part in parts if part.media is not None)
    told = [start for start in starts if start is not None]
    if len(told) < len(parts):
        return [0.0] * (len(parts) - 1), ", without a gap"
    between = []
    for (a, a_at), (b, b_at) in pairwise(zip(parts, told, strict=True)):
        apart_s = (b_at - a_at).total_seconds()
        # some phones write when a file began, some when it ended
        gap_s = min(apart_s - a.facts.duration_s, apart_s - b.facts.duration_s, key=abs)
        if gap_s < -_SHORTEST_GAP_S or gap_s > _LONGEST_GAP_S:
            raise AudioError(
                f"by their own times {b.path.name} began {apart_s:.0f} s after {a.path.name}, "
                f"which is {a.facts.duration_s:.0f} s long, so they are no parts of one recording; "
                "give the parts in their order, a second recorder's file with --second-audio, and "
                "another drive to another import"
            )
        between.append(gap_s if gap_s > _SHORTEST_GAP_S else 0.0)
    lost = sum(between)
    if not lost:
        return between, ", without a gap"
    return between, f", with {lost:.0f} s missing between them by their own times"


def _gaps(parts: Sequence[SoundToImport], between: Sequence[float]) -> Iterator[SoundGap]:
    frames = 0
    for part, gap_s in zip(parts, [*between, 0.0], strict=True):
        for gap in part.media.gaps if part.media else ():
            yield replace(gap, after_frame=frames + gap.after_frame)
        frames += part.facts.frame_count
        if gap_s:
            yield SoundGap(after_frame=frames, duration_s=gap_s)
