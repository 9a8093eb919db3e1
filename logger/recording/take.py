"""The files of one recording while it runs, and what was noticed on the way."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import contextlib
import errno
import math
import shutil
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from types import TracebackType

import numpy as np
from numpy.typing import NDArray

from logger.folder.atomic import replace_file
from logger.folder.gaps import SoundGap
from logger.folder.names import METADATA_FILE
from logger.folder.wav_writer import BYTES_PER_SAMPLE
from logger.microphone.device import SoundBlock, SoundSource
from logger.microphone.level_meter import LevelMeter
from logger.recording.clock_watch import Clocks, ClockWatch
from logger.recording.coverage import CoverageWatch, driving_range_rpm
from logger.recording.rpm_choice import RpmChoice
from logger.recording.sound_log import SoundLog
from logger.recording.sound_watch import SoundWatch
from logger.recording.source_station import SourceStation
from logger.recording.status import Status
from logger.recording.telemetry_log import TelemetryLog
from logger.recording.timeline import SoundClock
from logger.recording.trouble_log import TroubleLog
from logger.session import SessionMetadata, Trouble, encode_metadata
from logger.sources.contract import Reading, RpmSource, SoundListener

FloatArray = NDArray[np.float64]

_SYNC_S = 1.0
_BYTES_PER_READING = 60


class Take:
    """Fill the files of a session; leaving it finishes them, also after a full disk."""

    def __init__(
        self,
        sound: SoundSource,
        sources: Sequence[RpmSource],
        out: Path,
        metadata: SessionMetadata,
        read_clocks: Callable[[], Clocks],
    ) -> None:
        self._out = out
        self._metadata = metadata
        self._rate_hz = sound.sample_rate_hz
        self._channel_count = sound.channel_count
        self._stations = [SourceStation(source) for source in sources]
        self._rpm_choice = RpmChoice([source.name for source in sources])
        self._listeners = [source for source in sources if isinstance(source, SoundListener)]
        self._cabin = _cabin_columns(sound.channel_count, self._listeners)
        self._clock = SoundClock(sound.sample_rate_hz)
        self._clock_watch = ClockWatch(read_clocks)
        self._meter = LevelMeter()
        self._trouble = TroubleLog()
        self._sound_watch = SoundWatch(self._trouble)
        self._coverage = CoverageWatch(driving_range_rpm(metadata.car))
        self._marks_s: list[float] = []
        self._synced_s = -math.inf
        self._disk_left_s = math.inf

    def __enter__(self) -> Take:
        self._save("recording")
        self._sound = SoundLog(self._out, self._rate_hz, self._channel_count)
        self._telemetry = TelemetryLog(self._out)
        for station in self._stations:
            station.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        for station in self._stations:
            station.close()
        self._judge_sound()
        if isinstance(error, OSError):
            self._rescue(error)
            return
        try:
            self._finish()
        except OSError as failure:
            self._rescue(failure)
            raise

    @property
    def frame_count(self) -> int:
        """Frames recorded so far."""
        return self._sound.frame_count

    @property
    def sound_is_lost(self) -> bool:
        """Whether the microphone is gone."""
        return self._sound_watch.is_lost

    @property
    def elapsed_s(self) -> float:
        """Session time at the end of the sound so far."""
        return self._clock.elapsed_s

    @property
    def reading_count(self) -> int:
        """Readings recorded so far."""
        return self._telemetry.row_count

    @property
    def trouble(self) -> tuple[Trouble, ...]:
        """Everything that was noticed."""
        return self._trouble.all

    def add(self, block: SoundBlock, now_s: float, most_s: float) -> None:
        """Write a block, or what of it is before session time ``most_s``."""
        if self._sound_watch.hear(block.arrived_s, now_s, self._session_s(now_s)):
            for listener in self._listeners:
                listener.break_off()
        samples, arrived_s = block.samples, block.arrived_s
        if math.isfinite(most_s):
            room = max(0, round((most_s - self._clock.elapsed_s) * self._rate_hz))
            samples = samples[:room]
            arrived_s -= (block.samples.shape[0] - samples.shape[0]) / self._rate_hz
        first_frame = self.frame_count
        self._sound.write(samples)
        self._meter.note(samples[:, self._cabin])
        gap = self._clock.note(samples.shape[0], arrived_s, is_flagged=block.is_flagged)
        self._note_gap(gap)
        for listener in self._listeners:
            listener.hear(
                samples,
                first_frame=first_frame,
                sample_rate_hz=self._rate_hz,
                arrived_s=arrived_s,
            )

    def add_readings(self) -> None:
        """Write what the sources brought, once there is a clock to place it on."""
        if not self.frame_count:
            return
        for station in self._stations:
            for event in station.events():
                if isinstance(event, Reading):
                    self._add_reading(station, event)
                else:
                    at_s = self._session_s(event.at_s)
                    self._trouble.begin(station.name, event.code, event.message, at_s)

    def _add_reading(self, station: SourceStation, reading: Reading) -> None:
        station.note(reading)
        self._trouble.end(station.name, self._session_s(reading.midpoint_s))
        at_s = self._place_now(reading)
        is_wanted, left_out = self._rpm_choice.judge(station.name, reading.quantity)
        if left_out:
            self._trouble.note("rpm_left_out", left_out, at_s)
        if is_wanted:
            self._telemetry.append(reading, at_s)
            self._coverage.note(reading.quantity, at_s, reading.value)

    def watch_sound(self, now_s: float, refusal: str) -> None:
        """Notice that the microphone is gone, or back and not to be used."""
        if not self.frame_count:
            return
        if self._sound_watch.fell_silent(now_s):
            self._note_gap(self._clock.judge())
            self._sound_watch.note_loss(self._clock.elapsed_s)
        self._sound_watch.look(self._session_s(now_s), refusal)

    def mark(self, now_s: float) -> None:
        """Keep this moment."""
        if self.frame_count:
            self._marks_s.append(round(self._session_s(now_s), 3))
            self._trouble.has_news = True

    def is_over(self, now_s: float, most_s: float) -> bool:
        """Tell whether session time ``most_s`` has come, with or without sound."""
        if not self.frame_count:
            return False
        if self.sound_is_lost:
            return self._session_s(now_s) >= most_s
        return self._clock.elapsed_s >= most_s - 0.5 / self._rate_hz

    def tend(self, now_s: float) -> None:
        """Once a second: clocks, disk, and everything written is on the disk."""
        if now_s - self._synced_s < _SYNC_S:
            return
        self._synced_s = now_s
        trouble = self._clock_watch.look()
        if trouble is not None and self.frame_count:
            start_s = self._session_s(trouble.from_perf_s)
            self._trouble.note(trouble.code, trouble.message, start_s, trouble.duration_s)
        self._sound.sync()
        self._telemetry.sync()
        if self._trouble.has_news:
            self._save("recording")
        free_bytes = shutil.disk_usage(self._out).free
        self._disk_left_s = free_bytes / self._bytes_per_second(now_s)

    def status(self, now_s: float) -> Status:
        """Tell how it stands."""
        level = self._meter.look()
        full_scale_db = self._metadata.full_scale_db_spl
        offset_db = full_scale_db or 0.0
        stations = [
            station.state(now_s, self._trouble.words(station.name)) for station in self._stations
        ]
        return Status(
            elapsed_s=self._session_s(now_s) if self.sound_is_lost else self._clock.elapsed_s,
            level_db=level.level_db + offset_db,
            peak_db=level.peak_db + offset_db,
            full_scale_db=offset_db,
            level_unit="dB re full scale" if full_scale_db is None else "dB SPL",
            is_too_loud=level.is_too_loud,
            rpm=_newest(
                station.fresh("rpm", now_s)
                for station in self._stations
                if self._rpm_choice.is_recorded(station.name)
            ),
            road_speed_m_s=_newest(
                station.fresh("road_speed_m_s", now_s) for station in self._stations
            ),
            devices=(self._sound_watch.state(has_begun=self.frame_count > 0), *stations),
            disk_left_s=self._disk_left_s,
            trouble_count=len(self._trouble.all),
            last_trouble=self._trouble.all[-1].message if self._trouble.all else "",
            mark_count=len(self._marks_s),
            coverage=self._coverage.look() if self._stations else None,
        )

    def _judge_sound(self) -> None:
        self._note_gap(self._clock.judge())
        self._sound_watch.end_if_back()
        fit = self._clock.fit()
        if not fit.is_a_cards:
            self._sound_watch.note_pace(fit.sound_fast_ppm or 0.0)
        self._meter.look()
        if self.frame_count and self._meter.highest_peak == 0.0:
            self._sound_watch.note_silence()

    def _finish(self) -> None:
        self.add_readings()
        self._sound.close()
        self._telemetry.finish(self._place_finally)
        self._save("complete")

    def _rescue(self, error: OSError) -> None:
        """Make room by giving the last second back, and say what happened while there is some."""
        is_full = error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
        with contextlib.suppress(OSError):
            self._sound.cut_to_last_sync()
        with contextlib.suppress(OSError):
            self._telemetry.close()
        self._trouble.note(
            "disk_full" if is_full else "disk_lost",
            "the disk was full, so the recording ended; make room before the next drive"
            if is_full
            else f"the disk failed ({error.strerror or error}), so the recording ended",
            self._at_frame(self._sound.frame_count),
        )
        with contextlib.suppress(OSError):
            self._save("complete")

    def _place_now(self, reading: Reading) -> float:
        if reading.frame is None:
            return self._session_s(reading.midpoint_s)
        return self._at_frame(reading.frame)

    def _place_finally(self, midpoint_s: FloatArray, frame: FloatArray) -> FloatArray:
        heard = np.isfinite(frame)
        in_sound_s = self._clock.frame_session_s(np.where(heard, frame, 0.0))
        return np.where(heard, in_sound_s, self._clock.fit().session_s(midpoint_s))

    def _at_frame(self, frame: float) -> float:
        """Session time of a place in the sound; behind the gap when there is one."""
        return float(self._clock.frame_session_s(np.array([frame]))[0])

    def _session_s(self, perf_s: float) -> float:
        session_s = self._clock.session_s(perf_s)
        return 0.0 if session_s is None else session_s

    def _note_gap(self, gap: SoundGap | None) -> None:
        if gap is not None:
            self._sound_watch.note_gap(gap, self._at_frame(gap.after_frame))

    def _bytes_per_second(self, now_s: float) -> float:
        readings_per_s = sum(station.readings_per_s(now_s) for station in self._stations)
        sound = self._rate_hz * self._channel_count * BYTES_PER_SAMPLE
        return sound + readings_per_s * _BYTES_PER_READING

    def _save(self, state: str) -> None:
        fit = self._clock.fit() if state == "complete" else None
        metadata = replace(
            self._metadata,
            trouble=self._trouble.all,
            sound_gaps=tuple(self._clock.gaps),
            sound_fast_ppm=fit.sound_fast_ppm if fit is not None and fit.is_a_cards else None,
            arrival_spread_s=None if fit is None else fit.spread_s,
            marks_s=tuple(self._marks_s),
        )
        replace_file(self._out / METADATA_FILE, encode_metadata(metadata, state=state))
        self._trouble.has_news = False


def _newest(values: Iterable[float | None]) -> float | None:
    return next((value for value in values if value is not None), None)


def _cabin_columns(channel_count: int, listeners: Sequence[SoundListener]) -> list[int]:
    """Columns of the sound that no source listens to; all, when that leaves none."""
    taken = {listener.channel - 1 for listener in listeners}
    return [at for at in range(channel_count) if at not in taken] or list(range(channel_count))
