"""The figures: what they hold, units under the pointer, nothing told by colour alone."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analysis.drive import Engine
from analysis.report.blocks import Chart, Text
from analysis.report.compared.figure_compare import (
    change_chart,
    other_order_charts,
    outcome_picture,
)
from analysis.report.found.figure_levels import mean_curve, order_chart, overall_chart
from analysis.report.found.figure_maps import map_chart
from analysis.report.sections import make_sections
from analysis.report.sized.figure_cure import loss_chart
from analysis.verdicts import Verdict
from analysis.words.shown import Units, showing
from tests.analysis.report.compared_examples import comparison
from tests.analysis.report.examples import contents, every_case
from tests.analysis.report.found_examples import band, curve, findings, levels_only
from tests.analysis.report.sized_examples import sizing

CASES = every_case()


@cache
def _charts(name: str) -> tuple[Chart, ...]:
    """Every chart of one page, drawn once for all tests that only read it."""
    return tuple(b for s in make_sections(CASES[name]) for b in s.blocks if isinstance(b, Chart))


@pytest.mark.parametrize("name", CASES)
def test_every_trace_reads_out_values_with_units(name: str) -> None:
    for chart in _charts(name):
        assert chart.summary.endswith(".")
        assert chart.figure.layout.height == chart.height_px
        assert chart.figure.data
        for trace in chart.figure.data:
            if trace.hoverinfo != "skip":
                assert any(u in trace.hovertemplate for u in ("dB", "Hz", "rpm")), trace.name


@pytest.mark.parametrize("name", CASES)
def test_lines_of_one_figure_differ_in_more_than_colour(name: str) -> None:
    for chart in _charts(name):
        looks = {  # by name: a line on a map has its edge under it
            t.name: (t.line.dash, t.marker.symbol if isinstance(t.marker.symbol, str) else "")
            for t in chart.figure.data
            if t.type == "scatter" and t.name and "lines" in (t.mode or "")
        }
        assert len(looks) == len(set(looks.values())), chart.name


@pytest.mark.parametrize("name", CASES)
def test_chart_names_are_unique(name: str) -> None:
    names = [chart.name for chart in _charts(name)]
    assert len(names) == len(set(names))


def test_the_map_keeps_the_loudest_line_where_the_order_is() -> None:
    chart = map_chart(findings(band()))
    assert chart is not None
    heat = chart.figure.data[0]
    at_peak = int(np.argmin(np.abs(np.asarray(heat.x) - 2240.0)))
    loudest_hz = np.asarray(heat.y)[int(np.nanargmax(np.asarray(heat.z)[:, at_peak]))]
    assert loudest_hz == pytest.approx(3.0 * np.asarray(heat.x)[at_peak] / 60.0, abs=1.0)


def test_a_large_map_is_made_small_without_losing_power() -> None:
    found = findings(band())
    assert found.level_map is not None
    flat = replace(
        found.level_map,
        rpm=np.linspace(1000.0, 3000.0, 2000),
        frequency_hz=np.linspace(1.0, 200.0, 3000),
        level_db=np.full((2000, 3000), -40.0),
    )
    chart = map_chart(replace(found, level_map=flat))
    assert chart is not None
    z = np.asarray(chart.figure.data[0].z)
    assert z.size <= 240 * 320
    assert z == pytest.approx(-40.0, abs=1e-3)


def test_the_map_says_where_there_is_no_data() -> None:
    chart = map_chart(findings(band()))
    assert chart is not None
    assert "not driven" in chart.summary
    assert "2,020 rpm to 2,490 rpm on order 3" in chart.summary


@pytest.mark.parametrize(
    ("engine", "orders"),
    [
        (Engine(cylinders=6), "order 1.5 (half the firing order), order 3 (firing) and order 6 "),
        (Engine(cylinders=5), "order 2.5 (firing) and order 5 "),
        (Engine(cylinders=3, stroke_cycle=2), "order 3 (firing) and order 6 "),
    ],
)
def test_the_map_draws_no_order_that_the_engine_cannot_have(engine: Engine, orders: str) -> None:
    chart = map_chart(replace(findings(), engine=engine))
    assert chart is not None
    assert f"engine speed: {orders}(twice firing)." in chart.summary


def test_a_drive_without_sound_has_no_map_but_an_order_curve() -> None:
    assert map_chart(levels_only()) is None
    assert order_chart(levels_only(), 3.0) is not None


def test_the_mean_is_of_power_weighted_by_seconds() -> None:
    one = curve(3.0, (), passes=2)
    n = one.rpm.size // 2
    # 0.01 for 1 s and 0.04 for 3 s over a background of 0.001: mean 0.0325 without it
    total = np.r_[np.full(n, 0.011), np.full(n, 0.041)]
    made = replace(
        one,
        total_ms=total,
        background_ms=np.full(2 * n, 0.001),
        seconds=np.r_[np.full(n, 1.0), np.full(n, 3.0)],
    )
    _, level_db = mean_curve(made, full_scale_db=100.0)
    assert level_db == pytest.approx(100.0 + 10.0 * np.log10(0.0325))


def test_a_point_below_the_background_is_left_out() -> None:
    one = curve(3.0, (), passes=1)
    _, level_db = mean_curve(replace(one, total_ms=0.5 * one.background_ms), 0.0)
    assert np.isnan(level_db).all()
    buried = replace(findings(), curves=(replace(one, total_ms=0.5 * one.background_ms),))
    chart = order_chart(buried, 3.0)
    assert chart is not None
    assert "below the background" in chart.summary


def test_an_order_that_was_not_measured_has_no_chart() -> None:
    assert order_chart(findings(), 13.0) is None


def test_fit_trend_and_mean_are_in_one_unit() -> None:
    calibrated = replace(findings(band()), full_scale_db=113.0, level_unit="dB SPL")
    chart = order_chart(calibrated, 3.0)
    assert chart is not None
    lines = {t.name: np.asarray(t.y) for t in chart.figure.data if t.mode == "lines"}
    assert np.abs(lines["smoothed"] - lines["mean"]).max() < 3.0
    assert np.nanmean(lines["without the drone"]) == pytest.approx(
        113.0 + curve(3.0, (band(),)).trend_db.mean(), abs=0.1
    )


def test_only_measured_overall_levels_are_drawn() -> None:
    found = findings()
    no_level = np.full(found.overall.rpm.size, np.nan)
    chart = overall_chart(
        replace(found, overall=replace(found.overall, level_z_db=no_level, level_c_db=no_level))
    )
    assert chart is not None
    assert [t.name for t in chart.figure.data] == ["A-weighted"]


def test_logged_levels_are_drawn_once_and_called_overall() -> None:
    assert overall_chart(levels_only()) is None
    chart = order_chart(levels_only(), 3.0)
    assert chart is not None
    assert chart.title == "Overall level over engine speed, taken as order 3 (firing)"


def test_the_loss_summary_names_the_worst_of_the_band() -> None:
    sized = sizing()
    inside = (sized.loss_curves.frequency_hz >= sized.target.low_hz) & (
        sized.loss_curves.frequency_hz <= sized.target.high_hz
    )
    least = sized.loss_curves.loss_db[2][inside].min()
    assert f"{least:.0f} dB with the gas at 140 °C (284 °F)" in loss_chart(sized).summary


def test_changes_are_drawn_with_their_interval() -> None:
    chart = change_chart(comparison())
    assert chart is not None
    trace = chart.figure.data[0]
    assert trace.x[0] == pytest.approx(-14.2)
    assert trace.error_x.arrayminus[0] == pytest.approx(1.4)
    assert trace.error_x.array[0] == pytest.approx(1.3)
    assert trace.text[0] == "cured"


def test_a_change_that_is_not_known_is_not_drawn() -> None:
    assert change_chart(comparison(Verdict.CANNOT_TELL)) is None


def test_no_common_engine_speed_means_no_curve() -> None:
    compared = comparison()
    none = np.array([])
    empty = replace(compared.curves[0], rpm=none, before_db=none, after_db=none)
    bare = replace(compared, curves=(empty,))
    page = contents(findings(band()), None, bare, findings())
    assert isinstance(outcome_picture(page, bare), Text)
    assert other_order_charts(page, bare) == []


def test_the_picture_shows_the_order_of_the_answer_and_the_evidence_the_others() -> None:
    compared = comparison()
    both = replace(
        compared, curves=(replace(compared.curves[0], engine_order=1.5), *compared.curves)
    )
    page = contents(findings(band()), None, both, findings())
    picture = outcome_picture(page, both)
    assert isinstance(picture, Chart)
    assert picture.title == "Order 3 (firing), before and after"
    assert [c.name for c in other_order_charts(page, both)] == ["compare-1-5"]


def test_only_sweeps_count_as_passes() -> None:
    """The seconds at rest between two sweeps are passes too, but nobody would call them so."""
    one = curve(3.0, (band(),), passes=3)
    rested = one.pass_index == 2
    rpm = np.where(rested, 2240.0 + 0.001 * (one.rpm - 2240.0), one.rpm)
    drive = replace(findings(band()), curves=(replace(one, rpm=rpm),))
    chart = order_chart(drive, 3.0)
    assert chart is not None
    assert chart.summary.startswith("2 sweeps through")


def test_the_verdict_above_the_first_change_has_room() -> None:
    chart = change_chart(comparison())
    assert chart is not None
    bottom, top = chart.figure.layout.yaxis.range
    assert bottom > 0.0 > -0.5 > top  # bands stand at 0, 1, ... from the top down


def test_one_faint_point_does_not_stretch_the_level_axis() -> None:
    made = findings(band())
    plain = order_chart(made, 3.0)
    (curve,) = (each for each in made.curves if each.engine_order == 3.0)
    total_ms = curve.total_ms.copy()
    total_ms[7] = curve.background_ms[7] + 1e-14
    faint = replace(curve, total_ms=total_ms)
    others = tuple(each for each in made.curves if each.engine_order != 3.0)
    chart = order_chart(replace(made, curves=(*others, faint)), 3.0)
    assert chart is not None
    assert plain is not None
    low_db, high_db = chart.figure.layout.yaxis.range
    assert (low_db, high_db) == pytest.approx(plain.figure.layout.yaxis.range, abs=1.0)
    assert low_db > -80.0
    assert high_db > np.nanmax(curve.fitted_db)


def test_the_chart_of_gas_is_in_the_degrees_shown() -> None:
    curves = sizing().loss_curves
    with showing(Units.INCH):
        figure = loss_chart(sizing()).figure
    assert figure.layout.yaxis.title.text == "Gas in the branch (°F)"
    # 1.8 kelvin and 459.67: exact, by definition
    coldest, hottest = (1.8 * curves.temperature_k[end] - 459.67 for end in (0, -1))
    assert figure.layout.yaxis.range == pytest.approx((coldest, hottest))
    assert figure.data[0].y[0] == pytest.approx(coldest, abs=0.06)
