"""The dimensioned drawing: side view, joint, and the figures beside them."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

from analysis.build.drawing.elevation import draw_elevation
from analysis.build.drawing.joint import draw_joint
from analysis.build.drawing.pen import Area, Pen
from analysis.build.sheets.book import Sheet
from analysis.build.sheets.can_words import apart_words, can_rows, neck_words
from analysis.build.sheets.cap_words import end_words
from analysis.build.sheets.table import draw_table
from analysis.build.workshop.plan import BranchPlan, BuildPlan
from analysis.build.workshop.stock_parts import saw_names
from analysis.words.lengths import all_three, both, degrees, length, tube_measures
from analysis.words.places import measured_from
from analysis.words.quantities import temperature_both

# judgement: layout, moves no answer.
_JOINT_MM = 70.0
_TABLE_MM = 66.0
_TABLE_WITH_CAN_MM = 94.0
_LABEL_MM = 27.0
_ZERO_LINE = (
    "the inside of the pipe's wall, where marks A and C of the hole template lie on the line that "
    "you scribe along the pipe. All lengths of the branch start there."
)


def drawing_sheet(plan: BranchPlan, build: BuildPlan, who: str) -> Sheet:
    """One page for one branch."""

    def draw(pen: Pen, area: Area) -> None:
        table_top = area.bottom + (_TABLE_MM if plan.can is None else _TABLE_WITH_CAN_MM)
        # A can leaves no place for the joints: they are on a sheet of their own.
        joint_top = table_top + (_JOINT_MM if plan.can is None else 0.0)
        draw_elevation(pen, plan, replace(area, bottom=joint_top), room=build.room)
        if plan.can is None:
            draw_joint(pen, plan.saddle, replace(area, bottom=table_top, top=joint_top))
        widths = (_LABEL_MM, area.width - _LABEL_MM)
        draw_table(pen, area.left, table_top - 2.0, widths, _rows(plan, build))

    return Sheet(
        title=f"Drawing, {who}",
        about=f"{all_three(plan.centreline_m)} along the middle, from the zero line to "
        f"{end_words(plan)}.",
        draw=draw,
    )


def _rows(plan: BranchPlan, build: BuildPlan) -> list[tuple[str, str]]:
    branch, wall = plan.branch, "Wall as given."
    if not build.wall_given:
        wall = "Wall ASSUMED from stock sizes: measure the outside; if it differs, give --wall."
    rows = [
        ("Zero line", _ZERO_LINE),
        ("Length", _length(plan)),
        ("Place", _position(plan)),
        ("Branch tube" if plan.can is None else "Neck tube", tube_measures(branch.tube)),
        ("Pipe", f"{tube_measures(plan.saddle.pipe)}. {wall}"),
        ("Angle", _angle(plan)),
        ("Hole", _hole(plan)),
        ("Saddle", f"{both(plan.saddle.depth_m)} deep, cut to the saddle template"),
        (
            "Tuned to",
            f"{branch.tuned_hz:.1f} Hz with gas of {temperature_both(branch.gas_temperature_k)} "
            "in the branch",
        ),
    ]
    if plan.can is not None:
        rows[4:4] = can_rows(plan, plan.can)
    if build.sizing.spacing_m is not None:
        apart = f"{both(build.sizing.spacing_m)} along the pipe between the branches"
        rows.insert(3, ("Apart", apart + apart_words(plan, build)))
    return rows


def _length(plan: BranchPlan) -> str:
    cap = "The cap is fixed: the disc is welded on the end."
    if plan.cap is not None:
        cap = (
            f"The cap slides: start {length(plan.cap.start_m)} out of the end, to sound like "
            f"{both(plan.branch.length_m)}; at most {length(plan.cap.furthest_m)}. See the cuts."
        )
    if plan.can is not None:
        return f"{all_three(plan.centreline_m)}: {neck_words(plan, plan.can)} {cap}"
    if not plan.fold.turn_rad:
        return f"{all_three(plan.centreline_m)}. {cap}"
    return (
        f"{all_three(plan.centreline_m)} along the middle. Bends sound a little short, so it acts "
        f"as a straight tube of {both(plan.fold.acoustic_m)}. {cap}"
    )


def _position(plan: BranchPlan) -> str:
    if plan.branch.position_m is None:
        return "not worked out: see 'Mark the place' in the order of work"
    return (
        f"{length(plan.branch.position_m)} {measured_from(plan.branch.legs)} along the middle "
        "of the pipe, to the middle of the branch"
    )


def _angle(plan: BranchPlan) -> str:
    if plan.saddle.is_square:
        return "90°, square to the pipe"
    return (
        f"{degrees(plan.saddle.angle_rad)} between branch and pipe. What the junction adds to the "
        "length is known for 90° only: let the cap slide."
    )


def _hole(plan: BranchPlan) -> str:
    if not plan.saddle.is_square:
        return "as wide as the branch inside, cut to the hole template: no saw cuts a leaning hole"
    if not plan.saws:
        return "as wide as the branch inside, cut to the hole template: no usual hole saw fits"
    saws = saw_names(plan.saws)
    return f"hole saw {saws}; where it is narrower than the branch, file to the hole template"
