"""Logs in the shapes people have: read right, or asked about by the option that settles it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from pathlib import Path

import numpy as np
import pytest

from logger.errors import TelemetryError
from logger.importing.plugins import read_telemetry_file
from logger.importing.request import ImportedTelemetry, TelemetryOptions
from tests.logger.importing.tables.log_shapes import RPM, SHAPES, SPEED_KMH, TIME_S, Shape


def read(shape: Shape, folder: Path, options: TelemetryOptions) -> ImportedTelemetry:
    path = folder / "log.csv"
    content = shape.content
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_telemetry_file(path, options, importer=None, installed=())


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
def test_a_log_is_read_right_or_asked_about(shape: Shape, tmp_path: Path) -> None:
    if shape.asks:
        with pytest.raises(TelemetryError) as asked:
            read(shape, tmp_path, TelemetryOptions())
        assert shape.asks in str(asked.value)
        assert "\n" not in str(asked.value)
    got = read(shape, tmp_path, TelemetryOptions(**shape.answer)).frame
    elapsed_s = got["time_s"] - got["time_s"].iloc[0]
    if not shape.time_s:  # ten rows in each of four minutes
        assert 180.0 < elapsed_s.iloc[-1] < 240.0
        return
    np.testing.assert_allclose(elapsed_s, shape.time_s, rtol=shape.tolerance, atol=1e-9)
    held = {"time_s", *(["rpm"] * shape.rpm), *(["road_speed_m_s"] * shape.speed)}
    assert set(got.columns) == held
    if shape.rpm:
        np.testing.assert_allclose(got["rpm"], RPM, rtol=shape.tolerance)
    if shape.speed:
        speed_kmh = got["road_speed_m_s"] * 3.6
        np.testing.assert_allclose(speed_kmh, SPEED_KMH, rtol=shape.tolerance)


def test_the_table_of_shapes_is_as_long_as_it_should_be() -> None:
    assert len(TIME_S) == len(RPM) == len(SPEED_KMH)
    assert len({shape.name for shape in SHAPES}) == len(SHAPES) >= 40
