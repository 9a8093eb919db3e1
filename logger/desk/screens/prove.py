"""Did it work? Two drives against each other, and the history of all."""
# SPDX-License-Identifier: GPL-2.0-or-later

from starlette.requests import Request
from starlette.responses import Response

from logger.desk.desk import Desk, address, small_form, text_of, texts_of
from logger.desk.errands import Errand
from logger.desk.folder import BETWEEN, Shelves
from logger.desk.words import option

_HISTORY = "history.html"


async def form(request: Request, desk: Desk) -> Response:
    """Ask which two drives, and what was built between them; show the last answer asked for."""
    shelves = desk.folder.look()
    shown = request.query_params.get("shown", "")
    compared = [name for name in shelves.reports if BETWEEN in name or name == _HISTORY]
    return desk.page(
        "prove",
        title="Prove the cure",
        shelves=shelves,
        compared=[name for name in compared if name.endswith(".html")],
        shown=shown if shown in compared else None,
        complaint=desk.complaint(request),
        told={"baseline": _likely_baseline(shelves), **desk.told_before(request)},
    )


def _likely_baseline(shelves: Shelves) -> str:
    """Give the drive that a branch was sized for, or else the oldest."""
    sized = [each.name for each in shelves.drives if f"{each.name}.html" in shelves.reports]
    return (sized or [each.name for each in shelves.drives] or [""])[-1]


async def prove(request: Request, desk: Desk) -> Response:
    """Compare two drives, or all of them."""
    shelves, told = desk.folder.look(), await small_form(request)
    car = text_of(told, "car")
    car_file = desk.folder.car(car) if car else None
    if car and car_file is None:
        return desk.trouble(f"There is no car file {car} any more.", back="/prove")
    with_car = ["--car", str(car_file)] if car_file else []
    shown_in = desk.units_option()
    if text_of(told, "all"):
        out = desk.folder.report_file(_HISTORY)
        words = ["history", str(desk.folder.path), "--out", str(out), "--overwrite"]
        words += [*with_car, *shown_in]
        words += option("--baseline", text_of(told, "against"))
        title = "Comparing every drive"
    else:
        before = shelves.drive(text_of(told, "baseline"))
        after = shelves.drive(text_of(told, "postfix"))
        if before is None or after is None:
            return desk.trouble("Choose two drives that are there.", back="/prove")
        if before.name == after.name:
            return desk.trouble(
                "Choose two different drives: the one before the work, and the one after it.",
                back="/prove",
            )
        out = desk.folder.report_file(f"{after.name}{BETWEEN}{before.name}.html")
        words = ["report", str(before.path), str(after.path), "--out", str(out), "--overwrite"]
        words += [*with_car, *shown_in]
        measured = "sleeve " if text_of(told, "measured") == "sleeve" else ""
        for built in (desk.length_of(told, "built_1"), desk.length_of(told, "built_2")):
            words += option("--built", built and f"{measured}{built}")
        title = f"Comparing {before.name} and {after.name}"
    page = f"/prove?shown={address(out.name)[1:]}"
    return desk.run(
        Errand(
            title=title,
            words=tuple(words),
            done_at=page,
            failed_at="/prove",
            told=texts_of(told),
        )
    )
