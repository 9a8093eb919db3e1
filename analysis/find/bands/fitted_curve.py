"""An order's curve as others read it: the points, with the level as it is seen beside them."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.find.bands.drone_bands import FittedOrder
from analysis.find.bands.resonance_model import rise_db
from analysis.findings import OrderCurve

_WIDENED = 1.03  # the ends of the sweeps, which the level leaves out; judgement: the picture's ends


def order_curve(fitted: FittedOrder) -> OrderCurve:
    """Lay the level over the order's points within its range, which is a little widened.

    The trend is the level without the resonances of the order's bands.
    """
    points = fitted.points
    level_db = trend_db = np.broadcast_to(np.nan, points.rpm.shape)  # which takes no room
    if (seen := fitted.level) is not None:
        frequency_hz = points.engine_order * points.rpm / 60.0
        log_f = np.log(frequency_hz)
        near = (log_f > seen.log_f[0] - np.log(_WIDENED)) & (
            log_f < seen.log_f[-1] + np.log(_WIDENED)
        )
        # beyond its ends the level stays as it is there
        level_db = np.where(near, np.interp(log_f, seen.log_f, seen.level_db), np.nan)
        modes = [shape.first for shape in fitted.shapes]
        trend_db = level_db - rise_db(np.concatenate([[], *modes]), frequency_hz)
    return OrderCurve(
        **points.pass_columns(),
        engine_order=points.engine_order,
        trend_db=trend_db,
        fitted_db=level_db,
    )
