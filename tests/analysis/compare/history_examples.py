"""Histories made from results whose true changes are known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cache

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.compare.history import History, make_history
from analysis.errors import DriveError
from analysis.findings import DroneBand, Findings
from tests.analysis.made_findings import drone_ms, grid, make_band, make_curve, make_findings

RPM = grid()
PEAK = 2240.0
BAND = make_band(3.0, PEAK)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outing:
    """A drive whose findings are known already; a text instead says why it cannot be analysed."""

    name: str
    found: Findings | str
    start_time_utc: datetime | None = None
    start_is_of_file: bool = False
    note: str = ""
    car: Mapping[str, object] | None = None


def day(number: int) -> datetime:
    return datetime(2024, 6, number, 9, 30, tzinfo=UTC)


def history_of(
    *outings: Outing,
    baseline: str | None = None,
    unreadable: tuple[tuple[str, str], ...] = (),
) -> History:
    def find(outing: Outing) -> Findings:
        if isinstance(outing.found, str):
            raise DriveError(outing.found)
        return replace(outing.found, drive_name=outing.name)

    return make_history(outings, find, unreadable, baseline=baseline)


OTHERS = (1.5, 4.5, 6.0, 7.5)


def drive(
    change_db: float = 0.0,
    bands: tuple[DroneBand, ...] = (),
    *,
    gain_db: float = 0.0,
    other_orders: tuple[float, ...] = OTHERS,
    order_ms: FloatArray | None = None,
) -> Findings:
    """Order 3 with its drone changed by so much, and others that rise only where a band says so."""
    gain = 10.0 ** (gain_db / 10.0)
    rng = np.random.default_rng(7)
    drone = drone_ms(RPM, PEAK) if order_ms is None else order_ms
    near = np.abs(np.log(RPM / PEAK)) < 0.2
    levels = {3.0: np.where(near, 10.0 ** (change_db / 10.0), 1.0) * drone}
    levels |= {order: np.full(RPM.size, 1e-5) for order in other_orders}
    levels |= {b.engine_order: drone_ms(RPM, b.peak_rpm) for b in bands if b.engine_order != 3.0}
    curves = [
        make_curve(order, gain * level, RPM, background_ms=gain * 1e-7, rng=rng)
        for order, level in levels.items()
    ]
    return make_findings(curves, bands)


BASELINE = drive(bands=(BAND,))
LEFT = make_band(3.0, 1.02 * PEAK, level_db=66.0)


def dated(*later: tuple[str, Findings], baseline: Findings = BASELINE) -> History:
    """A baseline and drives after it, a day each."""
    drives = (("baseline", baseline), *later)
    return history_of(
        *(
            Outing(name=name, found=found, start_time_utc=day(number))
            for number, (name, found) in enumerate(drives, start=1)
        )
    )


@cache
def three_drives() -> History:
    """A baseline, a first try that is not enough, and a cure."""
    return history_of(
        Outing(name="baseline", found=BASELINE, start_time_utc=day(1)),
        Outing(
            name="first try",
            found=drive(-6.5, (LEFT,)),
            start_time_utc=day(8),
            note="branch 930 mm",
        ),
        Outing(name="trimmed", found=drive(-14.0), start_time_utc=day(9)),
    )
