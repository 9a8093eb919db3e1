"""What the sources bring while a drive is recorded: chosen, placed on its clock, and written."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from logger.arrays import FloatArray
from logger.recording.coverage import Coverage, CoverageWatch
from logger.recording.rpm_choice import RpmChoice
from logger.recording.sound_clock import SoundClock
from logger.recording.source_thread import SourceThread
from logger.recording.status import DeviceState
from logger.recording.telemetry_log import TelemetryLog
from logger.recording.trouble_log import TroubleLog
from logger.sources.contract import Reading, RpmSource

_BYTES_PER_READING = 60  # judgement: a long line of telemetry.csv


class ReadingIntake:
    """Reads each source in a thread of its own from :meth:`start` to :meth:`stop`.

    Attributes
    ----------
    log : TelemetryLog
        The file.
    """

    def __init__(
        self,
        sources: Sequence[RpmSource],
        out: Path,
        clock: SoundClock,
        trouble: TroubleLog,
        driving_range_rpm: tuple[float, float] | None,
    ) -> None:
        self.log = TelemetryLog(out)
        self._stations = [SourceThread(source) for source in sources]
        self._choice = RpmChoice([source.name for source in sources])
        self._coverage = CoverageWatch(driving_range_rpm)
        self._clock = clock
        self._trouble = trouble

    def start(self) -> None:
        """Begin to read the sources."""
        for station in self._stations:
            station.start()

    def stop(self) -> None:
        """Let the sources go."""
        for station in self._stations:
            station.close()

    def add_waiting(self) -> None:
        """Write what the sources have brought, once there is a clock to place it on."""
        # until then they wait in their threads, and nothing is lost
        if not self._clock.has_begun:
            return
        for station in self._stations:
            for event in station.events():
                if isinstance(event, Reading):
                    self._add(station, event)
                else:
                    at_s = self._clock.session_s(event.at_s)
                    self._trouble.begin(station.name, event.code, event.message, at_s)

    def finish(self) -> None:
        """Write the file anew, as both clocks are known as a whole by now."""
        self.log.finish(self._place_finally)

    def newest_rpm(self, now_s: float) -> float | None:
        """Newest rpm of the source whose rpm is recorded; None when it is old or never came."""
        recorded = (each for each in self._stations if self._choice.is_recorded(each.name))
        return _first(station.fresh("rpm", now_s) for station in recorded)

    def newest_road_speed_m_s(self, now_s: float) -> float | None:
        """Newest road speed of the first source that has one."""
        return _first(station.fresh("road_speed_m_s", now_s) for station in self._stations)

    def states(self, now_s: float) -> tuple[DeviceState, ...]:
        """How each source does."""
        return tuple(
            station.state(now_s, self._trouble.words(station.name)) for station in self._stations
        )

    def coverage(self) -> Coverage | None:
        """Which engine speeds were driven; None where nobody was asked for rpm."""
        return self._coverage.look() if self._stations else None

    def bytes_per_s(self, now_s: float) -> float:
        """How fast the file grows."""
        return sum(each.readings_per_s(now_s) for each in self._stations) * _BYTES_PER_READING

    def _add(self, station: SourceThread, reading: Reading) -> None:
        station.note(reading)
        # half-way between question and answer: nobody knows when in between the device looked
        at_s = self._clock.session_s(reading.midpoint_s)
        # a reading is the proof that the device is back
        self._trouble.end(station.name, at_s)
        if reading.frame is not None:
            at_s = self._clock.timeline.at_frame(reading.frame)
        is_wanted, left_out = self._choice.judge(station.name, reading.quantity)
        if left_out:
            self._trouble.note("rpm_left_out", left_out, at_s)
        if is_wanted:
            self.log.append(reading, at_s)
            self._coverage.note(reading.quantity, at_s, reading.value)

    def _place_finally(self, midpoint_s: FloatArray, frame: FloatArray) -> FloatArray:
        heard = np.isfinite(frame)
        # its place in the sound is exact; only what came by the clock needs the fit
        in_sound_s = self._clock.timeline.frame_session_s(np.where(heard, frame, 0.0))
        return np.where(heard, in_sound_s, self._clock.fit().session_s(midpoint_s))


def _first(values: Iterator[float | None]) -> float | None:
    return next((value for value in values if value is not None), None)
