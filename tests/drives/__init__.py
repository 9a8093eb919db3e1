"""Drives made from physics, with the truth beside them.

Combustion pulses at the crank angles of a firing pattern pass recursive filters at the sample
rate; noise is added; the rpm rows are late and coarse. The truth comes from the filters' own
response. Nothing here shares code with the analysis but its input type.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from tests.drives.draw import ENGINES, random_spec
from tests.drives.generate import FixKind, GeneratedDrive, Truth, generate, generate_pair
from tests.drives.road_truth import TrueRoadBand
from tests.drives.spec import (
    CROSS_PLANE_BANK_DEG,
    DriveSpec,
    Gearing,
    Leg,
    Noise,
    Resonator,
    RoadTone,
    SideBranch,
    SmoothTransfer,
    Source,
    TelemetrySpec,
    even_fire,
)
from tests.drives.truth import CarModel, TrueBand

__all__ = [
    "CROSS_PLANE_BANK_DEG",
    "ENGINES",
    "CarModel",
    "DriveSpec",
    "FixKind",
    "Gearing",
    "GeneratedDrive",
    "Leg",
    "Noise",
    "Resonator",
    "RoadTone",
    "SideBranch",
    "SmoothTransfer",
    "Source",
    "TelemetrySpec",
    "TrueBand",
    "TrueRoadBand",
    "Truth",
    "even_fire",
    "generate",
    "generate_pair",
    "random_spec",
]
