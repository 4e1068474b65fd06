"""One description for page and picture: right points, spans, marks and limit; pictures are real files."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest

from leakdown.errors import OutputError, UsageError
from leakdown.recording import Mark
from leakdown.report.chart_data import spread, thinned
from leakdown.report.decay_chart import MOST_POINTS, decay_chart, residual_chart
from leakdown.report.figures import figure_json
from leakdown.report.picture import picture, save
from tests.report.report_examples import ALL, LIMIT, NASTY, TAU_S, analysis, passed, without_fit


def test_one_test_keeps_its_clock_and_the_users_unit():
    chart = decay_chart(analysis(unit="psi", marks=(Mark(30.0, "soap"),)))
    readings = next(s for s in chart.series if s.role == "readings")
    assert chart.x_title == "Time (s)" and chart.y_title == "Gauge pressure (psi)"
    assert readings.x[-1] == 80.0 and readings.y.max() == pytest.approx(45e3 / 6894.757, rel=2e-3)
    assert [s.name for s in chart.spans if s.strong] == ["hold"]
    assert chart.notes[0].x == 30.0 and chart.notes[0].text == "30.0 s: soap"
    assert "FAIL" in chart.title and "17.0 cm³/min (16.3 to 17.9)" in chart.subtitle[0]


def test_limit_starts_where_the_hold_falls_through_its_start_pressure():
    line = decay_chart(analysis()).limits[0]
    expected = 10.0 + TAU_S * np.log(45.0 / 40.0)  # 45 kPa exp(-t/tau) = 40 kPa
    assert line.x[0] == pytest.approx(expected, abs=0.5) and line.x[1] - line.x[0] == pytest.approx(60.0)
    assert line.y == pytest.approx((40.012, 33.012))  # the zero offset of 12 Pa is what the gauge shows
    assert line.label == "limit: 33 kPa left 60 s later"
    assert decay_chart(analysis(vacuum=True)).limits[0].label == "limit: 33 kPa of vacuum left 60 s later"


def test_limit_of_a_hold_that_starts_lower_is_carried_back_but_drawn_in_the_hold_only():
    low = analysis()
    begin = 13.0 - TAU_S * np.log(40.0 / 36.0)
    curve = replace(low.curve, pressure_pa=low.curve.pressure_pa - 9e3)
    low = replace(low, curve=curve, hold=replace(low.hold, start_pa=36e3))
    low = replace(low, verdict=replace(low.verdict, from_s=begin))
    chart = decay_chart(low)
    line = chart.limits[0]
    assert line.x == pytest.approx((10.0, begin + 60.0)) and chart.x_range[0] > -5.0
    assert line.y == pytest.approx((40.012 - 7.0 * (10.0 - begin) / 60.0, 33.012))
    early = replace(low.verdict.limit, time_s=20.0, text="7 kPa in 20 s from 40 kPa")  # reached before the hold
    assert decay_chart(replace(low, verdict=replace(low.verdict, limit=early, word="undecided"))).limits == ()


def test_without_a_moment_of_the_limits_start_the_holds_own_stands_for_it_or_nothing():
    """A hold that never falls to 40 kPa: 7 kPa from its own start, where the curve says what the verdict says."""
    high = passed()
    high = replace(high, verdict=replace(high.verdict, from_s=None, from_pa=None))
    slow = replace(high.curve, pressure_pa=np.linspace(44.6e3, 44.0e3, high.curve.time_s.size))
    high = replace(high, curve=slow)
    line = decay_chart(high).limits[0]
    assert line.x == pytest.approx((13.0, 73.0)) and line.y == pytest.approx((44.512, 37.512))
    assert line.label == "limit: 7 kPa in 60 s"
    for verdict in ("undecided", "fail"):  # nothing decided; a fail with its mark below the curve
        held = replace(high, verdict=replace(high.verdict, word=verdict, limit=replace(LIMIT, time_s=50.0)))
        assert decay_chart(held).limits == ()
    assert decay_chart(without_fit()).limits == ()


def test_small_differences_have_plain_numbers_on_their_axis():
    layout = json.loads(figure_json(residual_chart(analysis())))["layout"]
    assert layout["yaxis"]["exponentformat"] == layout["xaxis"]["exponentformat"] == "none"


def test_vacuum_is_drawn_below_zero():
    chart = decay_chart(analysis(vacuum=True))
    assert chart.y_range[0] < -45 and chart.limits[0].y == pytest.approx((-39.988, -32.988))


def test_pressure_and_vacuum_share_a_chart_told_apart_without_colour():
    chart = decay_chart(analysis(), analysis(vacuum=True))
    tones = {s.tone for s in chart.series}
    assert tones == {"pressure", "vacuum"} and chart.x_title == "Time since the valve was shut (s)"
    assert {s.end_label for s in chart.series if s.end_label} == {"pressure", "vacuum"}
    assert min(s.x.min() for s in chart.series) == pytest.approx(0.0, abs=0.2)


def test_before_and_after():
    chart = decay_chart(analysis(), passed(), names=("before", "after"))
    assert [s.tone for s in chart.series if s.role == "fit"] == ["pressure-earlier", "pressure"]
    assert [s.end_label for s in chart.series if s.role == "fit"] == ["before", "after"]
    assert len(chart.limits) == 1 and chart.subtitle[1].startswith("after: PASS")


def test_a_chart_of_nothing_is_refused():
    with pytest.raises(ValueError, match="at least one"):
        decay_chart()


def test_residuals_and_band():
    chart = residual_chart(analysis())
    band = next(s for s in chart.series if s.role == "band")
    assert band.y_high == pytest.approx(0.02) and band.y_low == pytest.approx(-0.02)
    assert residual_chart(without_fit()).series == ()


def test_long_logs_are_thinned_and_keep_their_spikes():
    y = np.zeros(100_000)
    y[54_321] = 9.0
    keep = thinned(np.arange(y.size, dtype=float), y, MOST_POINTS)
    assert keep.size <= MOST_POINTS and 54_321 in keep and keep[0] == 0 and keep[-1] == y.size - 1
    assert (np.diff(keep) > 0).all()
    rows = spread(1000, 50)
    assert rows.size == 50 and rows[0] == 0 and rows[-1] == 999 and spread(5, 50).tolist() == [0, 1, 2, 3, 4]


@pytest.mark.parametrize("kind", ["png", "pdf", "svg"])
def test_pictures_are_real_files(kind, tmp_path):
    path = tmp_path / f"chart.{kind}"
    save(decay_chart(analysis(marks=(Mark(30.0, NASTY), Mark(40.0, "$x")))), path)
    content = path.read_bytes()
    if kind == "png":
        assert content[:8] == b"\x89PNG\r\n\x1a\n" and content[-8:-4] == b"IEND"
        assert int.from_bytes(content[16:20], "big") >= 1200
    elif kind == "pdf":
        assert content[:5] == b"%PDF-" and content.rstrip().endswith(b"%%EOF")
    else:
        assert ET.fromstring(content).tag == "{http://www.w3.org/2000/svg}svg"
        assert b"<script" not in content


@pytest.mark.slow
def test_the_same_chart_gives_the_same_bytes():
    for kind in ("png", "pdf", "svg"):
        assert picture(decay_chart(passed()), kind) == picture(decay_chart(passed()), kind)


def test_unknown_kind_and_missing_folder_are_refused(tmp_path):
    chart = decay_chart(passed())
    with pytest.raises(UsageError, match="unknown kind"):
        save(chart, tmp_path / "chart.gif")
    with pytest.raises(OutputError, match="cannot write"):
        save(chart, tmp_path / "nowhere" / "chart.svg")


@pytest.mark.parametrize("name", ALL)
def test_every_result_can_be_drawn_both_ways(name):
    chart = decay_chart(ALL[name]())
    figure = json.loads(figure_json(chart))
    drawn = [t for t in figure["data"] if t.get("name") != "limit"]
    assert len(drawn) == sum(2 if s.role == "band" else 1 for s in chart.series)
    assert len(picture(chart, "png")) > 10_000


def test_user_text_in_a_figure_is_inert():
    text = figure_json(decay_chart(ALL["nasty"]()))
    assert "<" not in text
    assert "<script" not in json.dumps([a.get("hovertext", "") for a in json.loads(text)["layout"]["annotations"]])
