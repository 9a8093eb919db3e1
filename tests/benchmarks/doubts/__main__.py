"""How often each warning of a drive is true: raised where it should be, and nowhere else.

    python -m tests.benchmarks.doubts [KIND[=N] ...] [--drives N] [--jobs N] [--first SEED]
                                      [--each] [--clips FOLDER]

Prints a table; asserts nothing. Without a KIND all of them, with ten drives of each if nobody says
how many. For each kind of fault: on how many drives a warning named it ("told", or no result was
given, with the reason), on how many none did, and there how many had a drone and heard "no drone"
without a word of doubt ("silent"); bands told where the oracle of
``tests/benchmarks/road_oracle.py`` shows no hill, and bands called the road's, which none of these
is; and how often the fault's warnings came on drives without it. ``unlogged`` are drives whose rpm
is thrown away, as ``tests.benchmarks.rpm_from_sound --roads`` has them. ``--clips`` adds recordings
of engines: sound files, each with ``time_s, rpm`` in a CSV of the same name; those of one engine
are driven one after the other, as they are, with a hill put in, and with that held by ten
levellers.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import argparse
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from analysis.errors import AnalysisError
from analysis.find.drone import find_drone
from analysis.findings import LockedTo
from tests.benchmarks import rpm_from_sound
from tests.benchmarks.doubts.clips import as_drive, clips_of
from tests.benchmarks.doubts.faults import FAULTS
from tests.benchmarks.hills.clips import Clip
from tests.benchmarks.road_oracle import RoadOracle
from tests.roads import drive_on

_UNLOGGED = "unlogged"
_FEW = 10  # drives of each kind when nobody says


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What was said of one drive."""

    kind: str
    name: str
    codes: frozenset[str]
    bands: int = 0
    false_bands: int = 0
    road_bands: int = 0
    is_withheld: bool = False
    is_silent: bool = False

    @property
    def is_told(self) -> bool:
        """Whether a warning names the fault."""
        return bool(self.codes & FAULTS[self.kind].codes)


def judged(kind: str, seed: int) -> Outcome:
    """Drive once, and find."""
    fault = FAULTS[kind]
    rng = np.random.default_rng([2033, zlib.crc32(kind.encode()), seed])
    made = drive_on(fault.make(rng, seed), seed)
    drive, name = made.drive(), f"{kind} {seed} ({made.spec.name})"
    assert drive.sound is not None
    if made.samples.ndim > 1:
        drive = replace(drive, sound=replace(drive.sound, other_channels=(2,)))
    try:
        findings = find_drone(drive)
    except AnalysisError:
        return Outcome(kind=kind, name=name, codes=frozenset({"refused"}))
    oracle = RoadOracle(made)
    doubted = findings.withheld is not None or any(each.may_hide for each in findings.warnings)
    return Outcome(
        kind=kind,
        name=name,
        codes=frozenset(doubt.code for doubt in findings.warnings),
        bands=len(findings.bands),
        false_bands=sum(
            not oracle.may_be_told(band.engine_order, band.peak_hz) for band in findings.bands
        ),
        road_bands=sum(band.locked_to is LockedTo.ROAD for band in findings.bands),
        is_withheld=findings.withheld is not None,
        is_silent=bool(oracle.must) and not findings.bands and not doubted,
    )


def _of_clip(kind: str, clip: Clip) -> Outcome:
    findings = find_drone(as_drive(clip))
    return Outcome(
        kind=kind,
        name=clip.name,
        codes=frozenset(doubt.code for doubt in findings.warnings),
        bands=len(findings.bands),
        is_withheld=findings.withheld is not None,
    )


def _unlogged(seed: int) -> tuple[str, str]:
    row = rpm_from_sound.run(rpm_from_sound.road(seed, with_road_speed=False))
    return f"{_UNLOGGED} {seed} ({row.name})", row.verdict


def rows(outcomes: list[Outcome]) -> Iterator[str]:
    """Lines of the table, kind by kind."""
    yield (
        f"{'kind':22s}{'drives':>7s}{'told':>6s}{'missed':>8s}{'withheld':>10s}{'silent':>8s}"
        f"{'bands':>7s}{'false':>7s}{'road':>6s}  warnings, and how often without the fault"
    )
    for kind in dict.fromkeys(each.kind for each in outcomes):
        own = [each for each in outcomes if each.kind == kind]
        codes = sorted(FAULTS[kind].codes)
        told = sum(each.is_told for each in own)
        numbers = f"{told:6d}{len(own) - told:8d}" if codes else f"{'-':>6s}{'-':>8s}"
        yield (
            f"{kind:22s}{len(own):7d}{numbers}{sum(each.is_withheld for each in own):10d}"
            f"{sum(each.is_silent for each in own):8d}{sum(each.bands for each in own):7d}"
            f"{sum(each.false_bands for each in own):7d}"
            f"{sum(each.road_bands for each in own):6d}  "
            + ", ".join(f"{code} {_elsewhere(code, outcomes)}" for code in codes)
        )


def _elsewhere(code: str, outcomes: list[Outcome]) -> str:
    others = [each for each in outcomes if not _may(each.kind, code)]
    raised = sum(code in each.codes for each in others)
    return f"{raised} of {len(others)}"


def _may(kind: str, code: str) -> bool:
    return code in FAULTS[kind].codes | FAULTS[kind].may


def false_alarms(outcomes: list[Outcome]) -> Iterator[str]:
    """Which warnings came on drives without their fault, kind by kind."""
    for kind in dict.fromkeys(each.kind for each in outcomes):
        own = [each for each in outcomes if each.kind == kind]
        counts = Counter(code for each in own for code in each.codes if not _may(kind, code))
        shares = ", ".join(f"{code} {count}" for code, count in counts.most_common())
        yield f"  {kind:22s} of {len(own)}: {shares or 'none'}"


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    kinds = [*FAULTS, _UNLOGGED]
    parser.add_argument("kinds", nargs="*", metavar="KIND[=N]", help=", ".join(kinds))
    parser.add_argument("--drives", type=int, default=_FEW, metavar="N", help="of each kind")
    parser.add_argument("--jobs", type=int, default=1, help="processes beside each other")
    parser.add_argument("--first", type=int, default=0, metavar="SEED")
    parser.add_argument("--each", action="store_true", help="name every drive that went wrong")
    parser.add_argument("--clips", type=Path, metavar="FOLDER")
    wishes = parser.parse_args()
    asked_kinds = wishes.kinds or ([] if wishes.clips else kinds)
    counts = dict(_count(parser, each, wishes.drives) for each in asked_kinds)
    outcomes: list[Outcome] = []
    verdicts: list[tuple[str, str]] = []
    with ProcessPoolExecutor(wishes.jobs) as pool:
        asked: list[Future[Any]] = [
            pool.submit(_unlogged, seed) if kind == _UNLOGGED else pool.submit(judged, kind, seed)
            for kind, count in counts.items()
            for seed in range(wishes.first, wishes.first + count)
        ]
        if wishes.clips is not None:
            asked += [pool.submit(_of_clip, *each) for each in clips_of(wishes.clips)]
        for number, done in enumerate(as_completed(asked), start=1):
            result: Outcome | tuple[str, str] = done.result()
            if isinstance(result, Outcome):
                outcomes.append(result)
            else:
                verdicts.append(result)
            print(f"\r{number} of {len(asked)} drives", end="", flush=True)
    print()
    outcomes.sort(key=lambda each: list(FAULTS).index(each.kind))
    for line in _report(outcomes, verdicts, each=wishes.each):
        print(line)


def _report(
    outcomes: list[Outcome], verdicts: list[tuple[str, str]], *, each: bool
) -> Iterator[str]:
    if outcomes:
        yield from rows(outcomes)
        yield "warnings on drives without their fault:"
        yield from false_alarms(outcomes)
    if verdicts:
        count = Counter(verdict for _, verdict in verdicts)
        yield f"without rpm, {len(verdicts)} drives: " + ", ".join(
            f"{verdict} {number}" for verdict, number in count.most_common()
        )
    if each:
        yield from _each(outcomes)
        yield from (
            f"{verdict}: {name}" for name, verdict in sorted(verdicts) if verdict != "right"
        )


def _each(outcomes: Iterable[Outcome]) -> Iterator[str]:
    for outcome in outcomes:
        if FAULTS[outcome.kind].codes and not outcome.is_told:
            yield f"missed: {outcome.name}, told {', '.join(sorted(outcome.codes)) or 'nothing'}"
        if outcome.false_bands:
            yield f"false bands: {outcome.name}, {outcome.false_bands} of {outcome.bands}"


def _count(parser: argparse.ArgumentParser, wish: str, usual: int) -> tuple[str, int]:
    kind, _, count = wish.partition("=")
    if kind not in [*FAULTS, _UNLOGGED] or not (count or "0").isdigit():
        parser.error(f"{wish}: say KIND or KIND=N, with KIND one of {', '.join(FAULTS)}")
    return kind, int(count or usual)


if __name__ == "__main__":
    main()
