"""Car files: write one, change one, see whether it can be read."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from logger.desk.desk import Desk, address, see, small_form, text_of
from logger.folder.output_file import write_whole

_EXAMPLE = """# Measure along the middle of the pipe, from the collector to the outlet.
[engine]
cylinders = 6

[[exhaust.section]]
kind = "pipe"
length = "2.27 m"
inner_diameter = "47.7 mm"

[[exhaust.section]]
kind = "muffler"
length = "0.45 m"
inner_diameter = "180 mm"

[[exhaust.section]]
kind = "pipe"
length = "1.2 m"
inner_diameter = "47.7 mm"

[room]
places = [["0.3 m", "2.2 m"]]
longest_branch = "1.1 m"
"""


async def every_car(request: Request, desk: Desk) -> Response:
    """List the car files, and offer to write another."""
    del request
    return desk.page(
        "cars", title="Cars", shelves=desk.library.look(), file="", text=_EXAMPLE, is_new=True
    )


async def one_car(request: Request, desk: Desk) -> Response:
    """Show one car file."""
    name = request.path_params["car"]
    file = desk.library.car(name)
    if file is None:
        raise HTTPException(404)
    return desk.page(
        "cars",
        title=name,
        shelves=desk.library.look(),
        file=name,
        text=file.read_text(encoding="utf-8", errors="replace"),
        is_new=False,
    )


async def save(request: Request, desk: Desk) -> Response:
    """Write a car file; an older one of the same name is replaced only where it was opened."""
    told = await small_form(request)
    name, text = text_of(told, "name"), text_of(told, "text")
    if not name.endswith(".toml"):
        name = f"{name}.toml"
    file = desk.library.car(name) if text_of(told, "replace") else None
    is_new = file is None
    file = file or desk.library.free_path(name)
    write_whole(file, f"{text}\n".replace("\r\n", "\n").encode("utf-8"), overwrite=not is_new)
    return see(address("cars", name))
