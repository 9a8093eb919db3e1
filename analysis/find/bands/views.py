"""How a band shows in each part of the drive: gear by gear, and by what the driver's foot did."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.basics.rows import rows
from analysis.basics.rpm_bins import BIN_RATIO
from analysis.find.bands.resonance_model import ResonanceFit
from analysis.find.curves.order_points import OrderPoints
from analysis.findings import DroneBand, GearView, LoadClass, LoadView

# judgement: how much a gear or a load must show before it says anything; 20 % more moved nothing.
_LEAST_POINTS = 6
_LEAST_COVERAGE = 0.7  # of the band's bins, and some of the ground beside it
_LEAST_OVER_NOISE = 1.0  # mean square of the band over that of the noise under it
_GONE = 0.1  # of the mean square expected: 10 dB less
_LOADS_APART = 0.15  # of full load: nearer than this it is one load
_LEAST_COMMON_BINS = 3


def gear_views(band: DroneBand, points: OrderPoints, fit: ResonanceFit) -> tuple[GearView, ...]:
    """One view for each gear that drove through the band, the car at a standstill among them."""
    views = []
    for gear in np.unique(points.gear[np.isfinite(points.gear)]):
        chosen = points.gear == gear
        share = share_of_rise(band, points, chosen, fit)
        if share is not None:
            ratio = points.road_speed_m_s[chosen] / points.rpm[chosen]
            views.append(
                GearView(
                    gear=int(gear),
                    share_of_rise=share,
                    road_speed_m_s=float(np.median(ratio)) * band.peak_rpm,
                )
            )
    return tuple(views)


def load_views(
    band: DroneBand, points: OrderPoints, fit: ResonanceFit, level_offset_db: float
) -> tuple[LoadView, ...]:
    """Two views, the louder class of load first; none where the drive held one load only.

    The load is that of the log. Without one a climb of engine speed stands for a pulling engine
    and a fall for one that is let go.
    """
    inside = (points.rpm > band.low_rpm) & (points.rpm < band.high_rpm) & (points.total_ms > 0.0)
    load = points.load_part
    if np.isfinite(load[inside]).sum() >= _LEAST_POINTS:
        limit = _split(load[inside & np.isfinite(load)])
        if limit is None:
            return ()
        parts = {LoadClass.HEAVY: load > limit, LoadClass.LIGHT: load <= limit}
    else:
        parts = {LoadClass.CLIMBING: points.rising, LoadClass.FALLING: ~points.rising}
    first, second = (inside & part for part in parts.values())
    # only where both were driven: elsewhere the resonance would pass for the load
    common = np.intersect1d(points.bin_index[first], points.bin_index[second])
    if common.size < _LEAST_COMMON_BINS:
        return ()
    inside &= np.isin(points.bin_index, common)
    views = [
        LoadView(
            load=name,
            load_part=_mean(load[inside & part]),
            level_db=_level_db(points, inside & part, common) + level_offset_db,
            share_of_rise=share_of_rise(band, points, part, fit),
        )
        for name, part in parts.items()
    ]
    return tuple(sorted(views, key=lambda view: -view.level_db))


def share_of_rise(
    band: DroneBand, points: OrderPoints, chosen: BoolArray, fit: ResonanceFit
) -> float | None:
    """Slope of the chosen points' rise on the fitted rise; None when they cover too little."""
    width = band.high_rpm - band.low_rpm
    near = (points.rpm > band.low_rpm - 1.5 * width) & (points.rpm < band.high_rpm + 1.5 * width)
    # a drop-out that nobody listed is no level
    points = rows(points, chosen & near & (points.total_ms > 0.0))
    inside = (points.rpm > band.low_rpm) & (points.rpm < band.high_rpm)
    bins_in_band = np.log(band.high_rpm / band.low_rpm) / np.log(BIN_RATIO)
    seen = np.unique(points.bin_index[inside]).size
    if points.rpm.size < _LEAST_POINTS or seen < _LEAST_COVERAGE * bins_in_band or inside.all():
        return None
    total, background = points.total_ms, points.background_ms
    frequency_hz = points.engine_order * points.rpm / 60.0
    # never less than a part of the total: where noise hides the order, its logarithm would run away
    net_db = 10.0 * np.log10(np.maximum(total - background, 0.05 * total))
    rise_db = fit.rise_db(frequency_hz)
    trend_db = fit.trend_db(frequency_hz)
    expected = 10.0 ** (0.1 * (trend_db + rise_db)[inside]) / np.maximum(background[inside], 1e-30)
    if np.median(expected) < _LEAST_OVER_NOISE:
        return None  # the noise of this part of the drive would bury it
    over_noise = np.median((total / np.maximum(background, 1e-30))[inside]) - 1.0
    if over_noise < _GONE * np.median(expected):
        return 0.0
    above_trend_db = net_db - trend_db
    shape = rise_db - rise_db.mean()
    spread = float(np.dot(shape, shape))
    # hardly any rise among the points: a slope on it is chance
    if spread < 1.0:
        return None
    return float(np.dot(shape, above_trend_db - above_trend_db.mean()) / spread)


def _split(load_part: FloatArray) -> float | None:
    """Part light from heavy load by least squares; None when they are one."""
    ordered = np.sort(load_part)
    count = np.arange(1, ordered.size)
    low = np.cumsum(ordered)[:-1] / count
    high = (ordered.sum() - np.cumsum(ordered)[:-1]) / (ordered.size - count)
    between = count * (ordered.size - count) * (high - low) ** 2
    best = int(between.argmax())
    if high[best] - low[best] < _LOADS_APART:
        return None
    return float(0.5 * (ordered[best] + ordered[best + 1]))


def _level_db(points: OrderPoints, chosen: BoolArray, bins: np.ndarray) -> float:
    """Level of the order, background removed, each rpm bin counting alike."""
    net = np.maximum(points.total_ms - points.background_ms, 0.0)
    means = [
        np.average(net[here], weights=points.seconds[here])
        for number in bins
        if (here := chosen & (points.bin_index == number)).any()
    ]
    return float(10.0 * np.log10(max(float(np.mean(means)), 1e-20)))


def _mean(values: FloatArray) -> float | None:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else None
