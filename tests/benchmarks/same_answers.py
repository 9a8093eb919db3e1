"""Whether two checkouts give the same answers: python -m tests.benchmarks.same_answers OTHER.

Makes 20 drives, 10 cars with the levels that their owners logged, and 5 pairs of drives, asks
``find``, ``size`` and ``compare`` of this checkout and of OTHER for JSON, and prints every number
that differs by more than its last printed digit, which is 1e-6 to 1e-5 of it. Sentences that read
otherwise are counted. For changes that should change nothing::

    git worktree add --detach ../before main
    python -m tests.benchmarks.same_answers ../before

A case costs a second or two to make and up to half a minute to ask. ``--only find`` or
``--only "size car 3" "size car 4"`` asks only those whose names hold one of the words, so that a
run can be cut into pieces; a case is the same in every run. ``--keep FOLDER`` keeps cases and
answers there.

A number that differs is not yet a fault: a mended one answers otherwise on purpose. Then mend OTHER
alike, with ``git cherry-pick`` of the mending commit alone, and ask again; what still differs was
not meant. OTHER must have ``pipenote.py`` at its top and ``--json``; it needs no tests.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
import soundfile

from tests.drives import FixKind, GeneratedDrive, generate, generate_pair, random_spec
from tests.garage.draw import droning_car, tell
from tests.garage.drone import measure

ROOT = Path(__file__).resolve().parents[2]
PRINTED_DIGITS = 6  # of a number in JSON
DRIVES, CARS, PAIRS = 20, 10, 5
_ROWS_HZ, _SWEEP_S = 4.0, 45.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One command line that ends in JSON."""

    name: str
    words: Callable[[Path], tuple[str, ...]]  # writes what is asked about into a folder


@dataclass(slots=True)
class Tally:
    """What was compared so far."""

    numbers: int = 0
    other_numbers: int = 0  # those that differ by more than their last digit
    sentences: int = 0  # reworded


def all_cases() -> list[Case]:
    """Name every case; none is made yet."""
    demo = ROOT / "recorded_sessions"
    car, baseline, postfix = (str(demo / name) for name in ("car.toml", "baseline", "postfix"))
    return [
        *(Case(name=f"find drive {n}", words=partial(_drive, n)) for n in range(DRIVES)),
        *(Case(name=f"size car {n}", words=partial(_car, n)) for n in range(CARS)),
        *(Case(name=f"compare pair {n}", words=partial(_pair, n)) for n in range(PAIRS)),
        Case(name="compare demo", words=lambda _: ("compare", baseline, postfix, "--car", car)),
        Case(name="size demo", words=lambda _: ("size", baseline, "--car", car)),
    ]


def answer(words: tuple[str, ...], checkout: Path) -> object:
    """Ask one checkout; its error text where it refuses."""
    done = subprocess.run(
        [sys.executable, str(checkout / "pipenote.py"), *words, "--json"],
        cwd=checkout,
        env=os.environ | {"PYTHONPATH": str(checkout), "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    return json.loads(done.stdout) if done.returncode == 0 else done.stderr.splitlines()[-1]


def differences(mine: object, other: object, tally: Tally, where: str = "") -> Iterator[str]:
    """Say where two JSON values differ, numbers by more than the tolerance, and count them."""
    if isinstance(mine, dict) and isinstance(other, dict):
        for key in sorted(mine.keys() | other.keys()):
            if key not in mine or key not in other:
                yield f"{where}.{key}: only in {'other' if key in other else 'this'}"
            else:
                yield from differences(mine[key], other[key], tally, f"{where}.{key}")
    elif isinstance(mine, list) and isinstance(other, list) and len(mine) == len(other):
        for index, pair in enumerate(zip(mine, other, strict=True)):
            yield from differences(*pair, tally, f"{where}[{index}]")
    elif isinstance(mine, int | float) and isinstance(other, int | float):
        tally.numbers += 1
        if abs(mine - other) > 1.01 * _last_digit(max(abs(mine), abs(other))):
            tally.other_numbers += 1
            yield f"{where}: {mine} is {other} in the other"
    elif _is_sentence(mine) and _is_sentence(other):
        return
    elif mine != other:
        only_here = _count_numbers(mine)
        tally.numbers += only_here
        tally.other_numbers += only_here
        yield f"{where}: {str(mine)[:90]!r} is {str(other)[:90]!r} in the other"


def reworded(mine: object, other: object) -> int:
    """Count the sentences of one that are not in the other."""
    return len(set(_sentences(mine)) - set(_sentences(other)))


def _count_numbers(value: object) -> int:
    if isinstance(value, dict | list):
        return sum(map(_count_numbers, value.values() if isinstance(value, dict) else value))
    return isinstance(value, int | float)


def _is_sentence(value: object) -> bool:
    return isinstance(value, str) and " " in value


def _sentences(value: object) -> Iterator[str]:
    if isinstance(value, dict | list):
        for each in value.values() if isinstance(value, dict) else value:
            yield from _sentences(each)
    elif isinstance(value, str) and " " in value:
        yield value


def _last_digit(number: float) -> float:
    """Give one unit of the last digit that is printed."""
    return 10.0 ** (math.floor(math.log10(number)) + 1 - PRINTED_DIGITS) if number else 0.0


def _drive(seed: int, folder: Path) -> tuple[str, ...]:
    rng = np.random.default_rng([91, seed])
    drive = generate(random_spec(rng, bands=seed % 3, gears=1 + seed % 2), seed)
    return "find", _write_drive(folder / f"drive-{seed}", drive)


def _pair(seed: int, folder: Path) -> tuple[str, ...]:
    spec = random_spec(np.random.default_rng([92, seed]), bands=1 + seed % 2)
    kind = (FixKind.BRANCH, FixKind.UNCHANGED, FixKind.MOVED)[seed % 3]
    before, after, _ = generate_pair(spec, seed, kind)
    written = [
        _write_drive(folder / f"pair-{seed}-{which}", drive)
        for which, drive in (("before", before), ("after", after))
    ]
    return "compare", *written


def _write_drive(folder: Path, drive: GeneratedDrive) -> str:
    folder.mkdir()
    rate_hz = int(drive.sample_rate_hz)
    soundfile.write(folder / "audio.wav", drive.samples, rate_hz, subtype="PCM_24")
    drive.telemetry.to_csv(folder / "telemetry.csv", index=False)
    _write_metadata(folder, drive.spec.source.cylinders)
    return str(folder)


def _car(seed: int, folder: Path) -> tuple[str, ...]:
    """Draw a car of the garage whose drone stands out, and log the level of its sweeps."""
    rng = np.random.default_rng([93, seed])
    measured = None
    while measured is None:
        car, heard = droning_car(rng)
        told = tell(car, rng, tight=seed % 3 == 2)
        measured = measure(car, heard, rng)
    rpm = np.geomspace(measured.rpm[0], measured.rpm[-1], round(_SWEEP_S * _ROWS_HZ))
    level_db = np.interp(rpm, measured.rpm, measured.level_db)
    rows = pd.DataFrame(
        {
            "time_s": np.arange(2 * rpm.size) / _ROWS_HZ,
            "rpm": np.concatenate([rpm, rpm[::-1]]),
            "level_z_db": np.concatenate([level_db, level_db[::-1]]),
        }
    )
    session = folder / f"car-{seed}"
    session.mkdir()
    rows.to_csv(session / "telemetry.csv", index=False)
    _write_metadata(session, car.cylinders)
    (session / "car.toml").write_text(told.text, encoding="utf-8")
    return "size", str(session), "--car", str(session / "car.toml")


def _write_metadata(folder: Path, cylinders: int) -> None:
    metadata = {"format_version": 1, "name": folder.name, "cylinders": cylinders}
    (folder / "session.json").write_text(json.dumps(metadata), encoding="utf-8")


def main() -> None:
    """Ask both checkouts and print what differs."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("other", type=Path, help="another checkout of the project")
    parser.add_argument("--only", nargs="+", default=[""], help="words in the names of cases")
    parser.add_argument("--keep", type=Path, help="folder for cases and answers")
    wanted = parser.parse_args()
    differ, tally = 0, Tally()
    with tempfile.TemporaryDirectory() as scratch:
        folder = wanted.keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        cases = [case for case in all_cases() if any(word in case.name for word in wanted.only)]
        for case in cases:
            words = case.words(folder)
            mine, other = answer(words, ROOT), answer(words, wanted.other.resolve())
            for whose, document in (("this", mine), ("other", other)):
                name = f"{case.name.replace(' ', '-')}-{whose}.json"
                (folder / name).write_text(json.dumps(document, indent=1), encoding="utf-8")
            found = list(differences(mine, other, tally))
            differ += bool(found)
            tally.sentences += reworded(mine, other)
            print(f"{case.name}: {'the same' if not found else f'{len(found)} differ'}", flush=True)
            for line in found[:12]:
                print(f"    {line}")
    print(
        f"{differ} of {len(cases)} cases differ; {tally.numbers - tally.other_numbers} of "
        f"{tally.numbers} numbers agree, {tally.sentences} sentences reworded"
    )


if __name__ == "__main__":
    main()
