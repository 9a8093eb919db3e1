"""All that later stages take from the sound, once engine speed is known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from analysis.basics.progress import Progress, stage
from analysis.drive import Sound
from analysis.errors import DriveError
from analysis.find.sound.gaps import SoundGaps
from analysis.find.sound.level_map import LevelsBySpeed, levels_by_speed
from analysis.find.sound.order_tracking import (
    HOP_S,
    LINES,
    REVOLUTIONS,
    OrderFrames,
    OrderSpectra,
    frame_centres,
    order_spectra,
    track_orders,
)
from analysis.find.sound.speed_rows import SpeedRows
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.steady_tones import steady_tones
from analysis.find.sound.tone_removal import take_out
from analysis.find.sound.weighting import FULL_SCALE_SINE_DB
from analysis.find.sound.wide_bands import BandLevels, band_levels
from analysis.find.sound.working_copy import SampleFacts, WorkingCopy
from analysis.findings import OrderMap, SteadyTone

_LEAST_HEARD_S = 3.0  # judgement: no sweep fits into less; refused, never guessed
_MUCH_LOST = 0.1  # of the sound; judgement: then that is why too little is left


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What one drive's sound holds.

    Attributes
    ----------
    facts, gaps : the recording itself, and what is missing of it
    is_flattened : the microphone's response was known and taken out
    frames, order_map : level of each engine order, by moment and by engine speed
    levels : level by frequency, and overall
    wide : of wind, engine and voice
    tones : steady tones, taken out of ``frames`` and ``order_map`` but not of the levels
    full_scale_db : added to 10 lg(mean square) to give a level
    """

    facts: SampleFacts
    gaps: SoundGaps
    is_flattened: bool
    frames: OrderFrames
    order_map: OrderMap
    levels: LevelsBySpeed
    wide: BandLevels
    tones: tuple[SteadyTone, ...]
    full_scale_db: float


def hear(copy: WorkingCopy, sound: Sound, track: SpeedTrack, progress: Progress) -> Heard:
    """Listen to the working copy of ``sound`` along the engine speed of ``track``.

    Raises
    ------
    DriveError
        Sound and engine speed are known together for less than three seconds.
    """
    full_scale_db = FULL_SCALE_SINE_DB + (sound.full_scale_db_spl or 0.0)
    heard_s = HOP_S * frame_centres(copy, track).size
    if heard_s < _LEAST_HEARD_S:
        raise DriveError(_too_little(heard_s, copy))
    levels = levels_by_speed(copy, track, full_scale_db, stage(progress, 0.0, 0.4))
    tones = take_out(copy, steady_tones(levels.picture))
    rows = SpeedRows(float(np.nanmax(track.rpm)), LINES)
    frames = track_orders(_counted_in(rows, order_spectra(copy, track)))
    progress(0.9)
    wide = band_levels(copy)
    progress(1.0)
    return Heard(
        facts=copy.facts,
        gaps=copy.gaps,
        is_flattened=bool(sound.response),
        frames=frames,
        order_map=OrderMap(
            rpm=rows.rpm,
            engine_order=np.arange(LINES) / REVOLUTIONS,
            level_db=rows.line_db(full_scale_db),
        ),
        levels=levels,
        wide=wide,
        tones=tones,
        full_scale_db=full_scale_db,
    )


def _counted_in(rows: SpeedRows, spectra: Iterable[OrderSpectra]) -> Iterator[OrderSpectra]:
    """Add every part to the rows while it passes by: of a drive of hours none can be kept."""
    for part in spectra:
        rows.add(part.rpm, part.mean_square)
        yield part


def _too_little(heard_s: float, copy: WorkingCopy) -> str:
    lost_s = copy.gaps.lost_s
    what_to_do = (
        f"{lost_s:,.0f} s of its sound were lost, so drive again"
        if lost_s > _MUCH_LOST * copy.duration_s
        else "check that both files are of the same drive"
    )
    return (
        f"only {heard_s:.0f} s of the drive have both sound and engine speed; "
        f"at least {_LEAST_HEARD_S:.0f} s are needed: {what_to_do}"
    )
