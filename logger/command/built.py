"""What was built: told with --built, kept by ``size --keep``, or as sized now."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import SizingError
from logger.command import options
from logger.folder.output_file import refuse_out

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from analysis.branches import Sizing
    from analysis.build.workshop.plan import BuildWishes
    from analysis.compare.trim.built import AsBuilt, BuiltBranch, SizedBranches, WeldedOn
    from analysis.exhaust.car import Car
    from analysis.findings import Findings
    from analysis.size.wishes import SizeWishes

_MOST_BRANCHES = 2
_NOTHING_OUT = re.compile(r"\s*0+([.,]0*)?\s*(mm|cm|m|in)?\s*", re.IGNORECASE)
# Options that ask for other branches than those that were kept. The gas temperatures are not among
# them: they say how warm what was built runs, and change nothing of it.
_OTHER_SIZING = (
    "band",
    "branches",
    "pipe_diameter",
    "longest_branch",
    "tube",
    "no_can",
    "width",
)
_NOTHING = (
    "Built: nobody said what, so nothing is said of trimming it. Say each length, --built "
    '"702 mm"; next time, pipenote size --keep keeps what it says.'
)


@dataclass(frozen=True, kw_only=True)
class Built:
    """Branches as they were welded on, the wishes that go with them, and where that is from."""

    welded: WeldedOn
    wishes: SizeWishes
    said: str


def add_built_option(parser: argparse.ArgumentParser) -> None:
    """Add what was really welded on, where it is not what ``size`` said."""
    parser.add_argument(
        "--built",
        action="append",
        metavar="LENGTH",
        help='a branch as built, once for each: its length from pipe to cap, "702 mm", or how far '
        'its sleeve stands out, "sleeve 63 mm" (default: as size --keep kept it, or as size says '
        "with --car)",
    )


def add_keep_option(parser: argparse.ArgumentParser) -> None:
    """Add the wish to keep what is said beside the session."""
    parser.add_argument(
        "--keep",
        action="store_true",
        help="keep this in SESSION/sizing.json as what will be built, for compare and report",
    )


def refuse_keep(arguments: argparse.Namespace) -> None:
    """Refuse to keep before any work is done for it."""
    from logger.session.kept_sizing import SIZING_FILE

    if not arguments.keep:
        return
    if arguments.session is None:
        raise options.UsageError("--keep needs a session to keep it with; leave it out")
    refuse_out(arguments.session / SIZING_FILE, overwrite=arguments.overwrite)


def keep(sizing: Sizing | None, wishes: BuildWishes, arguments: argparse.Namespace) -> str:
    """Keep a sizing where ``--keep`` asks for it, and say so; "" when not asked."""
    from analysis.answers.sizing_document import sizing_document
    from logger.session.kept_sizing import keep_sizing

    if not arguments.keep:
        return ""
    if sizing is None:
        return "Nothing is kept: nothing was sized."
    document = sizing_document(sizing, wishes)
    file = keep_sizing(arguments.session, document, overwrite=arguments.overwrite)
    return f"Kept in {file} as what will be built; compare takes it from there."


def told_as_built(arguments: argparse.Namespace) -> tuple[AsBuilt, ...]:
    """Read ``--built``."""
    told = tuple(options.quantity("--built", text, _one_as_built) for text in arguments.built or ())
    if len(told) > _MOST_BRANCHES:
        raise SizingError(f"--built may be given for one or two branches, got {len(told)}")
    return told


def _one_as_built(text: str) -> AsBuilt:
    from analysis.basics.units import parse_length_m
    from analysis.compare.trim.built import SleeveOut

    first, _, rest = text.strip().partition(" ")
    if first.lower() != "sleeve":
        return parse_length_m(text)
    return SleeveOut(out_m=0.0 if _NOTHING_OUT.fullmatch(rest) else parse_length_m(rest))


def welded_on(
    session: Path,
    baseline: Findings,
    car: Car | None,
    wishes: SizeWishes,
    arguments: argparse.Namespace,
    *,
    sizing: Sizing | None = None,
) -> Built:
    """Give what was built after the baseline: as told, as kept with its session, or as sized now.

    ``sizing`` is what these wishes give, if it was asked already.
    """
    from analysis import job
    from analysis.compare.trim.built import WeldedOn
    from analysis.words.sentences import listed

    told = told_as_built(arguments)
    kept, why_not = _kept(session, baseline, arguments)
    if kept is not None:
        wishes = replace(wishes, band=None if kept.is_for_several else job.band_of(baseline, kept))
    elif arguments.car is None and not told:
        return Built(welded=WeldedOn(), wishes=wishes, said=why_not or _NOTHING)
    built = job.welded_on(baseline, car, wishes, told, sizing=sizing, kept=kept)
    whence = "as size says now"
    if kept is not None:
        whence = f"as size --keep kept it with {session.name}"
    if told:
        whence = f"as told, the rest {whence}"
    said = f"Built: {listed([*map(_said, built.branches)])} ({whence}). {why_not}".strip()
    return Built(welded=built, wishes=wishes, said=said if built.branches else why_not)


def _kept(
    session: Path, baseline: Findings, arguments: argparse.Namespace
) -> tuple[SizedBranches | None, str]:
    """Give what was kept, or why it is not taken; neither where nothing was kept."""
    from analysis import job
    from logger.session.kept_sizing import kept_sizing

    if any(getattr(arguments, name) for name in _OTHER_SIZING):
        return None, ""
    kept = kept_sizing(session)
    if kept is None or job.band_of(baseline, kept) is not None:
        return kept, ""
    return None, (
        f"What size --keep kept with {session.name} is for a drone at {kept.peak_hz:.1f} Hz, which "
        "is not found there now, so it is not taken."
    )


def _said(branch: BuiltBranch) -> str:
    from analysis.words.lengths import length
    from analysis.words.trim import sleeve_at

    where = "" if branch.position_m is None else f" at {length(branch.position_m)}"
    if branch.cap is None:
        return f"{length(branch.length_m + branch.bends_take_m)}{where}"
    sleeve = sleeve_at(branch.cap.out_m(branch.length_m))
    tube = length(branch.tube_end_m + branch.bends_take_m)
    return f"{tube} of tube{where} with its sleeve {sleeve}"
