"""The engine of a car in words."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.exhaust.car import ROTARY, Car
from analysis.words.quantities import engine_name


def engine_of(car: Car) -> str:
    """E.g. '6 cylinders, 4-stroke', or '2 rotors', which are kept as the two-stroke alike."""
    if car.layout != ROTARY:
        return engine_name(car.engine)
    return f"{car.engine.cylinders} rotor{'' if car.engine.cylinders == 1 else 's'}"
