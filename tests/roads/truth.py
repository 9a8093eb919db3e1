"""What is true of a road drive: level of each order over engine speed, and its hills.

The curves are those of the car, worked out from pulses and filters: full load, nothing shut, no
noise, no recorder. ``measured_curve`` takes the same from the engine's sound alone as it was
driven, with the true crank phase.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from scipy import signal

from tests.roads.engine import EXHAUST, INTAKE, STRUCTURE, order_amplitude
from tests.roads.spec import CarSpec, Cause, EngineSpec, FloatArray, Resonance
from tests.roads.ways import resonance_response, resonances_response, way_response

ORDERS = tuple(0.5 * k for k in range(1, 25))
_LEAST_HEIGHT_DB = 1.0  # judgement: lower hills are told to nobody
_CURVE_STEP = 0.004  # judgement: step of engine speed as a share; the narrowest hill has seven


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueHill:
    """One hill of one order's curve.

    ``height_db`` is its prominence: how far one must go down on the better side to get higher, the
    ends of the driven range counting as valleys. ``low_rpm`` and ``high_rpm`` are where the curve
    is 3 dB below the peak, NaN where it never falls so far on that side before it climbs past.
    ``below_strongest_db`` is how far this order stays under the loudest one at the peak's speed.
    """

    order: float
    peak_rpm: float
    low_rpm: float
    high_rpm: float
    height_db: float
    level_db: float
    below_strongest_db: float
    cause: Cause

    @property
    def peak_hz(self) -> float:
        """Frequency at the peak."""
        return self.order * self.peak_rpm / 60.0

    @property
    def width(self) -> float:
        """Half-power width as a share of the peak."""
        return (self.high_rpm - self.low_rpm) / self.peak_rpm


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """Level in dB of each order [shape=(n_orders, n)] over ``rpm`` [shape=(n,)]."""

    rpm: FloatArray
    orders: tuple[float, ...]
    level_db: FloatArray

    def of(self, order: float) -> FloatArray:
        """One order's level [shape=(n,)]."""
        return np.asarray(self.level_db[self.orders.index(order)])


def speeds_between(low_rpm: float, high_rpm: float) -> FloatArray:
    """Engine speeds near enough to each other for the narrowest hill [shape=(n,)]."""
    return np.asarray(np.exp(np.arange(np.log(low_rpm), np.log(high_rpm), _CURVE_STEP)))


def car_curves(
    engine: EngineSpec, car: CarSpec, rpm: FloatArray, warmth: float | FloatArray = 1.0
) -> Curves:
    """Level of every order of the car under full load; ``warmth`` may differ from rpm to rpm."""
    rows = [order_level_db(engine, car, order, rpm, warmth=warmth) for order in ORDERS]
    return Curves(rpm=rpm, orders=ORDERS, level_db=np.array(rows))


def order_level_db(
    engine: EngineSpec,
    car: CarSpec,
    order: float,
    rpm: FloatArray,
    *,
    load: float = 1.0,
    warmth: float | FloatArray = 1.0,
) -> FloatArray:
    """Level of the steady part of one order at the microphone [shape=(n,)]."""
    f = order * rpm / 60.0
    bank = order_amplitude(engine, EXHAUST, order, rpm, load, 0)
    second = order_amplitude(engine, EXHAUST, order, rpm, load, 1)
    shift = 10.0 ** (car.bank_level_db / 20.0) * np.exp(-2j * np.pi * f * car.bank_delay_s)
    total = (bank + shift * second) * way_response(car.exhaust, f, warmth)
    for way, kind in ((car.intake, INTAKE), (car.structure, STRUCTURE)):
        if way is not None:
            total = total + order_amplitude(engine, kind, order, rpm, load, None) * (
                way_response(way, f)
            )
    total = total * resonances_response(car.cabin, f)
    return np.asarray(10.0 * np.log10(np.abs(total) ** 2 / 2.0 + 1e-20))


def hills(curves: Curves, car: CarSpec, warmth: float | FloatArray = 1.0) -> tuple[TrueHill, ...]:
    """Every hill of every order, loudest first."""
    strongest = curves.level_db.max(axis=0)
    warm = np.broadcast_to(warmth, curves.rpm.shape)
    found = []
    for order in curves.orders:
        for peak, low, high, height in hills_of(curves.rpm, curves.of(order), _LEAST_HEIGHT_DB):
            rpm = float(curves.rpm[peak])
            found.append(
                TrueHill(
                    order=order,
                    peak_rpm=rpm,
                    low_rpm=low,
                    high_rpm=high,
                    height_db=height,
                    level_db=float(curves.of(order)[peak]),
                    below_strongest_db=float(strongest[peak] - curves.of(order)[peak]),
                    cause=cause_at(car, order * rpm / 60.0, float(warm[peak])),
                )
            )
    return tuple(sorted(found, key=lambda hill: -hill.level_db))


def hills_of(
    rpm: FloatArray, level_db: FloatArray, least_db: float
) -> list[tuple[int, float, float, float]]:
    """Index of the peak, lower and upper half-power speed, prominence of each hill."""
    peaks, facts = signal.find_peaks(level_db, prominence=least_db)
    found = []
    for index, peak in enumerate(peaks.tolist()):
        height = float(facts["prominences"][index])
        left, right = int(facts["left_bases"][index]), int(facts["right_bases"][index])
        below = level_db < level_db[peak] - 3.0
        down = np.flatnonzero(below[left:peak])
        up = np.flatnonzero(below[peak : right + 1])
        low = float(rpm[left + down[-1]]) if down.size else np.nan
        high = float(rpm[peak + up[0]]) if up.size else np.nan
        found.append((peak, low, high, height))
    return found


def cause_at(car: CarSpec, frequency_hz: float, warmth: float) -> Cause:
    """Whose resonance lifts most at a frequency; none of 2 dB: the source itself."""
    exhaust = [(item, warmth) for item in car.exhaust.resonances]
    ways = [way for way in (car.intake, car.structure) if way is not None]
    still = [(item, 1.0) for way in ways for item in way.resonances]
    still += [(item, 1.0) for item in car.cabin]
    best, cause = 2.0, Cause.SOURCE
    for item, moved in exhaust + still:
        lift = _lift_db(item, frequency_hz / moved)
        if lift > best:
            best, cause = lift, item.cause
    return cause


def _lift_db(item: Resonance, frequency_hz: float) -> float:
    response = 1.0 + resonance_response(item, np.array([frequency_hz]))[0]
    return float(20.0 * np.log10(abs(response)))


def measured_curve(
    sound: FloatArray,
    turns: FloatArray,
    sample_rate_hz: float,
    order: float,
    edges_rpm: FloatArray,
    *,
    window_turns: float = 12.0,
) -> FloatArray:
    """Level of one order of a sound by the true crank phase, the mean power in bins of rpm.

    ``turns`` is the crank phase at each sample [shape=(n,)]. The sound is turned against the
    order and averaged over a Hann window of ``window_turns``. NaN where nothing was driven
    [shape=(n_edges - 1,)].
    """
    turned = sound * np.exp(-2j * np.pi * order * turns)
    starts = np.searchsorted(turns, np.arange(turns[0], turns[-1] - window_turns, window_turns / 4))
    stops = np.searchsorted(turns, turns[starts] + window_turns)
    power, rpm = np.empty(starts.size), np.empty(starts.size)
    for index, (start, stop) in enumerate(zip(starts, stops, strict=True)):
        window = np.hanning(stop - start + 2)[1:-1]
        amplitude = 2.0 * abs(np.sum(window * turned[start:stop])) / window.sum()
        power[index] = amplitude**2 / 2.0
        rpm[index] = 60.0 * (turns[stop - 1] - turns[start]) * sample_rate_hz / (stop - 1 - start)
    at = np.digitize(rpm, edges_rpm) - 1
    inside = (at >= 0) & (at < edges_rpm.size - 1)
    size = edges_rpm.size - 1
    count = np.bincount(at[inside], minlength=size)
    total = np.bincount(at[inside], weights=power[inside], minlength=size)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(10.0 * np.log10(total / count))


def sound_late_s(
    sound: FloatArray, turns: FloatArray, sample_rate_hz: float, every_s: float = 0.1
) -> float:
    """How late an engine's sound is against its crank, by the way it has gone.

    A tone that is late by so much is heard at the speed of that time ago: while engine speed
    changes, each order is off by its rate of change times the delay (group delay; Oppenheim &
    Schafer, Discrete-Time Signal Processing, section 5.1). Least squares over all orders, the
    louder ones counting more. Arguments as in :func:`measured_curve`.
    """
    hop, window = round(every_s * sample_rate_hz), np.hanning(round(4 * every_s * sample_rate_hz))
    starts = np.arange(0, sound.size - window.size, hop)
    middle = starts + window.size // 2
    pace_hz = np.gradient(turns[middle], every_s)  # turns a second
    off_by, by_itself = 0.0, 0.0
    for order in ORDERS[:16]:
        turned = sound * np.exp(-2j * np.pi * order * turns)
        heard = np.array([np.sum(window * turned[at : at + window.size]) for at in starts])
        off_hz = np.angle(heard[1:] * np.conj(heard[:-1])) / (2.0 * np.pi * every_s)
        changes = order * np.diff(pace_hz) / every_s
        weight = np.minimum(np.abs(heard[1:]), np.abs(heard[:-1])) ** 2
        off_by -= float(np.sum(weight * off_hz * changes))
        by_itself += float(np.sum(weight * changes**2))
    return off_by / by_itself
