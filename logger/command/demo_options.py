"""Command-line options of ``demo``, and the commands that it types."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from pathlib import Path

from logger.command import options

_SESSIONS = Path(__file__).resolve().parents[2] / "recorded_sessions"


def add_demo_options(parser: argparse.ArgumentParser) -> None:
    """Add where the demo writes to."""
    parser.add_argument(
        "--out",
        type=Path,
        default=Path("pipenote-demo"),
        metavar="DIR",
        help="folder for the report (default: pipenote-demo)",
    )
    options.add_overwrite_option(parser)


def demo_steps(out: Path) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Give each step's title, and the command that a user would type; pages go to ``out``."""
    here = _SESSIONS.relative_to(Path.cwd()) if _SESSIONS.is_relative_to(Path.cwd()) else _SESSIONS
    baseline, postfix = str(here / "baseline"), str(here / "postfix")
    car = ("--car", str(here / "car.toml"))
    built = (*car, "--built", "909 mm")
    page, sheets = str(out / "report.html"), str(out / "build.pdf")
    return (
        ("The drone in the baseline drive", ("find", baseline)),
        ("The branch to build", ("size", baseline, *car)),
        ("Did it work?", ("compare", baseline, postfix, *built)),
        ("An old log without sound", ("find", str(here / "old_levels"))),
        (
            "The report",
            ("report", baseline, postfix, *built, "--out", page, "--sheets", sheets, "--overwrite"),
        ),
    )
