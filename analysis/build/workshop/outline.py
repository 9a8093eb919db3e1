"""Where the outside of a branch runs, and how much room it takes beside the pipe."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.build.workshop.folds import centreline
from analysis.build.workshop.plan import BranchPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """Room that a branch takes, its cap pulled out: from the pipe's outside, and along the pipe."""

    out_m: float
    along_m: float


def taken(plan: BranchPlan) -> Taken:
    """Say how much room a branch takes."""
    points = outline(plan)
    along_m, top_m = points[:, 0], points[:, 1].max()
    return Taken(
        out_m=float(top_m - plan.saddle.pipe.wall_m),
        along_m=float(along_m.max() - along_m.min()),
    )


def outline(plan: BranchPlan) -> FloatArray:
    """Points around a branch, its cap pulled out [shape=(n, 2)], in metres from the datum."""
    middle = centreline(plan.fold, plan.saddle.angle_rad)
    way = middle[-1] - middle[-2]
    way /= np.linalg.norm(way)
    half_m = plan.saddle.branch.outer_diameter_m / 2.0
    cap_out = middle[-1] + (plan.can_m + plan.furthest_m) * way
    ends = (middle[-1], cap_out) if plan.can else (cap_out,)
    across = plan.capped_tube.outer_diameter_m / 2.0 * np.array([-way[1], way[0]])
    corners = [end + sign * across for end in ends for sign in (1.0, -1.0)]
    sides = [beside(middle, half_m), beside(middle, -half_m)]
    return np.vstack([*sides, middle[:1], cap_out, *corners])


def beside(middle: FloatArray, half: float, start: float = 0.0) -> FloatArray:
    """One side of a tube: its middle moved sideways, begun a distance past its first point."""
    steps = np.diff(middle, axis=0)
    steps /= np.linalg.norm(steps, axis=1)[:, np.newaxis]
    along = np.vstack([steps[:1], (steps[:-1] + steps[1:]) / 2.0, steps[-1:]])
    along /= np.linalg.norm(along, axis=1)[:, np.newaxis]
    moved = middle + half * np.column_stack([-along[:, 1], along[:, 0]])
    moved[0] += start * steps[0]
    return np.asarray(moved)
