"""The sheets of a whole plan, in the order of the work."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.branches import Target
from analysis.build.sheets.book import Paper, Sheet, make_pdf
from analysis.build.sheets.can_joints import disc_sheets, joints_sheet
from analysis.build.sheets.cut_list import cut_list_sheet
from analysis.build.sheets.drawing_sheet import drawing_sheet
from analysis.build.sheets.prose import caution_sheet, work_sheet
from analysis.build.sheets.shopping_sheet import shopping_sheet
from analysis.build.sheets.templates import hole_sheets, saddle_sheets
from analysis.build.workshop.plan import BranchPlan, BuildPlan


def build_sheets(build: BuildPlan, paper: Paper) -> bytes:
    """Every sheet of a plan as one PDF."""
    several = len(build.branches) > 1
    placed = all(plan.branch.position_m is not None for plan in build.branches)
    fixed = all(plan.cap is None for plan in build.branches)
    longest_m = max(plan.centreline_m for plan in build.branches)
    sheets: list[Sheet] = [
        caution_sheet(paper, longest_m if build.room is None else None),
        shopping_sheet(build),
        work_sheet(
            paper,
            several=several,
            placed=placed,
            cans=[plan.can is not None for plan in build.branches],
            fixed=fixed,
        ),
    ]
    for plan in build.branches:
        who = f"branch {plan.number}" if several else "the branch"
        who += f" (make {plan.branch.welds})" if plan.branch.welds > 1 else ""
        sheets.append(drawing_sheet(plan, build, who))
        sheets.append(cut_list_sheet(plan, who))
    groups: dict[object, list[BranchPlan]] = {}  # branches that join alike, together
    for plan in build.branches:
        joint = (plan.saddle, plan.capped_tube, plan.cap is None)
        groups.setdefault(joint, []).append(plan)
    for plans in groups.values():
        who = " and ".join(f"branch {plan.number}" for plan in plans) if several else "the branch"
        if plans[0].can is not None:
            sheets.append(joints_sheet(plans[0], plans[0].can, who))
        sheets += [*saddle_sheets(plans, who, paper), *hole_sheets(plans[0], who, paper)]
        if plans[0].can is not None:
            sheets += disc_sheets(plans[0], plans[0].can, who, paper)
    drone = _drone(build.sizing.target)
    return make_pdf(
        sheets, paper, title=f"Build sheets: {drone}", foot=f"pipenote · {drone} · {paper.name}"
    )


def _drone(target: Target) -> str:
    rpm = target.rpm(target.peak_hz)
    at = "" if rpm is None else f", order {target.engine_order:g} at {rpm:.0f} rpm"
    return f"drone of {target.peak_hz:.1f} Hz{at}"
