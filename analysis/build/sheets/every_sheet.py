"""The sheets of a whole plan, in the order of the work."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.branches import Sizing
from analysis.build.sheets.book import Paper, Sheet, make_pdf
from analysis.build.sheets.can_joints import disc_sheets, joints_sheet
from analysis.build.sheets.cut_list import cut_list_sheet
from analysis.build.sheets.drawing_sheet import drawing_sheet
from analysis.build.sheets.prose import caution_sheet, work_sheet
from analysis.build.sheets.shopping_sheet import shopping_sheet
from analysis.build.sheets.templates import hole_sheets, saddle_sheets
from analysis.build.workshop.fit_words import fit_words
from analysis.build.workshop.plan import BranchPlan, BuildPlan
from analysis.words.quantities import rpm as in_rpm
from analysis.words.sentences import listed


def build_sheets(build: BuildPlan, paper: Paper, made_for: str = "") -> bytes:
    """Every sheet of a plan as one PDF; ``made_for`` is whose, and when, at the foot of each."""
    several = len(build.branches) > 1
    sheets: list[Sheet] = [
        caution_sheet(paper, fit_words(build)),
        shopping_sheet(build),
        work_sheet(build, paper),
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
    drones = _drones(build.sizing)
    foot = " · ".join(["pipenote", *([made_for] if made_for else []), drones, paper.name])
    return make_pdf(sheets, paper, title=f"Build sheets: {drones}", foot=foot)


def _drones(sizing: Sizing) -> str:
    """E.g. 'order 3 at 2,570 rpm and 2,250 rpm', or the frequency where nobody knows the rpm."""
    rpms = [target.rpm(target.peak_hz) for target in sizing.targets]
    known = [in_rpm(rpm) for rpm in rpms if rpm is not None]
    if not known:
        return f"drone of {sizing.target.peak_hz:.1f} Hz"
    return f"order {sizing.target.engine_order:g} at {listed(known)}"
