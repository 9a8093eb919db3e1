"""What is inside a muffler, kind by kind, as tubes, chambers and holes between two nodes.

Build-ups are those that cut-open mufflers show; common practice, no source.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.garage.gas import FloatArray
from tests.worlds.network import Net, fan_out, perforate

KINDS = ("chamber", "straight-through", "three-pass", "chambered", "resonator")
_OPEN = 0.25  # share of a perforated tube that is holes
_SLICES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where a muffler sits: between which nodes, in which gas, in which stream in its tube."""

    start: int
    end: int
    gas_c: float
    mach: FloatArray


def through_muffler(
    net: Net,
    kind: str,
    spot: Spot,
    length_m: float,
    bore_m: float,
    shell_m: float,
    packing_np_m: float,
) -> None:
    """Put the innards of one kind between the spot's nodes."""
    if kind == "chamber":
        _extended(net, spot, length_m, bore_m, shell_m, 0.0, 0.0, packing_np_m)
    elif kind == "chambered":
        _chambered(net, spot, length_m, bore_m, shell_m)
    elif kind == "three-pass":
        _three_pass(net, spot, length_m, bore_m, shell_m)
    elif kind in ("straight-through", "resonator"):
        _perforated(net, spot, length_m, bore_m, _around(shell_m, bore_m), packing_np_m)
    else:
        raise ValueError(kind)


def _around(shell_m: float, bore_m: float, tubes: int = 1) -> float:
    """Bore of a tube as wide as the room round the tubes in a shell."""
    return float(np.sqrt(shell_m**2 - tubes * bore_m**2))


def _perforated(
    net: Net, spot: Spot, length_m: float, bore_m: float, around_m: float, packing_np_m: float
) -> None:
    """A perforated tube through a closed, often packed, room round it."""
    step_m = length_m / _SLICES
    here, beside = spot.start, net.node()
    for number in range(_SLICES):
        there = spot.end if number == _SLICES - 1 else net.node()
        outside = net.node()
        net.tube(here, there, bore_m=bore_m, length_m=step_m, gas_c=spot.gas_c, mach=spot.mach)
        net.tube(
            beside,
            outside,
            bore_m=around_m,
            length_m=step_m,
            gas_c=spot.gas_c,
            packing_np_m=packing_np_m,
        )
        area_m2 = np.pi * bore_m * step_m
        perforate(
            net, there, outside, area_m2=area_m2, open_share=_OPEN, mach=spot.mach, gas_c=spot.gas_c
        )
        here, beside = there, outside


def _extended(
    net: Net,
    spot: Spot,
    length_m: float,
    bore_m: float,
    shell_m: float,
    in_m: float,
    out_m: float,
    packing_np_m: float = 0.0,
) -> None:
    """A chamber into which the tubes may reach; round them the gas stands in closed rings."""
    around_m = _around(shell_m, bore_m)
    enter, leave = net.node(), net.node()
    mouth, exit_ = net.node(), net.node()
    gas_c = spot.gas_c
    for start, end, long_m in ((spot.start, mouth, in_m), (exit_, spot.end, out_m)):
        net.tube(
            start, end, bore_m=bore_m, length_m=max(long_m, 0.002), gas_c=gas_c, mach=spot.mach
        )
    fan_out(net, mouth, enter, bore_m=bore_m, wide_m=shell_m, gas_c=gas_c)
    fan_out(net, leave, exit_, bore_m=bore_m, wide_m=shell_m, gas_c=gas_c)
    net.tube(
        enter,
        leave,
        bore_m=shell_m,
        length_m=length_m - in_m - out_m,
        gas_c=gas_c,
        packing_np_m=packing_np_m,
    )
    for node, long_m in ((enter, in_m), (leave, out_m)):
        if long_m > 0.0:
            net.tube(node, net.node(), bore_m=around_m, length_m=long_m, gas_c=gas_c)


def _chambered(net: Net, spot: Spot, length_m: float, bore_m: float, shell_m: float) -> None:
    """Two chambers behind one another, with extended tubes."""
    between = net.node()
    half_m = length_m / 2.0
    first = Spot(start=spot.start, end=between, gas_c=spot.gas_c, mach=spot.mach)
    second = Spot(start=between, end=spot.end, gas_c=spot.gas_c, mach=spot.mach)
    _extended(net, first, half_m, bore_m, shell_m, half_m / 2.0, half_m / 4.0)
    _extended(net, second, half_m, bore_m, shell_m, half_m / 4.0, half_m / 2.0)


def _three_pass(net: Net, spot: Spot, length_m: float, bore_m: float, shell_m: float) -> None:
    """In to the rear chamber, back to the front one, out; all three leak into the middle."""
    end_m, middle_m = 0.2 * length_m, 0.6 * length_m
    gas_c = spot.gas_c
    front, rear, middle = net.node(), net.node(), net.node()
    around_m = _around(shell_m, bore_m, tubes=3)
    net.tube(middle, net.node(), bore_m=around_m, length_m=middle_m, gas_c=gas_c)
    for chamber in (front, rear):
        net.tube(chamber, net.node(), bore_m=shell_m, length_m=end_m, gas_c=gas_c)
    half_m = middle_m / 2.0
    turns = (
        (spot.start, rear, end_m + half_m, half_m),
        (rear, front, half_m, half_m),
        (front, spot.end, half_m, half_m + end_m),
    )
    for start, end, before_m, after_m in turns:
        lead, holes, tail = start, net.node(), end
        if start != spot.start:
            lead = net.node()
            fan_out(net, start, lead, bore_m=bore_m, wide_m=shell_m, gas_c=gas_c)
        if end != spot.end:
            tail = net.node()
            fan_out(net, tail, end, bore_m=bore_m, wide_m=shell_m, gas_c=gas_c)
        net.tube(lead, holes, bore_m=bore_m, length_m=before_m, gas_c=gas_c, mach=spot.mach)
        net.tube(holes, tail, bore_m=bore_m, length_m=after_m, gas_c=gas_c, mach=spot.mach)
        area_m2 = np.pi * bore_m * half_m
        perforate(
            net, holes, middle, area_m2=area_m2, open_share=_OPEN / 2.0, mach=spot.mach, gas_c=gas_c
        )
