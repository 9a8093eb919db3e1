"""How long a bend sounds."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math


def inertance_share(radius_m: float, bore_m: float) -> float:
    """Inertance of a bend over that of straight tube as long as its centreline.

    In a bend the gas keeps to the inside, its speed as 1 / radius: (1 + sqrt(1 - B^2)) / 2,
    B = half the bore over the centreline radius. Keefe and Benade, J. Acoust. Soc. Am. 74 (1983)
    320, page from memory. Its volume is that of the centreline (Pappus).
    """
    return (1.0 + math.sqrt(1.0 - (bore_m / 2.0 / radius_m) ** 2)) / 2.0


def bend_takes_m(
    start_m: float, turn_rad: float, radius_m: float, bore_m: float, length_m: float
) -> float:
    """How much shorter than its centreline a bend sounds in a closed quarter-wave branch.

    Inertance counts as the flow squared, cos^2(pi x / 2L), x from the mouth and L the branch's
    length: a bend at the mouth shortens the branch, one at the cap does not.
    """
    end_m = start_m + abs(turn_rad) * radius_m
    wave = math.pi / length_m
    flow_m = (end_m - start_m) / 2.0
    flow_m += (math.sin(wave * end_m) - math.sin(wave * start_m)) / (2.0 * wave)
    return (1.0 - inertance_share(radius_m, bore_m)) * flow_m
