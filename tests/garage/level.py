"""Level of a true car's firing order over engine speed, bare or with branches welded on."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.garage import waves
from tests.garage.gas import FloatArray, state
from tests.garage.spec import Piece, TrueCar, Welded
from tests.garage.waves import ComplexArray

_STEP_M = 0.06
_BRANCH_STEPS = 16


def level_db(car: TrueCar, rpm: FloatArray, branches: tuple[Welded, ...] = ()) -> FloatArray:
    """Level in the cabin, dB with an arbitrary zero."""
    frequency_hz = car.order * rpm / 60.0
    outlet = 20.0 * np.log10(frequency_hz * np.abs(outlet_flow(car, frequency_hz, rpm, branches)))
    return np.asarray(outlet + _cabin_db(car, frequency_hz))


def outlet_flow(
    car: TrueCar, frequency_hz: FloatArray, rpm: FloatArray, branches: tuple[Welded, ...] = ()
) -> ComplexArray:
    """Flow out of the tail for each unit of what the engine sends; one engine speed a frequency."""
    whole = waves.through(list(_line(car, frequency_hz, rpm, branches)))
    last = car.pieces[-1]
    end = waves.radiation_impedance(frequency_hz, last.bore_m / 2.0, car.outlet_c)
    pressure = whole[..., 0, 0] * end + whole[..., 0, 1]
    flow = whole[..., 1, 0] * end + whole[..., 1, 1]
    echo = car.echo * np.exp(
        -4j * np.pi * (frequency_hz - 100.0) * car.echo_m / _speed(car.inlet_c)
    )
    front = waves.characteristic(car.pieces[0].bore_m / 2.0, car.inlet_c)
    return np.asarray(1.0 / ((1.0 - echo) * pressure + (1.0 + echo) * front * flow))


def tuned_hz(car: TrueCar, branch: Welded, number: int, near_hz: float) -> float:
    """Frequency nearest to ``near_hz`` at which a branch, the ``number``-th, takes in the most."""
    frequency_hz = near_hz * np.geomspace(0.75, 1.33, 2000)
    ends_m = np.cumsum([piece.length_m for piece in car.pieces])
    piece = car.pieces[int(np.searchsorted(ends_m, branch.place_m, side="right"))]
    rpm = 60.0 / car.order * frequency_hz
    _, shunt, _ = _branch(car, piece, branch, number, frequency_hz, rpm)
    reactance = (1.0 / shunt[:, 1, 0]).imag
    rises = np.flatnonzero((reactance[:-1] < 0.0) & (reactance[1:] >= 0.0))
    nearest = rises[np.abs(np.log(frequency_hz[rises] / near_hz)).argmin()]
    return float(frequency_hz[nearest])


def _line(
    car: TrueCar, frequency_hz: FloatArray, rpm: FloatArray, branches: tuple[Welded, ...]
) -> list[ComplexArray]:
    waiting = sorted(branches, key=lambda b: b.place_m)
    numbers = {id(branch): number for number, branch in enumerate(branches)}
    parts: list[ComplexArray] = []
    at_m = 0.0
    for index, piece in enumerate(car.pieces):
        if index:
            parts.append(_step(car, car.pieces[index - 1], piece, at_m, frequency_hz, rpm))
        end_m = at_m + piece.length_m
        while waiting and waiting[0].place_m < end_m:
            branch = waiting.pop(0)
            parts += _tubes(car, piece, at_m, branch.place_m, frequency_hz, rpm)
            parts += _branch(car, piece, branch, numbers[id(branch)], frequency_hz, rpm)
            at_m = branch.place_m
        parts += _tubes(car, piece, at_m, end_m, frequency_hz, rpm)
        at_m = end_m
    return parts


def _tubes(
    car: TrueCar,
    piece: Piece,
    from_m: float,
    to_m: float,
    frequency_hz: FloatArray,
    rpm: FloatArray,
) -> list[ComplexArray]:
    count = max(int(np.ceil((to_m - from_m) / _STEP_M)), 1)
    step_m = (to_m - from_m) / count
    return [
        waves.tube(
            frequency_hz,
            radius_m=piece.bore_m / 2.0,
            length_m=step_m,
            temperature_c=car.gas_c(from_m + (number + 0.5) * step_m),
            packing_np_m=piece.packing_np_m,
            mach=_mach(car, piece.bore_m, from_m, rpm),
        )
        for number in range(count)
    ]


def _mach(car: TrueCar, bore_m: float, at_m: float, rpm: FloatArray) -> FloatArray:
    """Same mass flow everywhere: the speed of flow goes with the absolute temperature."""
    hot_k, here_k = car.inlet_c + 273.15, car.gas_c(at_m) + 273.15
    narrower = (car.pieces[0].bore_m / bore_m) ** 2
    slower = (here_k / hot_k) * _speed(car.inlet_c) / _speed(car.gas_c(at_m))
    return np.asarray(car.inlet_mach_at_3000 * rpm / 3000.0 * narrower * slower)


def _step(
    car: TrueCar,
    before: Piece,
    after: Piece,
    at_m: float,
    frequency_hz: FloatArray,
    rpm: FloatArray,
) -> ComplexArray:
    """Change of area: mass of the flow that fans out, and what its eddies cost.

    Mass: 8/(3 pi) a (1 - 1.25 ratio), Ingard (1953), from memory; eddies: Borda and Carnot.
    """
    narrow_m, wide_m = sorted((before.bore_m, after.bore_m))
    ratio, radius_m = narrow_m / wide_m, narrow_m / 2.0
    if ratio > 0.8:
        return waves.series(np.zeros(frequency_hz.size, dtype=np.complex128))
    gas_c = car.gas_c(at_m)
    longer_m = 8.0 / (3.0 * np.pi) * radius_m * (1.0 - 1.25 * ratio)
    opens = after.bore_m > before.bore_m
    cost = (1.0 - ratio**2) ** 2 if opens else 0.5 * (1.0 - ratio**2)
    resistance = cost * _mach(car, narrow_m, at_m, rpm) * waves.characteristic(radius_m, gas_c)
    return waves.series(waves.mass(frequency_hz, radius_m, longer_m, gas_c) + resistance)


def _branch(
    car: TrueCar,
    piece: Piece,
    branch: Welded,
    number: int,
    frequency_hz: FloatArray,
    rpm: FloatArray,
) -> list[ComplexArray]:
    """Closed branch, with the corrections of Lefebvre and Scavone (2012), eqs 31 to 34.

    In front of a can the flow fans out as at a muffler, see ``_step``.
    """
    physics, radius_m = car.branch, branch.bore_m / 2.0
    ratio = branch.bore_m / piece.bore_m
    pipe_c = car.gas_c(branch.place_m)
    inner = np.polynomial.polynomial.polyval(
        ratio, (0.822, -0.095, -1.566, 2.138, -1.640, 0.502)
    ) * (1.0 - physics.mass_swept_away)
    matching = ratio / 8.0 * (1.0 + 0.207 * ratio**3)
    along = (-0.12 - 0.17 * np.tanh(2.4 * branch.length_m / radius_m)) * ratio**2 * radius_m
    longer_m = radius_m * float(inner + matching)
    total_m = branch.length_m + longer_m
    mouth_c = min(physics.gas_c[number] + physics.hotter_mouth_c, pipe_c)
    profile = _profile(car, number, mouth_c, total_m, branch.bore_m)
    steps = list(_inside(branch, longer_m, total_m, profile, frequency_hz))
    inside = waves.through(steps)
    mouth = waves.characteristic(radius_m, mouth_c)
    lost = physics.mouth_loss * _mach(car, piece.bore_m, branch.place_m, rpm) * mouth
    closed = inside[..., 0, 0] / inside[..., 1, 0] + lost
    half = waves.series(waves.mass(frequency_hz, piece.bore_m / 2.0, float(along) / 2.0, pipe_c))
    return [half, waves.shunt(1.0 / closed), half]


def _inside(
    branch: Welded,
    longer_m: float,
    total_m: float,
    profile_c: FloatArray,
    frequency_hz: FloatArray,
) -> Iterator[ComplexArray]:
    """Short tubes from the mouth to the cap; where a can begins, the mass of the fanning flow."""

    def tube(bore_m: float, length_m: float, gas_c: float) -> ComplexArray:
        return waves.tube(
            frequency_hz, radius_m=bore_m / 2.0, length_m=length_m, temperature_c=gas_c
        )

    neck_m = total_m if branch.can_bore_m is None else branch.neck_m + longer_m
    ends_m = np.linspace(0.0, total_m, _BRANCH_STEPS + 1)
    for start_m, end_m, gas_c in zip(ends_m[:-1], ends_m[1:], profile_c, strict=True):
        if start_m < neck_m:
            yield tube(branch.bore_m, min(end_m, neck_m) - start_m, gas_c)
        if branch.can_bore_m is not None and start_m <= neck_m < end_m:
            ratio = branch.bore_m / branch.can_bore_m
            fans_m = 4.0 / (3.0 * np.pi) * branch.bore_m * (1.0 - 1.25 * ratio)
            yield waves.series(
                waves.mass(frequency_hz, branch.bore_m / 2.0, max(fans_m, 0.0), gas_c)
            )
        if branch.can_bore_m is not None and end_m > neck_m:
            yield tube(branch.can_bore_m, end_m - max(start_m, neck_m), gas_c)


def _profile(
    car: TrueCar, number: int, mouth_c: float, total_m: float, bore_m: float
) -> FloatArray:
    """Hot mouth, cold end; the mean, weighted as tuning weighs it, is the branch's own gas."""
    physics = car.branch
    share = (np.arange(_BRANCH_STEPS) + 0.5) / _BRANCH_STEPS
    shape = np.exp(-share * total_m / (physics.decay_bores * bore_m))
    weight = np.cos(np.pi / 2.0 * share) ** 2
    even = shape - np.average(shape, weights=weight)
    wanted = max(mouth_c - physics.gas_c[number], 0.0)
    profile = physics.gas_c[number] + wanted * even / max(float(even[0]), 1e-9)
    return np.asarray(np.maximum(profile, 30.0))


def _cabin_db(car: TrueCar, frequency_hz: FloatArray) -> FloatArray:
    cabin = car.cabin
    octaves = np.log2(frequency_hz / 100.0)
    slope = cabin.rise_db_per_octave * octaves
    low = -10.0 * np.log10(1.0 + (frequency_hz / cabin.low_pass_hz) ** 4)
    hump = cabin.hump_db * np.exp(-0.5 * (np.log2(frequency_hz / cabin.hump_hz) / 0.8) ** 2)
    path = np.ones(frequency_hz.size, dtype=np.complex128)
    for mode_hz, gain, q in cabin.modes:
        path += gain / (1.0 + 1j * q * (frequency_hz / mode_hz - mode_hz / frequency_hz))
    return np.asarray(slope + low + hump + 20.0 * np.log10(np.abs(path)))


def _speed(temperature_c: float) -> float:
    return float(state(np.asarray(temperature_c)).speed_m_s)
