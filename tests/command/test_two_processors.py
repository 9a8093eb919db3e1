"""The same car gets the same answer on another processor.

The other one is this one with what is new in it switched off: numpy, OpenBLAS and the C library
then add in another order and round otherwise. (Switches: numpy's page on CPU dispatch, OpenBLAS's
on environment variables, glibc's on tunables; from memory.)
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import importlib
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.command.answers_printed import answers

# What find and size print is rounded, and the last figure may fall the other way.
_SHARE, _LAST_FIGURE = 1e-4, 0.02


def older_processor() -> dict[str, str]:
    """Environment that switches off all that may be, of what is here."""
    numpy_core = importlib.import_module("numpy._core._multiarray_umath")
    here: dict[str, bool] = numpy_core.__cpu_features__
    may_go = [name for name in numpy_core.__cpu_dispatch__ if here.get(name)]
    off = {"NPY_DISABLE_CPU_FEATURES": " ".join(may_go)}
    if here.get("SSE3"):  # all that OpenBLAS's oldest kernel asks of an x86-64
        off["OPENBLAS_CORETYPE"] = "Prescott"
        off["GLIBC_TUNABLES"] = "glibc.cpu.hwcaps=-AVX2,-FMA,-AVX512F"
    return off


def printed(**switched: str) -> Any:
    """What a process that begins with something switched off prints."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.command.answers_printed"],
        cwd=Path(__file__).parents[2],
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", **switched},
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(done.stdout)


def differences(one: Any, other: Any, path: str = "") -> Iterator[str]:
    """Where two documents differ: numbers by more than a last figure, all else at all."""
    if isinstance(one, dict) and isinstance(other, dict) and one.keys() == other.keys():
        for key, value in one.items():
            yield from differences(value, other[key], f"{path}/{key}")
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for number, (first, second) in enumerate(zip(one, other, strict=True)):
            yield from differences(first, second, f"{path}/{number}")
    elif isinstance(one, float) and isinstance(other, float):
        if one != pytest.approx(other, rel=_SHARE, abs=_LAST_FIGURE):
            yield f"{path}: {one} here, {other} there"
    elif one != other:
        yield f"{path}: {one!r} here, {other!r} there"


@pytest.mark.usefixtures("done_once")
def test_another_processor_gives_the_same_answers() -> None:
    off = older_processor()
    if not off["NPY_DISABLE_CPU_FEATURES"]:
        pytest.skip("numpy uses nothing of this processor that could be switched off")
    here, there = answers(), printed(**off)
    assert list(differences(here, there)) == []
    # where to weld and what to cut, to the last printed figure
    assert here["size"]["branches"] == there["size"]["branches"]
    assert here["size"]["as_good"] == there["size"]["as_good"]


def test_a_difference_is_seen() -> None:
    one = {"place": [300.0, None], "text": "as good"}
    assert list(differences(one, {**one, "place": [300.01, None]})) == []
    other = {"place": [2600.0, None], "text": "as  good"}
    assert len(list(differences(one, other))) == 2
    assert len(list(differences(one, {"place": [300.0], "text": "as good"}))) == 1
