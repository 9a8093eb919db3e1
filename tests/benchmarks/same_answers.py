"""Whether two checkouts give the same answers: python -m tests.benchmarks.same_answers OTHER.

Makes 20 drives, 10 cars with the levels that their owners logged, and 6 pairs of drives, asks
``find``, ``size`` and ``compare`` of this checkout and of OTHER for JSON, and prints every number
that differs by more than its last printed digit, which is 1e-6 to 1e-5 of it. Sentences that read
otherwise are counted. For changes that should change nothing. ``--keep FOLDER`` keeps the cases and
answers there.
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
from collections.abc import Iterator
from dataclasses import dataclass
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
    words: tuple[str, ...]


def make_cases(folder: Path) -> list[Case]:
    """Write the sessions and car files, and give what is asked of them."""
    cases = []
    for seed in range(DRIVES):
        rng = np.random.default_rng([91, seed])
        drive = generate(random_spec(rng, bands=seed % 3, gears=1 + seed % 2), seed)
        session = _write_drive(folder / f"drive-{seed}", drive)
        cases.append(Case(name=f"find drive {seed}", words=("find", session)))
    for seed in range(CARS):
        session, car = _write_car(folder / f"car-{seed}", seed)
        cases.append(Case(name=f"size car {seed}", words=("size", session, "--car", car)))
    for seed in range(PAIRS):
        spec = random_spec(np.random.default_rng([92, seed]), bands=1 + seed % 2)
        kind = (FixKind.BRANCH, FixKind.UNCHANGED, FixKind.MOVED)[seed % 3]
        before, after, _ = generate_pair(spec, seed, kind)
        pair = tuple(
            _write_drive(folder / f"pair-{seed}-{which}", drive)
            for which, drive in (("before", before), ("after", after))
        )
        cases.append(Case(name=f"compare pair {seed}", words=("compare", *pair)))
    demo = ROOT / "recorded_sessions"
    car, baseline = str(demo / "car.toml"), str(demo / "baseline")
    built = ("--car", car)
    words = ("compare", baseline, str(demo / "postfix"), *built)
    cases.append(Case(name="compare the demo", words=words))
    cases.append(Case(name="size the demo", words=("size", baseline, "--car", car)))
    return cases


def answer(case: Case, checkout: Path) -> object:
    """Ask one checkout; its error text where it refuses."""
    done = subprocess.run(
        [sys.executable, str(checkout / "pipenote.py"), *case.words, "--json"],
        cwd=checkout,
        env=os.environ | {"PYTHONPATH": str(checkout), "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    return json.loads(done.stdout) if done.returncode == 0 else done.stderr.splitlines()[-1]


def differences(mine: object, other: object, where: str = "") -> Iterator[str]:
    """Say where two JSON values differ, numbers by more than the tolerance."""
    if isinstance(mine, dict) and isinstance(other, dict):
        for key in sorted(mine.keys() | other.keys()):
            if key not in mine or key not in other:
                yield f"{where}.{key}: only in {'other' if key in other else 'this'}"
            else:
                yield from differences(mine[key], other[key], f"{where}.{key}")
    elif isinstance(mine, list) and isinstance(other, list) and len(mine) == len(other):
        for index, pair in enumerate(zip(mine, other, strict=True)):
            yield from differences(*pair, f"{where}[{index}]")
    elif isinstance(mine, int | float) and isinstance(other, int | float):
        if abs(mine - other) > 1.01 * _last_digit(max(abs(mine), abs(other))):
            yield f"{where}: {mine} is {other} in the other"
    elif _is_sentence(mine) and _is_sentence(other):
        return
    elif mine != other:
        yield f"{where}: {str(mine)[:90]!r} is {str(other)[:90]!r} in the other"


def reworded(mine: object, other: object) -> int:
    """Count the sentences of one that are not in the other."""
    return len(set(_sentences(mine)) - set(_sentences(other)))


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


def _write_drive(folder: Path, drive: GeneratedDrive) -> str:
    folder.mkdir()
    rate_hz = int(drive.sample_rate_hz)
    soundfile.write(folder / "audio.wav", drive.samples, rate_hz, subtype="PCM_24")
    drive.telemetry.to_csv(folder / "telemetry.csv", index=False)
    _write_metadata(folder, drive.spec.source.cylinders)
    return str(folder)


def _write_car(folder: Path, seed: int) -> tuple[str, str]:
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
    folder.mkdir()
    rows.to_csv(folder / "telemetry.csv", index=False)
    _write_metadata(folder, car.cylinders)
    (folder / "car.toml").write_text(told.text, encoding="utf-8")
    return str(folder), str(folder / "car.toml")


def _write_metadata(folder: Path, cylinders: int) -> None:
    metadata = {"format_version": 1, "name": folder.name, "cylinders": cylinders}
    (folder / "session.json").write_text(json.dumps(metadata), encoding="utf-8")


def main() -> None:
    """Ask both checkouts and print what differs."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("other", type=Path, help="another checkout of the project")
    parser.add_argument("--keep", type=Path, help="folder for cases and answers")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = wanted.keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        values = differ = sentences = 0
        for case in make_cases(folder):
            mine, other = answer(case, ROOT), answer(case, wanted.other.resolve())
            for whose, document in (("this", mine), ("other", other)):
                name = f"{case.name.replace(' ', '-')}-{whose}.json"
                (folder / name).write_text(json.dumps(document, indent=1), encoding="utf-8")
            found = list(differences(mine, other))
            differ += bool(found)
            values += json.dumps(mine).count(":")
            sentences += reworded(mine, other)
            print(f"{case.name}: {'the same' if not found else f'{len(found)} differ'}", flush=True)
            for line in found[:12]:
                print(f"    {line}")
        print(f"{differ} cases differ; {values} values compared, {sentences} sentences reworded")


if __name__ == "__main__":
    main()
