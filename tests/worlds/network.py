"""Any network of tubes, solved by its nodes: admittances in, pressures out, exp(+j omega t).

Each tube is one element between two nodes. Walls lose as Zwikker and Kosten (1949) have it, the
gas is looked up in Cantera's tables (``tests/garage/gas.py``), an open end radiates as Norris and
Sheng, J. Sound Vib. 135 (1989) 85, have it (from memory). A stream carries the wave along.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from tests.garage import waves
from tests.garage.gas import FloatArray
from tests.garage.waves import ComplexArray


class Net:
    """Nodes and what lies between them; all admittances have one value a frequency."""

    def __init__(self, frequency_hz: FloatArray) -> None:
        self.frequency_hz = frequency_hz
        self._nodes = 0
        self._stamps: list[tuple[int, int, ComplexArray]] = []
        self._flows: list[tuple[int, ComplexArray]] = []

    def node(self) -> int:
        """Make a node."""
        self._nodes += 1
        return self._nodes - 1

    def matrix(self, start: int, end: int, abcd: ComplexArray) -> None:
        """Put a two-port [shape=(n_frequency, 2, 2)] between two nodes."""
        a, b, c, d = abcd[:, 0, 0], abcd[:, 0, 1], abcd[:, 1, 0], abcd[:, 1, 1]
        self._stamp(start, start, d / b)
        self._stamp(start, end, c - d * a / b)
        self._stamp(end, start, -1.0 / b)
        self._stamp(end, end, a / b)

    def tube(
        self,
        start: int,
        end: int,
        *,
        bore_m: float,
        length_m: float,
        gas_c: float,
        mach: FloatArray | float = 0.0,
        packing_np_m: float = 0.0,
    ) -> None:
        """Put a tube between two nodes; the stream runs from the first to the second."""
        abcd = waves.tube(
            self.frequency_hz,
            radius_m=bore_m / 2.0,
            length_m=length_m,
            temperature_c=gas_c,
            packing_np_m=packing_np_m,
            mach=mach,
        )
        self.matrix(start, end, abcd)

    def shunt(self, node: int, admittance: ComplexArray) -> None:
        """Put something between a node and still air."""
        self._stamp(node, node, admittance)

    def join(self, start: int, end: int, impedance: ComplexArray) -> None:
        """Put a resistance or a mass between two nodes."""
        for one, other, sign in (
            (start, start, 1),
            (end, end, 1),
            (start, end, -1),
            (end, start, -1),
        ):
            self._stamp(one, other, sign / impedance)

    def drive(self, node: int, flow: ComplexArray) -> None:
        """Let a volume flow into a node."""
        self._flows.append((node, flow))

    def pressures(self) -> ComplexArray:
        """Pressure at each node; shape (n_frequency, n_nodes)."""
        count = self.frequency_hz.size
        whole = np.zeros((count, self._nodes, self._nodes), dtype=np.complex128)
        flow = np.zeros((count, self._nodes, 1), dtype=np.complex128)
        for row, column, value in self._stamps:
            whole[:, row, column] += value
        for node, value in self._flows:
            flow[:, node, 0] += value
        return np.asarray(np.linalg.solve(whole, flow)[..., 0])

    def _stamp(self, row: int, column: int, admittance: ComplexArray) -> None:
        self._stamps.append((row, column, admittance))


def fan_out(net: Net, start: int, end: int, *, bore_m: float, wide_m: float, gas_c: float) -> None:
    """Put the mass of the flow that fans out from a tube into a wider one; Karal, J. Acoust. Soc.
    Am. 25 (1953) 327, from memory: 8 / (3 pi) radii, less as the step grows smaller."""
    longer_m = max(8.0 / (3.0 * np.pi) * bore_m / 2.0 * (1.0 - 1.25 * bore_m / wide_m), 1e-4)
    net.join(start, end, waves.mass(net.frequency_hz, bore_m / 2.0, longer_m, gas_c))


def perforate(
    net: Net,
    start: int,
    end: int,
    *,
    area_m2: float,
    open_share: float,
    mach: FloatArray,
    gas_c: float,
) -> None:
    """Join two ducts through a stretch of holes: the mass of the plugs of gas and, with a stream
    past them, resistance. Form as in Munjal, Acoustics of Ducts and Mufflers (1987), from memory:
    1.5 mm of wall and 0.75 hole diameters of 3.5 mm; 0.5 Mach numbers of resistance."""
    thick_m = 0.0015 + 0.75 * 0.0035
    radius_m = float(np.sqrt(area_m2 * open_share / np.pi))
    mass = waves.mass(net.frequency_hz, radius_m, thick_m, gas_c)
    rho_c = waves.characteristic(radius_m, gas_c)
    net.join(start, end, mass + (0.01 + 0.5 * mach) * rho_c)
