"""Command-line options of ``history``."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from pathlib import Path

from logger.command import options


def add_history_options(parser: argparse.ArgumentParser) -> None:
    """Add the folder, the baseline and the page."""
    parser.add_argument(
        "folder", type=Path, metavar="FOLDER", help="folder that holds the session folders"
    )
    parser.add_argument(
        "--baseline",
        metavar="NAME",
        help="session folder to compare with (default: the one driven first)",
    )
    parser.add_argument("--out", type=Path, metavar="FILE.html", help="page to write")
    options.add_overwrite_option(parser)
    options.add_drive_options(parser)
    options.add_json_option(parser)
