"""A report or its sheets, as they lie in the folder."""
# SPDX-License-Identifier: GPL-2.0-or-later

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, Response

from logger.desk.desk import Desk

# a report draws its pictures itself; shut in, it can reach nothing of the desk's
_SHUT_IN = (
    "sandbox allow-scripts allow-popups allow-downloads; default-src 'none'; "
    "script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:; media-src data:; "
    "frame-ancestors 'self'"
)


async def report(request: Request, desk: Desk) -> Response:
    """Show a page of ours, or sheets as PDF."""
    file = desk.folder.reports.get(request.path_params["report"])
    if file is None:
        raise HTTPException(404)
    if file.suffix == ".html":
        return FileResponse(
            file, media_type="text/html", headers={"content-security-policy": _SHUT_IN}
        )
    if file.suffix == ".pdf":
        return FileResponse(file, media_type="application/pdf", filename=file.name)
    raise HTTPException(404)
