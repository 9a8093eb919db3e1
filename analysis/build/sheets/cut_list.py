"""The cut list: every piece of one branch, and where the cap stands."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

import numpy as np

from analysis.branches import SlidingCap
from analysis.build.drawing.pen import HIDDEN, OUTLINE, THIN, Area, Pen
from analysis.build.sheets.book import Sheet
from analysis.build.sheets.can_words import can_piece_rows, neck_sums
from analysis.build.sheets.cap_words import cap_words, end_words, slide_rows
from analysis.build.sheets.table import draw_table, length_heads, piece_row
from analysis.build.workshop.plan import BranchPlan
from analysis.words.lengths import all_three, both, degrees, tube_size
from analysis.words.places import one_on_each
from analysis.words.sentences import sentence

_SIZE_PT, _LENGTH_MM = 9.0, 21.0  # judgement: layout, moves no answer


def cut_list_sheet(plan: BranchPlan, who: str) -> Sheet:
    """One page for one branch, and for how many pipes it is."""
    cap = plan.cap

    def draw(pen: Pen, area: Area) -> None:
        rows = _piece_rows(plan)
        widths = (14.0, 47.0, *(_LENGTH_MM for _ in rows[0][2:-1]))
        widths = (*widths, area.width - sum(widths))
        y = draw_table(pen, area.left, area.top - 1.0, widths, rows, headed=True)
        y = _say(pen, area, y - 2.0, _sums(plan))
        y = _heading(pen, area, y - 3.0, "First piece: check after the saddle is cut")
        y = _say(pen, area, y, _checks(plan))
        y = _heading(pen, area, y - 3.0, f"Cap that {'is fixed' if cap is None else 'slides'}")
        y = _say(pen, area, y, cap_words(plan))
        if cap is not None:
            rows = slide_rows(plan, cap)
            y = draw_table(pen, area.left, y - 2.0, (70.0, 60.0, 60.0), rows, headed=True)
            _draw_sleeve(pen, plan, cap, area.left + 10.0, y - 34.0, area.width - 20.0)

    return Sheet(
        title=f"Cut list, {who}",
        about=f"{_tubes(plan)}. Lengths are along the middle of the tube.",
        draw=draw,
    )


def _times(legs: tuple[str, ...]) -> list[str]:
    if len(legs) < 2:
        return [f"It goes {one_on_each(legs)}."] if legs else []
    return [f"{sentence(one_on_each(legs)).rstrip('.')}: cut all of this {len(legs)} times."]


def _tubes(plan: BranchPlan) -> str:
    size = tube_size(plan.branch.tube)
    return f"Tube {size}" if plan.can is None else f"Neck {size}, can {tube_size(plan.can.tube)}"


def _piece_rows(plan: BranchPlan) -> list[tuple[str, ...]]:
    fold, saddle = plan.fold, plan.saddle
    rows: list[tuple[str, ...]] = [("Piece", "What", *length_heads(), "How to cut")]
    last, neck = len(fold.straight_m) - 1, "" if plan.can is None else "neck, "
    for index, straight_m in enumerate(fold.straight_m):
        notes = []
        if index == 0:
            notes.append(
                f"starts at the zero line: cut the tube square to {both(plan.first_blank_m)}, then "
                f"cut the saddle, {both(saddle.depth_m)} deep"
            )
        if index == last and plan.can is None:
            notes.append(f"{'cap' if plan.cap is None else 'sleeve'} end square")
        elif index == last:
            notes.append("can's end square: it goes through the front disc, flush with its inside")
        note = "; ".join(notes) or "both ends square"
        rows.append(piece_row(2 * index + 1, f"{neck}straight", straight_m, note))
        if index < last:
            what = f"{neck}bend {degrees(fold.turn_rad[index])}, radius {both(fold.bend_radius_m)}"
            side = "" if fold.turn_rad[index] * fold.turn_rad[0] > 0.0 else "turns the other way; "
            note = side + "cut square where the bend begins and ends"
            rows.append(piece_row(2 * index + 2, what, fold.arc_m[index], note))
    if plan.can is not None:
        rows += can_piece_rows(plan, plan.can, first=len(rows))
    return rows


def _sums(plan: BranchPlan) -> list[str]:
    fold = plan.fold
    said = [
        *_times(plan.branch.legs),
        f"All pieces together: {all_three(plan.centreline_m)}, from the zero line to "
        f"{end_words(plan)}.",
    ]
    if plan.can is not None:
        said += neck_sums(plan, plan.can)
    elif fold.turn_rad:
        said.append(
            f"The bends sound {both(fold.bends_take_m)} shorter than they measure; the last "
            f"piece makes up for it, so all sounds like a straight tube of "
            f"{both(fold.acoustic_m)}."
        )
    if fold.turn_rad:
        said.append(
            "A straight end left on a bend is as good as a straight piece: shorten its neighbour "
            "by as much. Only the sum counts."
        )
    return said


def _checks(plan: BranchPlan) -> list[str]:
    saddle, first_m = plan.saddle, plan.fold.straight_m[0]
    wide, sides, small = first_m - saddle.outer_edge_m(np.radians([0.0, 90.0, 180.0]))
    marks = f"on marks A and C {both(small)}; on marks B and D {both(sides)}"
    if not saddle.is_square:
        marks = f"on mark A {both(wide)}; on marks B and D {both(sides)}; on mark C {both(small)}"
    return [
        f"Along the outside of the tube, from its square end to the saddle's edge: {marks}. "
        "Within 0.5 mm (1/64 in) is good."
    ]


def _draw_sleeve(
    pen: Pen, plan: BranchPlan, cap: SlidingCap, left: float, y: float, width: float
) -> None:
    """Draw the sleeve on the tube's end, as sized; not to scale."""
    tube, sleeve, pulled = 9.0, 10.5, 14.0
    right = left + 0.62 * width
    pen.path([(left, y + tube), (right - pulled, y + tube)], OUTLINE)
    pen.path([(left, y - tube), (right - pulled, y - tube)], OUTLINE)
    pen.line(right - pulled, y - tube, right - pulled, y + tube, HIDDEN)
    open_end, low, high = right - 52.0, y - sleeve, y + sleeve
    pen.path([(open_end, high), (right, high), (right, low), (open_end, low)], OUTLINE)
    for x in (right - 46.0, right - 28.0):
        pen.box(Area(left=x, bottom=y - sleeve - 1.2, right=x + 6.0, top=y + sleeve + 1.2), THIN)
    pen.dimension(right - pulled, y, right, y, "", 8.0)
    pen.text(right - pulled / 2.0, y + 1.5, "pull", 7.5, align="middle")
    tube_word, fixed = ("tube", "into") if plan.can is None else ("can", "on")
    pen.text(left, y + 12.0, tube_word, 8.0)
    pen.text(right - 43.0, y + 13.5, "band clamps", 8.0)
    pen.text(right + 4.0, y + 5.0, f"disc welded {fixed} the sleeve", 8.0)
    counts = f"a pull counts {cap.counts_times:.2f} times:"
    pen.text(right + 4.0, y + 1.0, counts, 8.0)
    pen.text(right + 4.0, y - 3.0, f"the sleeve is wider than the {tube_word}", 8.0)


def _heading(pen: Pen, area: Area, y: float, words: str) -> float:
    pen.text(area.left, y - 4.0, words, 10.5, bold=True)
    return y - 6.0


def _say(pen: Pen, area: Area, y: float, said: Sequence[str]) -> float:
    for words in said:
        y = pen.paragraph(area.left, y, area.width, words, _SIZE_PT) - 1.0
    return y
