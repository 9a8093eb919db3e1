"""A whole car as it truly is; none of this is shown to the sizing."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece of the exhaust, engine first."""

    is_chamber: bool
    length_m: float
    bore_m: float
    packing_np_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cabin:
    """Slow trend of source and body, and weak modes of the cabin: (Hz, gain, q)."""

    rise_db_per_octave: float
    low_pass_hz: float
    hump_hz: float
    hump_db: float
    modes: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchPhysics:
    """What any branch built onto this car will meet.

    ``gas_c`` is the temperature of uniform gas that would tune alike, near enough;
    ``hotter_mouth_c`` the excess of the mouth over the far end, which dies away within
    ``decay_bores``.
    """

    gas_c: tuple[float, float]  # first and second branch
    hotter_mouth_c: float
    decay_bores: float
    mouth_loss: float  # resistance over rho c, per Mach number of the stream
    mass_swept_away: float  # share of the inner length correction that the stream takes away


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueCar:
    """Everything. ``echo`` is the source's reflection at 100 Hz; it turns with ``echo_m``."""

    cylinders: int
    range_rpm: tuple[float, float]
    pieces: tuple[Piece, ...]
    inlet_c: float
    outlet_c: float
    bend_of_gradient: float
    inlet_mach_at_3000: float
    echo: complex
    echo_m: float
    cabin: Cabin
    branch: BranchPhysics

    @property
    def order(self) -> float:
        """Firing order of a four-stroke engine."""
        return self.cylinders / 2.0

    @property
    def length_m(self) -> float:
        """Collector to outlet."""
        return sum(piece.length_m for piece in self.pieces)

    def gas_c(self, place_m: float) -> float:
        """Gas along the line: falls faster at the hot end than a straight line would."""
        share = place_m / self.length_m
        bent = share + self.bend_of_gradient * share * (1.0 - share)
        return self.inlet_c + (self.outlet_c - self.inlet_c) * bent


@dataclass(frozen=True, slots=True, kw_only=True)
class Welded:
    """One branch as built on the true car; with a can when ``can_bore_m`` is given.

    ``length_m`` is that of neck and can together.
    """

    place_m: float
    length_m: float
    bore_m: float
    can_bore_m: float | None = None
    neck_m: float = 0.0
