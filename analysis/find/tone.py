"""How far each band stands out as a tone for the ear, by ISO/PAS 20065."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.find.sound.weighting import a_weighting_db
from analysis.find.tonal_audibility import Tone, assess_tone
from analysis.findings import DroneBand, Findings

_NEAR = 0.02  # of engine speed; judgement: one row of the map, which is 2 % high


def band_tone(findings: Findings, band: DroneBand) -> Tone | None:
    """Assess the band as a tone at its peak; None where the method does not apply.

    The narrow-band spectrum is the mean of all half-second frames within 1 % of the peak's engine
    speed, lines 2 Hz apart, A-weighted as the standard asks.
    """
    picture = findings.level_map
    if picture is None:
        return None
    row = int(np.abs(picture.rpm - band.peak_rpm).argmin())
    if abs(picture.rpm[row] / band.peak_rpm - 1.0) > _NEAR:
        return None
    heard = picture.frequency_hz > 0.0
    frequency_hz = picture.frequency_hz[heard]
    level_db = picture.level_db[row][heard] + a_weighting_db(frequency_hz)
    return assess_tone(frequency_hz, level_db, band.engine_order * picture.rpm[row] / 60.0)
