"""The session folder of a drive while it is recorded, and what is known of it so far."""
# SPDX-License-Identifier: GPL-2.0-or-later

import contextlib
import errno
import math
import shutil
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future
from dataclasses import replace
from pathlib import Path

from logger.folder.atomic import replace_file
from logger.folder.names import METADATA_FILE
from logger.microphone.contract import SoundSource
from logger.recording.clock_watch import Clocks, ClockWatch
from logger.recording.coverage import driving_range_rpm
from logger.recording.reading_intake import ReadingIntake
from logger.recording.sound_clock import SoundClock
from logger.recording.sound_intake import SoundIntake
from logger.recording.status import Status
from logger.recording.trouble_log import TroubleLog
from logger.session import MOST_MARKS, SessionMetadata, Trouble, encode_metadata
from logger.sources.contract import RpmSource

_SYNC_S = 1.0
# Full, or no longer there: what ends a recording. All else is somebody holding a file open.
_FULL = frozenset((errno.ENOSPC, errno.EDQUOT, errno.EFBIG))
_GONE = frozenset((errno.ENOENT, errno.ENOTDIR, errno.EIO, errno.ENODEV, errno.ENXIO, errno.EROFS))
_DETAILS = "details"  # the name of the trouble that session.json is refused
# judgement: whoever holds session.json open at the end, a scanner or an editor, lets go within
# these; the drive is whole without it, so more would only keep the driver waiting.
_LAST_TRIES = 10
_LAST_PAUSE_S = 0.5


class Take:
    """Keeps the files of a session true; leaving it finishes them, also after a full disk.

    Attributes
    ----------
    sound : SoundIntake
        Where the blocks go.
    readings : ReadingIntake
        What takes the readings from the sources.
    """

    def __init__(
        self,
        sound: SoundSource,
        sources: Sequence[RpmSource],
        out: Path,
        metadata: SessionMetadata,
        read_clocks: Callable[[], Clocks],
        disk: Executor,
    ) -> None:
        self._out = out
        self._metadata = metadata
        self._clock = SoundClock(sound.sample_rate_hz)
        self._clock_watch = ClockWatch(read_clocks)
        self._trouble = TroubleLog()
        self._marks_s: list[float] = []
        self._tended_s = -math.inf
        self._disk = disk
        self._on_the_way: Future[OSError | None] | None = None
        self._disk_left_s = math.inf
        self._save("recording")  # first of all: a folder without it is no session
        self.sound = SoundIntake(sound, sources, out, self._clock, self._trouble)
        self.readings = ReadingIntake(
            sources, out, self._clock, self._trouble, driving_range_rpm(metadata.car)
        )

    def __enter__(self) -> "Take":
        self.readings.start()
        return self

    def __exit__(self, kind: object, error: BaseException | None, at: object) -> None:
        # before the files are finished: nothing may come in while they are
        self.readings.stop()
        # the last gap is only sure now, and what is saved must tell of it
        self.sound.judge()
        self._disk.shutdown()  # waits for what is on the way, or it would write beside us
        if isinstance(error, OSError):
            self._rescue(error)
            return
        try:
            self._heed_disk(self._clock.elapsed_s)
            self.readings.add_waiting()
            self.sound.log.close()
            # after the last gap is judged: all times are set anew on the whole clock
            self.readings.finish()
            self._save_at_last()
        except OSError as failure:
            if failure.errno in _FULL | _GONE:
                self._rescue(failure)
            raise

    @property
    def frame_count(self) -> int:
        """Frames recorded so far."""
        return self.sound.log.frame_count

    @property
    def elapsed_s(self) -> float:
        """Session time at the end of the sound so far."""
        return self._clock.elapsed_s

    @property
    def trouble(self) -> tuple[Trouble, ...]:
        """Everything that was noticed."""
        return self._trouble.all

    def mark(self, now_s: float) -> None:
        """Keep this moment, unless something lies on the key."""
        if self._clock.has_begun and len(self._marks_s) < MOST_MARKS:
            self._marks_s.append(round(self._clock.session_s(now_s), 3))
            self._trouble.has_news = True

    def tend(self, now_s: float) -> None:
        """Once a second: look at the clocks and the disk, and have the disk hold everything.

        The disk may take as long as it likes for that. Sound is written meanwhile, and what the
        system was given survives a kill.

        Raises
        ------
        OSError
            The disk is full or gone; perhaps it said so of what it was given before.
        """
        self._heed_disk(self._clock.session_s(now_s))
        if now_s - self._tended_s < _SYNC_S:
            return
        self._tended_s = now_s
        trouble = self._clock_watch.look()
        if trouble is not None and self._clock.has_begun:
            start_s = self._clock.session_s(trouble.from_perf_s)
            self._trouble.note(trouble.code, trouble.message, start_s, trouble.duration_s)
        self.sound.log.renew()
        # one at a time, or a slow disk would pile them up; the news as bytes, so that the other
        # thread reads nothing that this one changes
        if self._on_the_way is None:
            news = self._described("recording") if self._trouble.has_news else None
            self._on_the_way = self._disk.submit(self._to_the_disk, news)
        free_bytes = shutil.disk_usage(self._out).free
        bytes_per_s = self.sound.bytes_per_s + self.readings.bytes_per_s(now_s)
        self._disk_left_s = free_bytes / bytes_per_s

    def status(self, now_s: float) -> Status:
        """Tell how it stands."""
        clock, watch, level = self._clock, self.sound.watch, self.sound.meter.look()
        full_scale_db = self._metadata.full_scale_db_spl
        offset_db = full_scale_db or 0.0
        return Status(
            # lost sound stands still, and the driver would think that the program does
            elapsed_s=clock.session_s(now_s) if watch.is_lost else clock.elapsed_s,
            level_db=level.level_db + offset_db,
            peak_db=level.peak_db + offset_db,
            full_scale_db=offset_db,
            level_unit="dB re full scale" if full_scale_db is None else "dB SPL",
            is_too_loud=level.is_too_loud,
            rpm=self.readings.newest_rpm(now_s),
            road_speed_m_s=self.readings.newest_road_speed_m_s(now_s),
            devices=(watch.state(has_begun=clock.has_begun), *self.readings.states(now_s)),
            disk_left_s=self._disk_left_s,
            trouble_count=len(self.trouble),
            last_trouble=self._trouble.newest(clock.session_s(now_s)),
            mark_count=len(self._marks_s),
            coverage=self.readings.coverage(),
        )

    def _rescue(self, error: OSError) -> None:
        """Make room by giving the last second back, and say what happened while there is some."""
        is_full = error.errno in _FULL
        if self._on_the_way is None or self._on_the_way.exception() is None:
            with contextlib.suppress(OSError):  # a disk that refused once may tell a lie then
                self.sound.log.sync()
        with contextlib.suppress(OSError):
            self.sound.log.cut_to_last_sync()
        with contextlib.suppress(OSError):
            self.readings.log.close()
        self._trouble.note(
            "disk_full" if is_full else "disk_lost",
            "the disk was full, so the recording ended; make room before the next drive"
            if is_full
            else f"the disk failed ({error.strerror or error}), so the recording ended",
            self._clock.timeline.at_frame(self.frame_count),
        )
        with contextlib.suppress(OSError):
            self._save("complete")

    def _to_the_disk(self, news: bytes | None) -> OSError | None:
        """Wait until the disk holds everything, in a thread of its own.

        Gives why the news was refused, where another program holds their file.
        """
        self.sound.log.sync()
        self.readings.log.sync()
        try:
            if news is not None:
                replace_file(self._out / METADATA_FILE, (news,))
        except OSError as error:
            if error.errno in _FULL | _GONE:
                raise
            return error
        return None

    def _heed_disk(self, at_s: float) -> None:
        """Take note of what became of the last second; ``at_s`` is session time."""
        if self._on_the_way is None or not self._on_the_way.done():
            return
        error = self._on_the_way.result()
        self._on_the_way = None
        if error is None:
            # it has news then, or the file would say that it is still refused
            self._trouble.end(_DETAILS, at_s)
            return
        self._trouble.has_news = True  # they wait for the next second
        if not self._trouble.words(_DETAILS):
            self._trouble.begin(
                _DETAILS,
                "details_refused",
                f"another program kept {METADATA_FILE} from being written "
                f"({error.strerror or error}); the sound went on",
                at_s,
            )

    def _save_at_last(self) -> None:
        for tries_left in range(_LAST_TRIES, -1, -1):
            try:
                self._trouble.end(_DETAILS, self._clock.elapsed_s)
                self._save("complete")
                return
            except OSError as error:
                if error.errno in _FULL | _GONE or not tries_left:
                    raise
                time.sleep(_LAST_PAUSE_S)

    def _save(self, state: str) -> None:
        replace_file(self._out / METADATA_FILE, (self._described(state),))

    def _described(self, state: str) -> bytes:
        # a line through half a recording is another a second later: none is kept until it is whole
        fit = self._clock.fit() if state == "complete" else None
        metadata = replace(
            self._metadata,
            trouble=self._trouble.all,
            sound_gaps=tuple(self._clock.timeline.gaps),
            sound_fast_ppm=fit.sound_fast_ppm if fit is not None and fit.is_a_cards else None,
            sound_fast_within_ppm=None if fit is None else fit.within_ppm,
            arrival_spread_s=None if fit is None else fit.spread_s,
            marks_s=tuple(self._marks_s),
        )
        self._trouble.has_news = False
        return encode_metadata(metadata, state=state)
