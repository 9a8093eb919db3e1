"""How often each warning of a drive is true: raised where it should be, and nowhere else.

    python -m tests.benchmarks.doubts [KIND[=N] ...] [--drives N] [--jobs N] [--first SEED]
                                      [--each] [--clips FOLDER]

Prints a table; asserts nothing. Without a KIND all of them, with ten drives of each if nobody says
how many. For each kind of fault: on how many drives a warning named it ("told", or no result was
given, with the reason), on how many none did, and there how many had a drone and heard "no drone"
without a word of doubt ("silent"); bands told where the oracle of
``tests/benchmarks/road_oracle.py`` shows no hill, those whose peak is more than 1 % off, and those
called the road's, which none of these is. Then each warning: how often it came with its fault, and
how often without. ``unlogged`` are drives whose rpm is thrown away, as
``tests.benchmarks.rpm_from_sound --roads`` has them. ``--clips`` adds recordings of engines: sound
files, each with ``time_s, rpm`` in a CSV of the same name; those of one engine are driven one after
the other, as they are, with a hill put in, and with that held by ten levellers.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import argparse
import zlib
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from analysis.errors import AnalysisError
from analysis.find.drone import find_drone
from analysis.findings import LockedTo
from tests.benchmarks import rpm_from_sound
from tests.benchmarks.doubts.clips import as_drive, clips_of
from tests.benchmarks.doubts.faults import FAULTS
from tests.benchmarks.doubts.table import Outcome, by_warning, false_alarms, gone_wrong, rows
from tests.benchmarks.hills.clips import Clip
from tests.benchmarks.road_oracle import RoadOracle
from tests.roads import drive_on

_UNLOGGED = "unlogged"
_FEW = 10  # drives of each kind when nobody says
_OFF = 0.01  # of a frequency: a peak further from any top of its order is told as off


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
        off_bands=sum(
            oracle.peak_error(band.engine_order, band.peak_hz) > _OFF for band in findings.bands
        ),
        road_bands=sum(band.locked_to is LockedTo.ROAD for band in findings.bands),
        is_withheld=findings.withheld is not None,
        is_silent=bool(oracle.must) and not findings.bands and not doubted,
        climb_db=oracle.climb_db,
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
        yield from by_warning(outcomes)
        yield "warnings on drives without their fault:"
        yield from false_alarms(outcomes)
    if verdicts:
        count = Counter(verdict for _, verdict in verdicts)
        yield f"without rpm, {len(verdicts)} drives: " + ", ".join(
            f"{verdict} {number}" for verdict, number in count.most_common()
        )
    if each:
        yield from gone_wrong(outcomes)
        yield from (
            f"{verdict}: {name}" for name, verdict in sorted(verdicts) if verdict != "right"
        )


def _count(parser: argparse.ArgumentParser, wish: str, usual: int) -> tuple[str, int]:
    kind, _, count = wish.partition("=")
    if kind not in [*FAULTS, _UNLOGGED] or not (count or "0").isdigit():
        parser.error(f"{wish}: say KIND or KIND=N, with KIND one of {', '.join(FAULTS)}")
    return kind, int(count or usual)


if __name__ == "__main__":
    main()
