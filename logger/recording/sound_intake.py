"""The sound of a drive as it comes: written, timed, metered, and handed to whoever listens."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence
from pathlib import Path

from logger.arrays import Samples
from logger.folder.gaps import SoundGap
from logger.folder.wav_writer import BYTES_PER_SAMPLE
from logger.microphone.contract import SoundBlock, SoundSource
from logger.microphone.level_meter import LevelMeter
from logger.recording.floor_watch import FloorWatch
from logger.recording.sound_clock import SoundClock
from logger.recording.sound_log import SoundLog
from logger.recording.sound_watch import SoundWatch
from logger.recording.trouble_log import TroubleLog
from logger.sources.contract import RpmSource, SoundListener, SourceError


class SoundIntake:
    """Feed it every block, and look in on it when none comes.

    Attributes
    ----------
    log : SoundLog
        The files.
    meter : LevelMeter
        Of the channels that hold sound of the cabin.
    """

    def __init__(
        self,
        sound: SoundSource,
        sources: Sequence[RpmSource],
        out: Path,
        clock: SoundClock,
        trouble: TroubleLog,
    ) -> None:
        self.log = SoundLog(out, sound.sample_rate_hz, sound.channel_count)
        self.meter = LevelMeter()
        self.watch = SoundWatch(trouble)
        self._floor = FloorWatch(sound.sample_rate_hz)
        self.bytes_per_s = sound.sample_rate_hz * sound.channel_count * BYTES_PER_SAMPLE
        self._rate_hz = sound.sample_rate_hz
        self._listeners = [source for source in sources if isinstance(source, SoundListener)]
        taken = {listener.channel - 1 for listener in self._listeners}
        columns = list(range(sound.channel_count))
        self._cabin = [at for at in columns if at not in taken] or columns
        self._clock = clock
        self._own = self._behind = ""

    def add(self, block: SoundBlock, now_s: float, most_s: float) -> None:
        """Write a block, or what of it is before session time ``most_s``."""
        # pulses on both sides of a loss are no neighbours, whatever time lies between
        if self.watch.hear(block.arrived_s, now_s, self._clock.session_s(now_s)):
            self._floor.forget()
            for listener in self._listeners:
                listener.break_off()
        self._follow(block.behind)
        samples, arrived_s = self._without_repeated(block), block.arrived_s
        if math.isfinite(most_s):
            room = max(0, round((most_s - self._clock.elapsed_s) * self._rate_hz))
            new_count, samples = samples.shape[0], samples[:room]
            # what is kept of the block was there before the rest of it
            arrived_s -= (new_count - samples.shape[0]) / self._rate_hz
        first_frame = self.log.frame_count
        # before anything is worked out from it: a kill in between then loses none of it
        self.log.write(samples)
        # a pickup is at full scale by nature, and would call every drive too loud
        self.meter.note(samples[:, self._cabin])
        self._note_gap(self._clock.note(samples.shape[0], arrived_s, is_flagged=block.is_flagged))
        end_s = self._clock.elapsed_s
        self._note_change(samples, end_s)
        self.watch.note_zeros(
            are_zeros=not samples[:, self._cabin].any(),
            start_s=end_s - samples.shape[0] / self._rate_hz,
            end_s=end_s,
        )
        self.watch.note_behind(block.behind, end_s)
        for listener in self._listeners:
            listener.hear(
                samples,
                first_frame=first_frame,
                sample_rate_hz=self._rate_hz,
                arrived_s=arrived_s,
            )

    def _follow(self, behind: str) -> None:
        """Tell the clock when the sound comes from another device; empty where nobody can tell."""
        self._own = self._own or behind
        if behind and self._behind not in ("", behind):
            self._clock.note_moved(is_elsewhere=behind != self._own)
        self._behind = behind or self._behind

    def _without_repeated(self, block: SoundBlock) -> Samples:
        """Leave out what came before it could be heard: the sound system gave it twice."""
        repeated_s = self._clock.too_early_s(block.samples.shape[0], block.arrived_s)
        if repeated_s > 0.0:
            self.watch.note_repeated(repeated_s, self._clock.elapsed_s)
        return block.samples[round(repeated_s * self._rate_hz) :]

    def look(self, now_s: float, refusal: str) -> None:
        """Notice that the microphone is gone, or back and not to be used."""
        if not self._clock.has_begun:
            return
        if self.watch.fell_silent(now_s):
            self._note_gap(self._clock.judge())
            self.watch.note_loss(self._clock.elapsed_s)
        self.watch.look(self._clock.session_s(now_s), refusal)

    def is_over(self, now_s: float, most_s: float) -> bool:
        """Tell whether session time ``most_s`` has come, with or without sound."""
        if not self._clock.has_begun:
            return False
        if self.watch.is_lost:
            # no sound, so its own clock stands still
            return self._clock.session_s(now_s) >= most_s
        # half a frame less: the last block was cut at a whole one
        return self._clock.elapsed_s >= most_s - 0.5 / self._rate_hz

    def judge(self) -> None:
        """Say what was wrong with the sound, now that no more of it comes."""
        self._note_gap(self._clock.judge())
        self.watch.end_if_back()
        fit = self._clock.fit()
        if not fit.is_a_cards:
            self.watch.note_pace(fit.sound_fast_ppm or 0.0)
        self.watch.end_zeros(self._clock.elapsed_s)

    def _note_change(self, samples: Samples, end_s: float) -> None:
        """Look whether the sound itself changed; silence is told elsewhere."""
        cabin = samples[:, self._cabin]
        if not cabin.any():
            self._floor.forget()
            return
        change = self._floor.note(cabin, end_s)
        if change is not None:
            self.watch.note_change(change)

    def _note_gap(self, gap: SoundGap | None) -> None:
        if gap is not None:
            self.watch.note_gap(gap, self._clock.timeline.at_frame(gap.after_frame))


def pickup_channels(sources: Sequence[RpmSource], channel_count: int) -> tuple[int, ...]:
    """Give the channels that sources listen to, counted from 1, rising.

    Raises
    ------
    SourceError
        A source listens to a channel that is not recorded, or they leave none for the cabin.
    """
    taken: set[int] = set()
    for source in sources:
        if not isinstance(source, SoundListener):
            continue
        if source.channel > channel_count:
            raise SourceError(
                f"{source.name} listens to channel {source.channel} of the recording, which has "
                f"{channel_count}; record more with --channels, or choose another --microphone"
            )
        taken.add(source.channel)
    if len(taken) == channel_count:
        raise SourceError(
            "no channel is left for the sound of the cabin; record one more with --channels, with "
            "the microphone in it, or leave the pulse source out"
        )
    return tuple(sorted(taken))
