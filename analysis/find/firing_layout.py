"""What the engine's orders say of which cylinders feed the pipe, and whether they are alike.

Order h of equal, short pulses at crank angles phi is sum(exp(-j h phi)) / N. So evenly firing
cylinders give the firing order and its multiples only. Every second cylinder alone gives half of
that order too; one bank of a cross-plane V8 gives orders 1.5 and 2.5 nearly as loud as 4, and no
whole order below it. A dead cylinder gives every order that the engine can have, each 1 / (N - 1)
of the firing order: every half order in a four-stroke engine, every whole one in a two-stroke. So
do unlike cylinders or primaries: all of twelve recorded healthy engines have such orders, so they
prove no misfire.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.drive import Engine
from analysis.findings import Findings, OrderCurve

# judgement: what the orders say of the engine is only told beside the drone; no number moves.
_CLEAR_DB = 3.0  # over the noise, in the middle of the engine speeds driven
_NEAR_DB = 8.0  # of pipes and cabin, which pass each order a little otherwise
_WEAK_CYLINDER_DB = 6.0  # the same; an average over many orders is steadier
_LEAST_CLEAR = 0.4  # of the orders that an even engine lacks; road noise hides the lowest
_LEAST_CYLINDERS = 3
_V8 = Engine(cylinders=8)  # cylinders of a V8, by definition


@dataclass(frozen=True, slots=True, kw_only=True)
class _Order:
    level_db: float  # against the firing order, over all engine speeds
    is_clear: bool


def firing_layout(findings: Findings) -> tuple[str, ...]:
    """Sentences on the layout; none where the orders are those of an even engine."""
    engine = findings.engine
    if engine is None or findings.levels_only or engine.cylinders < _LEAST_CYLINDERS:
        return ()
    firing = engine.firing_order
    orders = _orders(findings.curves, engine)
    if firing not in orders or not orders[firing].is_clear:
        return ()
    if engine == _V8 and _is_cross_plane_bank(orders):
        return (
            "Orders 1.5 and 2.5 are about as loud as order 4, and orders 1, 2 and 3 are missing: "
            "this pipe carries one bank of a cross-plane V8. A crossover that joins both banks "
            "before the branch would take most of the half orders away.",
        )
    # of an odd number no second half is left to fire evenly
    if engine.cylinders % 2 == 0 and _is_every_second(orders, firing):
        return (
            f"Order {0.5 * firing:g} is there beside order {firing:g}: every second cylinder "
            "feeds this pipe alone (one bank, or one half of the engine), or every second "
            "cylinder is switched off. If the pipe should carry all of them, look for cylinder "
            "cut-off.",
        )
    missing = [h for h in orders if h < 1.5 * firing and h % firing]
    clear_db = [orders[h].level_db for h in missing if orders[h].is_clear]
    dead_db = -20.0 * np.log10(engine.cylinders - 1.0)
    if (
        len(clear_db) >= _LEAST_CLEAR * len(missing)
        and np.median(clear_db) > dead_db - _WEAK_CYLINDER_DB
    ):
        return (
            f"There are orders beside {firing:g} that evenly firing cylinders would not make: "
            "the cylinders, or their pipes up to the collector, are not alike. Most engines sound "
            "like that. Only if yours also runs rough, look for a misfire before you change the "
            "exhaust.",
        )
    return ()


def _is_cross_plane_bank(orders: Mapping[float, _Order]) -> bool:
    strong = [orders[1.5], orders[2.5]]
    weakest_db = min(each.level_db for each in strong)
    # in the middle of them, because a boom of the road may lie on one
    lacking_db = float(np.median([orders[h].level_db for h in (1.0, 2.0, 3.0)]))
    return (
        all(each.is_clear for each in strong)
        and weakest_db > -_NEAR_DB
        and lacking_db < weakest_db - _NEAR_DB
    )


def _is_every_second(orders: Mapping[float, _Order], firing: float) -> bool:
    half = orders[0.5 * firing]
    others = [h for h in orders if h < 1.5 * firing and h % (0.5 * firing)]
    loudest_db = max(orders[h].level_db for h in others)
    return half.is_clear and half.level_db > max(-_NEAR_DB, loudest_db + _NEAR_DB)


def _orders(curves: tuple[OrderCurve, ...], engine: Engine) -> dict[float, _Order]:
    firing = engine.firing_order
    levels = {
        curve.engine_order: _levels(curve)
        for curve in curves
        if curve.rpm.size and engine.can_have(curve.engine_order)
    }
    if firing not in levels:
        return {}
    firing_db = levels[firing][0]
    return {
        order: _Order(level_db=level_db - firing_db, is_clear=over_noise_db > _CLEAR_DB)
        for order, (level_db, over_noise_db) in levels.items()
        if order < 2.0 * firing
    }


def _levels(curve: OrderCurve) -> tuple[float, float]:
    """Mean level over all rpm bins, and the median over them of the level over the noise; dB."""
    where = curve.bin_index - curve.bin_index.min()
    seconds = np.bincount(where, weights=curve.seconds)
    seen = seconds > 0.0
    total, noise = (
        np.bincount(where, weights=curve.seconds * each)[seen] / seconds[seen]
        for each in (curve.total_ms, curve.background_ms)
    )
    net = np.maximum(total - noise, 1e-20)
    over_noise = np.median(net / np.maximum(noise, 1e-20))
    return float(10.0 * np.log10(net.mean())), float(10.0 * np.log10(over_noise))
