"""Small files and sessions that several tests need."""
# SPDX-License-Identifier: GPL-2.0-or-later

from pathlib import Path

import numpy as np
import pandas as pd
import soundfile
from numpy.typing import NDArray

from logger.session import SessionMetadata, write_session

RATE_HZ = 8000


def noise(seconds: float, channels: int, seed: int = 1) -> NDArray[np.float64]:
    shape = (int(seconds * RATE_HZ), channels)
    return np.random.default_rng(seed).uniform(-0.5, 0.5, shape)


def telemetry() -> pd.DataFrame:
    return pd.DataFrame({"time_s": [0.0, 0.1, 0.2], "rpm": [1000.0, np.nan, 1 / 3]})


def write_small_session(
    out: Path,
    *,
    overwrite: bool = False,
    seconds: float = 2.0,
    channels: int = 2,
    pickup_channels: tuple[int, ...] = (),
    tail_channel: int | None = None,
) -> None:
    samples = noise(seconds, channels)

    def write_audio(folder: Path) -> None:
        soundfile.write(folder / "audio.wav", samples, RATE_HZ, subtype="PCM_24")

    write_session(
        out,
        SessionMetadata(
            name="small",
            cylinders=6,
            pickup_channels=pickup_channels,
            tail_channel=tail_channel,
        ),
        telemetry=telemetry(),
        write_audio=write_audio,
        overwrite=overwrite,
    )


def files_below(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
