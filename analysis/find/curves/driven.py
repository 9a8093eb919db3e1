"""What the car did at each moment: pass, gear, road speed and load, as far as logged."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.basics.arrays import FloatArray, IntArray
from analysis.find.curves.gears import gear_of, gear_ratios
from analysis.find.curves.passes import pass_of
from analysis.find.sound.speed_track import told_at

# What stands for full load, by definition: all of a share, or the standard atmosphere of ISO 2533.
# In the order in which they are believed: calculated load says most of what the foot does.
_LOADS = (
    ("load_percent", 100.0),
    ("throttle_percent", 100.0),
    ("manifold_pressure_kpa", 101.325),
)
_LEAST_ROWS = 10  # judgement: with fewer rows of a column it tells nothing; moves no peak


@dataclass(frozen=True, slots=True, kw_only=True)
class Driven:
    """One value for each moment, NaN where it is not known; all [shape=(n_moments,)].

    ``pass_index`` is the sweep or rest it belongs to (:mod:`analysis.find.curves.passes`); ``gear``
    is 0 for the lowest gear seen and :data:`analysis.findings.STANDING` where the car stood still;
    ``load_part`` is a part of full load, 0 to about 1.
    """

    time_s: FloatArray
    rpm: FloatArray
    pass_index: IntArray
    gear: FloatArray
    road_speed_m_s: FloatArray
    load_part: FloatArray
    load_column: str | None = None  # of the telemetry, that load was taken from

    @property
    def gear_ratios(self) -> tuple[float, ...]:
        """Engine rpm for 1 m/s of road speed in each gear, the lowest gear first."""
        return gear_ratios(self.gear, self.rpm, self.road_speed_m_s)


def driven_at(
    time_s: FloatArray, rpm: FloatArray, telemetry: pd.DataFrame, row_s: FloatArray
) -> Driven:
    """Look up what was logged for moments of known engine speed.

    ``time_s``, ``rpm``, and ``row_s``, when their rows were stamped: [shape=(n_moments,)].
    """
    road_speed_m_s = told_at(telemetry, "road_speed_m_s", row_s)
    load_part, load_column = _load_part(telemetry, row_s)
    gear = gear_of(rpm, road_speed_m_s)
    return Driven(
        time_s=time_s,
        rpm=rpm,
        pass_index=pass_of(time_s, rpm, gear),
        gear=gear,
        road_speed_m_s=road_speed_m_s,
        load_part=load_part,
        load_column=load_column,
    )


def _load_part(telemetry: pd.DataFrame, row_s: FloatArray) -> tuple[FloatArray, str | None]:
    for column, full in _LOADS:
        # the first that tells: mixing two scales would make loads that nobody drove
        if column in telemetry.columns and telemetry[column].notna().sum() >= _LEAST_ROWS:
            return told_at(telemetry, column, row_s) / full, column
    return np.full(row_s.size, np.nan), None
