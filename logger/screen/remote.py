"""A recording that another program watches and steers, through files in a folder.

Files, because they work on every system, and because a recording must outlive whoever watches it:
``status.json`` is renewed twice a second, and the recording does what a file of that name asks for,
``mark`` or ``stop``. At the end ``status.json`` holds what was said last.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import contextlib
import json
import math
import os
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from logger.recording.recorder import Controls
from logger.recording.status import Status

STATUS_FILE, MARK_FILE, STOP_FILE = "status.json", "mark", "stop"


class Remote:
    """One recording, seen from a folder that exists."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        for name in (STATUS_FILE, MARK_FILE, STOP_FILE):  # of a recording before this one
            (folder / name).unlink(missing_ok=True)

    def beside(self, controls: Controls) -> Controls:
        """Give controls that heed, and tell, the watcher as well as whom they did before."""

        def show(status: Status) -> None:
            controls.show(status)
            self.show(status)

        return replace(
            controls,
            stopped=lambda: controls.stopped() or self.stop_asked(),
            mark_asked=lambda: controls.mark_asked() or self.mark_asked(),
            show=show,
        )

    def show(self, status: Status) -> None:
        """Tell how the recording stands."""
        self._write({"state": "recording", **_plain(asdict(status))})

    def ended(self, said: Sequence[str]) -> None:
        """Tell that it is over, and what there is to say."""
        self._write({"state": "ended", "said": list(said)})

    def stop_asked(self) -> bool:
        """Whether somebody asked for the end."""
        return (self._folder / STOP_FILE).exists()

    def mark_asked(self) -> bool:
        """Whether somebody marked this moment; once for each time."""
        try:
            (self._folder / MARK_FILE).unlink()
        except OSError:
            return False
        return True

    def _write(self, state: dict[str, Any]) -> None:
        """Renew the file at one stroke; a watcher that looks away must not end a drive."""
        beside = self._folder / f".{STATUS_FILE}"
        # without waiting for the disk: half a second later it is old, and a power cut ends both
        with contextlib.suppress(OSError):
            beside.write_text(json.dumps(state, allow_nan=False), encoding="utf-8")
            os.replace(beside, self._folder / STATUS_FILE)  # noqa: PTH105


def _plain(value: Any) -> Any:  # noqa: ANN401 (any JSON)
    """Give the same without numbers that JSON does not know."""
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
