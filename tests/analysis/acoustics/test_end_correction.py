"""Junction correction against finite elements and against independent published formulas."""
# SPDX-License-Identifier: GPL-2.0-or-later

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.acoustics.end_correction import junction_correction_m
from analysis.errors import SizingError

# Ratio of bores: correction over branch radius, from three-dimensional finite elements made for
# this project (gmsh, scikit-fem; quadratic elements, frequency to zero, two meshes within 0.4 %).
FINITE_ELEMENTS = {
    0.2: 0.7717, 0.3: 0.7284, 0.4: 0.6787, 0.5: 0.6243, 0.6: 0.5651, 0.667: 0.5241,
    0.75: 0.4718, 0.833: 0.4186, 0.9: 0.3755, 0.95: 0.3433, 1.0: 0.3113,
}  # fmt: skip


def per_radius(ratio: float) -> float:
    return junction_correction_m(2.0 * ratio, 2.0) / ratio


def lefebvre_and_scavone(x: float) -> float:
    """J. Acoust. Soc. Am. 131 (2012) 3153, eqs 31 to 34, with the matching volume."""
    inner = 0.822 - 0.095 * x - 1.566 * x**2 + 2.138 * x**3 - 1.640 * x**4 + 0.502 * x**5
    return inner + x / 8.0 * (1.0 + 0.207 * x**3)


@pytest.mark.parametrize("ratio", FINITE_ELEMENTS)
def test_within_2_per_cent_of_finite_elements(ratio: float) -> None:
    assert per_radius(ratio) == pytest.approx(FINITE_ELEMENTS[ratio], rel=0.02)


@given(st.floats(0.05, 1.0))
def test_within_1_5_per_cent_of_the_tone_hole_formula(ratio: float) -> None:
    assert per_radius(ratio) == pytest.approx(lefebvre_and_scavone(ratio), rel=0.015)


def test_pieces_meet_and_a_small_hole_is_flanged() -> None:
    assert per_radius(0.4) == pytest.approx(0.6848, abs=5e-5)
    assert per_radius(0.4 + 1e-9) == pytest.approx(0.6848, abs=5e-5)
    # 0.8216: a circular flanged opening at low frequency, Norris and Sheng (1989), from memory.
    assert per_radius(1e-6) == pytest.approx(0.8216, abs=1e-4)


@pytest.mark.parametrize(
    ("branch_mm", "pipe_mm", "correction_mm"),
    # Bores of 16 gauge tube, worked out by hand from the formula.
    [(47.50, 60.20, 10.5), (53.85, 60.20, 10.2), (60.20, 60.20, 9.4), (60.20, 72.90, 12.7)],
)
def test_common_tubes(branch_mm: float, pipe_mm: float, correction_mm: float) -> None:
    ours_mm = 1e3 * junction_correction_m(branch_mm / 1e3, pipe_mm / 1e3)
    assert ours_mm == pytest.approx(correction_mm, abs=0.06)


def test_a_branch_of_the_pipe_s_own_tube_fits_however_its_bore_was_rounded() -> None:
    """2.5 in of 16 gauge is 60.198 mm inside: files keep 60.2, and a rule shows no more."""
    whole = junction_correction_m(0.060198, 0.060198)
    assert junction_correction_m(0.0602, 0.060198) == pytest.approx(whole, rel=1e-3)


@pytest.mark.parametrize("branch_m", [0.0, -0.01, 0.0604, float("nan")])
def test_impossible_branches_are_refused(branch_m: float) -> None:
    with pytest.raises(SizingError, match="smaller tube"):
        junction_correction_m(branch_m, 0.0602)
