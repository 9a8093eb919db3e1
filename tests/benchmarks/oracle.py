"""What the best possible ``find`` would say: the same sound, and the true engine speed.

It is told the engine speed every 10 ms and where the gears are, and fits the same model of trend
and resonances. Its error is that of the sound and the model alone; what ``find`` errs more is the
price of having to work out the engine speed.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from analysis.find.bands.drone_bands import fit_drones
from analysis.find.curves.driven import driven_at
from analysis.find.curves.order_curves import binned
from analysis.find.sound.order_tracking import order_spectra, track_orders
from analysis.find.sound.speed_track import SpeedTrack, row_times
from analysis.find.sound.working_copy import WorkingCopy
from analysis.findings import DroneBand
from tests.drives import GeneratedDrive


def oracle_bands(made: GeneratedDrive) -> tuple[DroneBand, ...]:
    """Bands of all orders of one drive, heard or not."""
    drive, truth = made.drive(), made.truth
    assert drive.sound is not None
    step_s = float(truth.time_s[1] - truth.time_s[0])
    with WorkingCopy(drive.sound, _silent) as copy:
        track = SpeedTrack(start_s=0.0, step_s=step_s, rpm=np.asarray(truth.rpm))
        frames = track_orders(order_spectra(copy, track))
        row_s = row_times(frames.time_s, truth.telemetry_delay_s, truth.drift_ppm, copy.duration_s)
        driven = driven_at(frames.time_s, frames.rpm, drive.telemetry, row_s)
        fitted = fit_drones(binned(frames, driven), 0.0)
    return tuple(band for order in fitted for band in order.bands)


def _silent(part: float) -> None:
    del part
