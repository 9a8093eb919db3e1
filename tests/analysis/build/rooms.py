"""Room for straight tube, told as somebody tells it who has measured it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.build.workshop.folds import Room
from analysis.build.workshop.plan import BuildWishes

OPEN = Room(reach_m=3.0, run_m=3.0)
STRAIGHT = BuildWishes(room=OPEN)
