"""The resonance of each hill: all orders together where the engine allows it, else one by one."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.find.bands.hill_fit import ModeEstimate, fit_hill, mode_of, tried
from analysis.find.bands.hills import Hill
from analysis.find.bands.joint_fit import fit_together
from analysis.find.bands.own_level import OWN_DB, chances, in_drive
from analysis.find.bands.resonance_model import MODE_TERMS, CurveData, ResonanceFit

Shapes = dict[float, list[tuple[Hill, ResonanceFit]]]

# judgement: hills of several orders are one resonance where they agree within so many sigma; and
# how far one resonance still differs from order to order, in ln f0, ln width and angle
_AGREE = 2.5
_AGREE_LOG = (0.12, 1.2)
_DIFFER = (0.001, 0.03, 0.1)
# judgement: more resonances than that are no pipe's but the engine's own ups and downs
_MOST_TOGETHER = 6
# judgement: in noise the misfit of all orders does not show what the engine does of its own; its
# hills do. Of 45 made engines with nearly like cylinders one has more than this part of hills with
# so much, of 6 on hostile roads that the misfit lets pass all have
_MUCH_DB = 0.5
_MOSTLY_MUCH = 0.6


def shapes_of(
    curves: dict[float, CurveData], seen: Sequence[tuple[float, Hill]]
) -> tuple[Shapes, FloatArray]:
    """Fit the hills of all orders, ``seen`` as pairs of order and hill.

    Also how often the engine does how much of its own [shape=(n_own,)].
    """
    tries = [tried(curves[order], hill) for order, hill in seen]
    likely = np.reshape([each.log_likelihood for each in tries], (-1, len(OWN_DB)))
    own_share = in_drive(likely)
    chance = chances(likely, own_share)
    alone = [each.fit(own) for each, own in zip(tries, chance, strict=True)]
    shapes: Shapes = {order: [] for order in curves}
    does_much = own_share[np.array(OWN_DB) > _MUCH_DB].sum() > _MOSTLY_MUCH
    joint = {} if does_much else _together(curves, seen, alone)
    modes = [mode_of(fit) for fit in alone]
    for (order, hill), own, own_chance in zip(seen, modes, chance, strict=True):
        fit = _on_hill(joint[order], hill) if joint else None
        if fit is None:
            others = [mode for (other, _), mode in zip(seen, modes, strict=True) if other != order]
            fit = fit_hill(curves[order], hill, mean_of_others(own, others), own_chance)
        shapes[order].append((hill, fit))
    return shapes, own_share


def _together(
    curves: dict[float, CurveData],
    seen: Sequence[tuple[float, Hill]],
    alone: Sequence[ResonanceFit],
) -> dict[float, ResonanceFit]:
    """Fit all orders at once; empty where that is not how this engine's levels come about.

    One order alone leaves open what is trend, resonance, and the engine's own.
    """
    if len(curves) < 2:
        return {}
    left = sorted(zip(seen, alone, strict=True), key=lambda each: -each[0][1].surely_db)
    starts: list[FloatArray] = []
    while left:
        surest = mode_of(left[0][1])
        alike = [agree(surest, mode_of(fit)) for _, fit in left]
        same = [fit.first for (_, fit), is_alike in zip(left, alike, strict=True) if is_alike]
        starts.append(np.mean(same, axis=0))
        left = [each for each, is_alike in zip(left, alike, strict=True) if not is_alike]
    if not 0 < len(starts) <= _MOST_TOGETHER:
        return {}
    fits = fit_together(list(curves.values()), np.array(starts))
    return {} if fits is None else dict(zip(curves, fits, strict=True))


def _on_hill(fit: ResonanceFit, hill: Hill) -> ResonanceFit | None:
    """Give the fit with the mode first that stands on a hill; None where none does."""
    modes = fit.modes.reshape(-1, MODE_TERMS)
    near = int(np.abs(modes[:, 0] - np.log(hill.top_hz)).argmin())
    low_hz, high_hz = hill.half_power_hz
    if not np.log(low_hz) < modes[near, 0] < np.log(high_hz):
        return None
    first = np.arange(MODE_TERMS * near, MODE_TERMS * (near + 1))
    turned = np.concatenate([first, np.setdiff1d(np.arange(modes.size), first)])
    return ResonanceFit(
        trend=fit.trend,
        modes=fit.modes[turned],
        covariance=fit.covariance[np.ix_(turned, turned)],
        reference_hz=fit.reference_hz,
    )


def mean_of_others(own: ModeEstimate, others: Sequence[ModeEstimate]) -> ModeEstimate | None:
    """Mean of what other orders say of the same resonance, None where none does.

    Every order reaches the ear through the same pipe and cabin, so a resonance has one frequency
    and one width for all of them. So has what else pipe and cabin do beside it: orders err
    together, and many of them are no surer than one (covariance intersection; Julier & Uhlmann,
    Proc. American Control Conf. 1997, 2369).
    """
    differ = np.diag(np.square(_DIFFER))
    precision, sums, count = np.zeros((3, 3)), np.zeros(3), 0
    for other in others:
        if agree(own, other):
            weight = np.linalg.inv(other.covariance + differ)
            precision, sums, count = precision + weight, sums + weight @ other.mean, count + 1
    if not count:
        return None
    return ModeEstimate(
        mean=np.asarray(np.linalg.solve(precision, sums), dtype=np.float64),
        covariance=count * np.linalg.inv(precision) + differ,
    )


def agree(own: ModeEstimate, other: ModeEstimate) -> bool:
    """Whether frequency and width may be those of one resonance."""
    apart = np.abs(other.mean - own.mean)[:2]
    near = np.minimum(_AGREE * np.hypot(own.sigma, other.sigma)[:2], _AGREE_LOG)
    return bool((apart < near).all())
