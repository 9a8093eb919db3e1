"""A recording as lines of text, one a second: for logs, and where there is no terminal."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

from rich.console import Console

from logger.recording.status import DeviceState, Light, Status

_EVERY_S = 1.0
LITTLE_DISK_S = 1800.0  # judgement: half an hour is time enough to end a drive; earlier only nags


class PlainLines:
    """Print at most one line a second."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._due_s = -math.inf
        self._advised = ""

    def show(self, status: Status) -> None:
        """Take a status; print it when a second is over."""
        if status.elapsed_s < self._due_s:
            return
        self._due_s = status.elapsed_s + _EVERY_S
        self._console.print(status_line(status), soft_wrap=True)
        advice = "" if status.coverage is None else status.coverage.advice
        if advice != self._advised:
            self._advised = advice
            self._console.print(f"Next: {advice}", soft_wrap=True)


def status_line(status: Status) -> str:
    """Time, rpm, level, devices that are not well, trouble and disk, in one line."""
    rpm = "" if status.rpm is None else f"  {status.rpm:.0f} rpm"
    loud = "  too loud: lower the input level" if status.is_too_loud else ""
    return (
        f"{status.elapsed_s:7.0f} s{rpm}  level {status.level_db:.1f}, peak {status.peak_db:.1f} "
        f"{status.level_unit}{loud}{''.join(map(_device, status.devices))}{_counts(status)}"
    )


def _device(device: DeviceState) -> str:
    if device.light is Light.GOOD:
        rate = device.readings_per_s
        return "" if rate is None else f"  {device.name} {rate:.1f}/s"
    words = f" ({device.words})" if device.words else ""
    return f"  {device.name} {device.light}{words}"


def _counts(status: Status) -> str:
    trouble = f"  trouble {status.trouble_count}" if status.trouble_count else ""
    marks = f"  marks {status.mark_count}" if status.mark_count else ""
    little = status.disk_left_s < LITTLE_DISK_S
    disk = f"  disk full in {status.disk_left_s / 60.0:.0f} min" if little else ""
    return trouble + marks + disk
