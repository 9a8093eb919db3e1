"""From import to the page for engines that are not the usual four, six or eight cylinders."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from analysis.find.sound.order_tracking import ORDERS
from tests.analysis.made_drives import rows, there_and_back
from tests.command_line import Run, only_document

pytestmark = pytest.mark.usefixtures("done_once")

_RATE_HZ = 2000.0
_PEAK_RPM = 2200.0


def write_drive(folder: Path, firing_order: float) -> tuple[Path, Path]:
    """Even pulses, loudest at 2200 rpm by a resonance 11 % wide, a little of order 1, and noise."""
    rpm = there_and_back(20.0, 1400.0, 3400.0, _RATE_HZ)
    turns = np.cumsum(rpm) / 60.0 / _RATE_HZ
    drone = 1.0 / np.hypot(1.0, 18.0 * np.log(rpm / _PEAK_RPM))
    sound = (0.05 + 0.2 * drone) * np.cos(2.0 * np.pi * firing_order * turns)
    sound += 0.03 * np.cos(2.0 * np.pi * turns)
    sound += 0.01 * np.random.default_rng(3).normal(size=rpm.size)
    audio, telemetry = folder / "cabin.wav", folder / "log.csv"
    soundfile.write(audio, sound, round(_RATE_HZ), "PCM_16")
    rows(rpm, rate_hz=_RATE_HZ).to_csv(telemetry, index=False)
    return audio, telemetry


@pytest.mark.parametrize(
    ("cylinders", "strokes", "order", "shown"),
    [
        (1, 4, 0.5, "1 cylinder, 4-stroke; firing order 0.5"),
        (3, 4, 1.5, "3 cylinders, 4-stroke; firing order 1.5"),
        (5, 4, 2.5, "5 cylinders, 4-stroke; firing order 2.5"),
        (16, 2, 16.0, "16 cylinders, 2-stroke; firing order 16"),
    ],
)
def test_import_find_size_report(
    run: Run, tmp_path: Path, cylinders: int, strokes: int, order: float, shown: str
) -> None:
    audio, telemetry = write_drive(tmp_path, order)
    drive, page = tmp_path / "drive", tmp_path / "page.html"
    files = ("--audio", audio, "--telemetry", telemetry)
    engine = ("--cylinders", cylinders, "--stroke-cycle", strokes)
    imported = run("import", "--out", drive, *files, *engine)
    assert imported.status == 0, imported.err
    found = only_document(run("find", drive, "--json"), "find")
    assert (found["firing_order"], found["firing_layout"]) == (order, [])
    peaks_hz = {band["engine_order"]: band["peak_hz"] for band in found["drone_bands"]}
    followed = [order] if order <= ORDERS[-1] else []
    assert peaks_hz == {
        each: pytest.approx(each * _PEAK_RPM / 60.0, rel=0.005) for each in followed
    }
    sized = only_document(run("size", drive, "--json"), "size")
    assert len(sized["branches"]) == 2 * len(followed)
    assert run("report", drive, "--out", page).status == 0
    assert shown in page.read_text(encoding="utf-8")
