"""Are road drives like recorded engines?

    python -m tests.benchmarks.road_calibration [--drives N] [--layout NAME] [--clips FOLDER]
                                                [--page FILE]

Prints, for the engine's sound of generated drives, the level of each half order under the loudest,
how it spreads, how far working cycles differ, and the shapes of hills. With ``--clips`` the same
stands beside it of recorded engines, which the caller has: sound files with, of the same name, a
CSV of ``time_s`` and ``rpm``. ``--page`` draws the curves of both side by side.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import argparse
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import plotly.graph_objects as go
import soundfile
from plotly.subplots import make_subplots

from tests.benchmarks.road_measures import (
    ORDERS,
    FloatArray,
    Likeness,
    flutter_db,
    hill_shapes,
    measured,
    relative_db,
    rpm_curves,
)
from tests.roads import LAYOUTS, drive_on, random_road

_SOUND_FILES = (".wav", ".flac", ".opus", ".ogg")
_LONGEST_S = 30.0  # of a generated drive
_SHOWN_ORDERS = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0)
_QUANTILES = (0.1, 0.5, 0.9)


def generated(drives: int, layout: str | None) -> Iterator[tuple[str, Likeness]]:
    """The engine's sound of road drives."""
    for seed in range(drives):
        rng = np.random.default_rng([2031, seed])
        trace = ("sweep", "gears", "country")[seed % 3]
        made = drive_on(random_road(rng, layout=layout, trace=trace, troubles=()), seed)
        sound = made.truth.engine_sound[: int(_LONGEST_S * made.sample_rate_hz)]
        name = f"{made.spec.engine.layout} {trace} {seed}"
        yield name, measured(sound, made.sample_rate_hz, made.truth.time_s, made.truth.rpm)


def recorded(folder: Path) -> Iterator[tuple[str, Likeness]]:
    """Clips of a folder."""
    for rows in sorted(folder.glob("*.csv")):
        sounds = [rows.with_suffix(each) for each in _SOUND_FILES]
        for path in (each for each in sounds if each.exists()):
            sound, rate_hz = soundfile.read(path, dtype="float64", always_2d=True)
            log = pd.read_csv(rows)
            time_s, rpm = log["time_s"].to_numpy(), log["rpm"].to_numpy()
            yield rows.stem, measured(sound.mean(axis=1), rate_hz, time_s, rpm)


def _order(number: float) -> Callable[[Likeness], float]:
    column = int(2 * number) - 1
    return lambda of: float(np.median(relative_db(of)[:, column]))


def _spread(low: int, high: int) -> Callable[[Likeness], float]:
    """Mean distance of the quartiles of an order's level over the frames."""
    return lambda of: float(
        np.mean(np.subtract(*np.quantile(relative_db(of)[:, low:high], [0.75, 0.25], axis=0)))
    )


def _over_gap(of: Likeness) -> float:
    strong = relative_db(of) > -10.0
    return float(np.median((of.level_db - of.gap_db)[strong]))


def _span(of: Likeness) -> float:
    return float(np.ptp(10.0 * np.log10(np.sum(10.0 ** (of.level_db / 10.0), axis=1))))


def _hills(least_db: float) -> Callable[[Likeness], float]:
    return lambda of: float(np.count_nonzero(hill_shapes(of)[0] >= least_db))


def _middle(values: FloatArray) -> float:
    return float(np.median(values)) if values.size else float("nan")


PROPERTIES: dict[str, Callable[[Likeness], float]] = {
    **{f"order {n:g} under loudest, dB": _order(n) for n in (0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4, 6, 8)},
    "spread of orders to 2, dB": _spread(0, 4),
    "spread of orders 4.5 to 8, dB": _spread(8, 16),
    "one cycle like the next": lambda of: _middle(of.likeness),
    "the same, worst tenth": lambda of: float(np.quantile(of.likeness, 0.1)),
    "unsteadiness of strong orders, dB": flutter_db,
    "strong orders over gaps, dB": _over_gap,
    "hills of 3 dB, six orders": _hills(3.0),
    "hills of 6 dB, six orders": _hills(6.0),
    "height of hills, dB": lambda of: _middle(hill_shapes(of)[0]),
    "width of hills": lambda of: _middle(hill_shapes(of)[1]),
    "roughness of curves, dB": lambda of: _middle(hill_shapes(of)[2]),
    "level span of the drive, dB": _span,
}


def print_table(groups: dict[str, dict[str, Likeness]]) -> None:
    """Quantiles of every property over the drives of each group."""
    heads = "".join(f"{f'{name} ({len(group)})':>28s}" for name, group in groups.items())
    print(f"{'':36s}{heads}")
    print(f"{'':36s}" + f"{'low':>12s}{'middle':>8s}{'high':>8s}" * len(groups))
    for title, of in PROPERTIES.items():
        cells = []
        for group in groups.values():
            low, middle, high = np.nanquantile([of(each) for each in group.values()], _QUANTILES)
            cells.append(f"{low:12.2f}{middle:8.2f}{high:8.2f}")
        print(f"{title:36s}{''.join(cells)}")


def write_page(path: Path, groups: dict[str, dict[str, Likeness]]) -> None:
    """Level of each order over engine speed, one picture a drive, groups side by side."""
    rows = max(len(group) for group in groups.values())
    titles = [
        name if index < len(group) else ""
        for index in range(rows)
        for group in groups.values()
        for name in [list(group)[index] if index < len(group) else ""]
    ]
    figure = make_subplots(rows=rows, cols=len(groups), subplot_titles=titles)
    for column, group in enumerate(groups.values(), start=1):
        for row, of in enumerate(group.values(), start=1):
            rpm, curves = rpm_curves(of)
            for order in _SHOWN_ORDERS:
                level = curves[:, int(np.flatnonzero(order == ORDERS)[0])] - curves.max()
                line = go.Scatter(x=rpm, y=level, name=f"order {order:g}", legendgroup=order)
                line.update(line_color=f"hsl({45 * _SHOWN_ORDERS.index(order)},70%,45%)")
                line.update(showlegend=row == column == 1)
                figure.add_trace(line, row=row, col=column)
    figure.update_yaxes(range=[-50, 3])
    figure.update_layout(height=320 * rows)
    figure.write_html(path, include_plotlyjs=True)


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--drives", type=int, default=24)
    parser.add_argument("--layout", choices=LAYOUTS)
    parser.add_argument("--clips", type=Path, metavar="FOLDER")
    parser.add_argument("--page", type=Path, metavar="FILE")
    asked = parser.parse_args()
    groups = {"generated": dict(generated(asked.drives, asked.layout))}
    if asked.clips is not None:
        groups["recorded"] = dict(recorded(asked.clips))
        if not groups["recorded"]:
            parser.error(f"no clip in {asked.clips}; expected NAME.wav (or .opus) with NAME.csv")
    print_table(groups)
    if asked.page is not None:
        write_page(asked.page, groups)


if __name__ == "__main__":
    main()
