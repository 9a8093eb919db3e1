"""How much a band troubles people, so that several can be told in that order.

Sound wearies by its energy over time: as long again is as bad as 3 dB more (equivalent continuous
level, ISO 1996-1). So a band counts by its level as the ear weighs its frequency, by how long the
drive stayed in it, and less as far as all else drowns it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.find.sound.weighting import b_weighting_db
from analysis.findings import DroneBand, OverallCurve

# judgement: a sweep that hurries here and lingers there is no cruise; it takes twice its usual
# time. And no cruise makes up for more than 10 dB, which is twice as loud (ISO 532-1, one tone).
_LINGERING = 2.0
_MOST_DB = 10.0


def trouble_db(band: DroneBand, overall: OverallCurve) -> float:
    """Level of a band, more where the drive cruised in it, less where the rest is louder."""
    rest_db = float(np.interp(band.peak_rpm, overall.rpm, overall.level_z_db))
    drowned_db = max(0.0, rest_db - band.level_db)
    heard_db = band.level_db + float(b_weighting_db(band.peak_hz))
    return heard_db + cruise_db(band, overall) - drowned_db


def cruise_db(band: DroneBand, overall: OverallCurve) -> float:
    """Give the time spent in a band against that of a steady sweep over all that was driven, dB."""
    inside = (overall.rpm >= band.low_rpm) & (overall.rpm <= band.high_rpm)
    driven = float(np.log(overall.rpm.max() / overall.rpm.min())) if overall.rpm.size else 0.0
    total_s = float(overall.seconds.sum())
    if driven == 0.0 or total_s == 0.0:
        return 0.0
    share = float(overall.seconds[inside].sum()) / total_s
    usual = float(np.log(band.high_rpm / band.low_rpm)) / driven
    if share <= _LINGERING * usual:
        return 0.0
    return min(_MOST_DB, 10.0 * float(np.log10(share / (_LINGERING * usual))))
