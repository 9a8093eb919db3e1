"""The chart of engine speed: marked moments are where they were marked, however many."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import plotly.graph_objects as go

from analysis.report.figure_style import RUST
from analysis.report.found.figure_speed import speed_chart
from tests.analysis.report.found_examples import findings


def test_marks_are_drawn_as_the_library_draws_a_vertical_line() -> None:
    at_s = (3.0, 12.5)
    chart = speed_chart(replace(findings(), marks_s=at_s))
    assert chart is not None
    expected = go.Figure()
    expected.add_scatter(x=[0, 1], y=[0, 1])
    for each in at_s:
        expected.add_vline(
            x=each,
            line={"color": RUST, "width": 1.5, "dash": "dot"},
            annotation_text="mark",
            annotation_position="top",
        )
    got, wanted = (figure.to_dict()["layout"] for figure in (chart.figure, expected))
    assert got["shapes"] == wanted["shapes"]
    assert got["annotations"] == wanted["annotations"]


def test_without_marks_there_is_no_line() -> None:
    chart = speed_chart(replace(findings(), marks_s=()))
    assert chart is not None
    assert not chart.figure.layout.shapes
