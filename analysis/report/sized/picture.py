"""The picture of the branches on the page: the one that the build sheets show, of straight tube."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.branches import Sizing
from analysis.build.drawing.elevation import Elevation
from analysis.build.drawing.pen import Area, Pen
from analysis.build.drawing.svg import as_svg
from analysis.build.workshop.plan import BranchPlan, BuildWishes, plan_build
from analysis.errors import SizingError
from analysis.report.blocks import Drawing, Text
from analysis.words.lengths import diameter, length

# judgement: layout. Narrow, so that its words can be read on a phone: 9 pt of 326 pt across.
_AREA = Area(left=0.0, bottom=0.0, right=115.0, top=150.0)


def branch_picture(sizing: Sizing) -> Drawing | Text:
    """Draw every branch, or say why one cannot be made as it was sized."""
    try:
        plans = plan_build(sizing, BuildWishes()).branches
    except SizingError as error:
        return Text(text=f"There is no picture of it: {error}.")
    return Drawing(
        name="drawing",
        title="Pipe and branch, cut lengthwise",
        summary="Drawn to proportion; work to the figures, not the picture.",
        svgs=tuple(_draw(plan, several=len(plans) > 1) for plan in plans),
    )


def _draw(plan: BranchPlan, *, several: bool) -> str:
    branch = plan.branch
    notes = (
        f"{f'Branch {plan.number}: tube' if several else 'Tube'} {branch.tube.name}",
        f"Hole in the pipe {diameter(branch.tube.inner_diameter_m)}",
    )
    pen = Pen()
    Elevation(plan, None, _AREA, notes).draw(pen)
    label = f"Branch {plan.number}, {length(branch.length_m)} from the datum to the cap"
    return as_svg(pen.group, _AREA, label)
