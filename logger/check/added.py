"""What other packages add to pipenote: listed, each with its package, a bad one with its reason."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable
from importlib.metadata import EntryPoint, entry_points

from logger.errors import LoggerError
from logger.importing import plugins
from logger.screen.terminal import Row
from logger.sources import choice


def added_rows() -> list[Row]:
    """Give a row for each source and importer of another package; none where there is none."""
    return [
        *_rows(
            "Added source", choice.ENTRY_POINT_GROUP, choice.load_kind, "use it as --rpm {}:..."
        ),
        *_rows(
            "Added importer",
            plugins.ENTRY_POINT_GROUP,
            plugins.load_importer,
            "use it as --importer {}",
        ),
    ]


def _rows(label: str, group: str, load: Callable[[EntryPoint], object], use: str) -> list[Row]:
    rows = []
    for point in sorted(entry_points(group=group), key=lambda each: each.name):
        maker = "" if point.dist is None else f" from {point.dist.name} {point.dist.version}"
        try:
            load(point)
        except LoggerError as error:
            rows.append((label, f"{point.name}{maker}: {error}"))
        else:
            rows.append((label, f"{point.name}{maker}; {use.format(point.name)}"))
    return rows
