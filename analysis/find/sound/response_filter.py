"""Take out of the sound what the microphone shows too much, frequency by frequency.

The low-rate copy of the sound goes through one filter, so that every level after it is right at
once: orders, map, overall levels, comparisons. The filter is symmetric and its delay is taken
out, so that no frequency moves in time; the microphone's own phase stays, and no level needs it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import ArrayLike

from analysis.basics.arrays import FloatArray
from analysis.drive import SampleBlock
from analysis.errors import DriveError

# a step in the response is smoothed over about 8 Hz; judgement: longer costs time
HALF_LENGTH_S = 0.25
_GRID_STEP_HZ = 0.5

Response = Sequence[tuple[float, float]]


def response_db(response: Response, frequency_hz: ArrayLike) -> FloatArray:
    """Give what the microphone shows too much at a frequency; any shape.

    Between two points it runs straight over the logarithm of the frequency, below the first and
    above the last it stays; 0 Hz is below the first.
    """
    points = np.asarray(response, dtype=np.float64)
    known_hz, known_db = points[:, 0], points[:, 1]
    at_hz = np.clip(np.asarray(frequency_hz, dtype=np.float64), known_hz[0], known_hz[-1])
    return np.asarray(np.interp(np.log(at_hz), np.log(known_hz), known_db))


def flattened(
    blocks: Iterator[SampleBlock], sample_rate_hz: float, response: Response
) -> Iterator[SampleBlock]:
    """Filter the blocks [shape=(n,)] so that the microphone seems flat; as many samples come out.

    Raises
    ------
    DriveError
        The response holds anything but finite numbers, or its frequencies do not rise from above
        zero.
    """
    if not response:
        return blocks
    points = np.asarray(response, dtype=np.float64)
    if not (np.isfinite(points).all() and points[0, 0] > 0.0 and (np.diff(points[:, 0]) > 0).all()):
        raise DriveError(
            "the microphone's response must be finite, with frequencies that rise from above 0 Hz; "
            "give the response file again"
        )
    return _filtered(blocks, _kernel(sample_rate_hz, response))


def _kernel(sample_rate_hz: float, response: Response) -> SampleBlock:
    from scipy.signal import firwin2  # late: it takes a second to load, and few need it

    half_hz = 0.5 * sample_rate_hz
    grid_hz = np.linspace(0.0, half_hz, int(half_hz / _GRID_STEP_HZ) + 2)
    gain = 10.0 ** (-0.05 * response_db(response, grid_hz))
    taps = 2 * round(HALF_LENGTH_S * sample_rate_hz) + 1
    return np.asarray(firwin2(taps, grid_hz, gain, fs=sample_rate_hz), dtype=np.float32)


def _filtered(blocks: Iterator[SampleBlock], kernel: SampleBlock) -> Iterator[SampleBlock]:
    """Overlap and add; the first half kernel of the result lies before the sound begins."""
    from scipy.signal import oaconvolve

    half = kernel.size // 2
    # so much comes out before the sound begins, and goes: the filter has no delay then
    early = half
    tail = np.zeros(2 * half, dtype=np.float32)
    for block in blocks:
        if block.size == 0:
            continue
        whole = oaconvolve(block, kernel).astype(np.float32, copy=False)
        whole[: tail.size] += tail[: whole.size]
        tail = whole[block.size :]
        yield whole[min(early, block.size) : block.size]
        early = max(0, early - block.size)
    yield tail[early:half]
