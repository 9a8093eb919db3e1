"""Record sound and readings into a session folder; killed at any moment, it loses a moment.

One loop takes sound as it comes and puts the readings that other threads brought beside it. What it
wrote is safe from a kill. Every second another thread makes the disk hold it all, which is safe
from a power cut too, and may take its time. ``session.json`` says from the start that the
recording is not finished, and is replaced whenever there is something new to tell. No device ends
a recording: a lost microphone leaves a gap, a lost source leaves none of its readings, and both may
come back.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
import os
import shutil
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from logger.errors import DeviceError
from logger.folder.atomic import remove_empty
from logger.folder.names import make_recording_folder
from logger.microphone.contract import SoundSource
from logger.recording.clock_watch import Clocks, read_clocks
from logger.recording.status import Status
from logger.recording.take import Take
from logger.session import SessionMetadata, Trouble
from logger.sources.contract import RpmSource

# Without one sample since the start there is nothing to record; judgement: shorter gives up on a
# slow sound server.
_NO_SOUND_S = 10.0
_STATUS_S = 0.5  # twice a second is enough to read, and drawing costs


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """A finished recording; ``sound_lost`` when the microphone was gone at the end."""

    session: Path
    duration_s: float
    reading_count: int
    trouble: tuple[Trouble, ...]
    sound_lost: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Controls:
    """What steers a recording from outside.

    Attributes
    ----------
    seconds : float or None
        Session time after which it ends; None goes on until ``stopped``.
    stopped, mark_asked : callable
        Asked all the time; the latter gives True once for each mark.
    show : callable
        Called about twice a second.
    clock : callable
        Same clock as that of the sound blocks and the readings.
    read_clocks : callable
        All clocks of the computer, to notice sleep and a clock that was set.
    disk : callable
        Gives who waits for the disk in place of the loop that writes.
    """

    seconds: float | None
    stopped: Callable[[], bool]
    mark_asked: Callable[[], bool]
    show: Callable[[Status], None]
    clock: Callable[[], float] = time.perf_counter
    read_clocks: Callable[[], Clocks] = read_clocks
    disk: Callable[[], Executor] = lambda: ThreadPoolExecutor(1, "disk")


def record_drive(
    sound: SoundSource,
    sources: Sequence[RpmSource],
    out: Path,
    metadata: SessionMetadata,
    controls: Controls,
) -> Recorded:
    """Record until the time is over or somebody stops it.

    Raises
    ------
    SessionError
        ``out`` exists, or the folder cannot be made.
    DeviceError
        The microphone cannot be started, not one sample came, or the disk is full or gone.
    KeyboardInterrupt
        Somebody stopped it before any sound came; nothing is left behind then.
    """
    above = make_recording_folder(out)
    take: Take | None = None
    try:
        read_clocks, disk = controls.read_clocks, controls.disk()
        with sound, Take(sound, sources, out, metadata, read_clocks, disk) as take:
            _fill(take, sound, controls)
    except OSError as error:
        raise DeviceError(
            f"recording stopped, the disk refuses: {error.strerror or error}; "
            f"{_what_is_left(take, out)}. Make room, and record again into another folder"
        ) from error
    finally:
        if take is None or not take.frame_count:
            # a folder without sound is no session, and would keep its name from the next try
            shutil.rmtree(out, ignore_errors=True)
            remove_empty(above)
    if not take.frame_count:
        if controls.stopped():
            raise KeyboardInterrupt
        raise DeviceError(
            f"no sound came from {sound.name!r}; allow this program to use the microphone, or "
            "choose another with --microphone"
        )
    return Recorded(
        session=out,
        duration_s=take.elapsed_s,
        reading_count=take.readings.log.row_count,
        trouble=take.trouble,
        sound_lost=take.sound.watch.is_lost,
    )


def _fill(take: Take, sound: SoundSource, controls: Controls) -> None:
    most_s = math.inf if controls.seconds is None else controls.seconds
    started_s = controls.clock()
    shown_s = started_s
    while not controls.stopped():
        block = sound.next_block()
        now_s = controls.clock()
        if block is not None:
            take.sound.add(block, now_s, most_s)
        # only before the first sample: sound that stops later is a gap, and may come back
        elif not take.frame_count and now_s - started_s > _NO_SOUND_S:
            return
        # after the sound: readings are placed on the clock that its blocks set
        take.readings.add_waiting()
        take.sound.look(now_s, sound.refusal)
        if controls.mark_asked():
            take.mark(now_s)
        if take.sound.is_over(now_s, most_s):
            return
        take.tend(now_s)
        if now_s - shown_s >= _STATUS_S:
            shown_s = now_s
            controls.show(take.status(now_s))
    _add_the_rest(take, sound, controls.clock(), most_s)


def _add_the_rest(take: Take, sound: SoundSource, stopped_s: float, most_s: float) -> None:
    """Take what came before somebody stopped; a slow disk may have held us up."""
    # the microphone goes on: without the limit a slow disk would never have done
    while (block := sound.next_block()) is not None and block.arrived_s <= stopped_s:
        take.sound.add(block, stopped_s, most_s)


def _what_is_left(take: Take | None, out: Path) -> str:
    if take is None or not take.frame_count or not os.path.isdir(out):  # noqa: PTH112 (a lost disk)
        return "nothing of it is left"
    return f"what was recorded until then is in {out}"
