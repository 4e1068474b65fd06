"""Residuals say whether they are readings or averages, with standard errors; and what a dense chart's marks are."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from leakdown.judge.analyse import analyse
from leakdown.recording import Conditions, Recording
from leakdown.report import picture
from leakdown.report.analysis_page import residual_caption
from leakdown.report.decay_chart import decay_chart, residual_chart
from leakdown.report.figures import figure_json
from leakdown.report.theme import LOOKS, READING
from tests.report.report_examples import analysis

NOISE_PA = 200.0


def _log(every_s, hold_s=120.0, noise_pa=NOISE_PA):
    t = np.arange(0.0, hold_s, every_s)
    noise = np.random.default_rng(4).normal(0.0, noise_pa, t.size)
    told = Conditions("crankcase", "pressure", 250e-6, None, 101_325.0, 293.15, unit="psi")
    return Recording(t, 45e3 * np.exp(-t / 400.0) + noise, conditions=told)


def _residuals(result):
    chart = residual_chart(result)
    return chart, next(s for s in chart.series if s.role == "readings")


def test_averages_say_of_how_many_and_how_sure():
    """The standard error of a mean of n readings is s over the root of n (textbook), rounding and fit aside."""
    result = analyse(_log(0.02))
    count, u = result.residual_count, result.residual_u_pa
    assert result.averaged == (int(count.min()), int(count.max())) and count.sum() == 6000
    assert u == pytest.approx(NOISE_PA / np.sqrt(count), rel=0.2)
    chart, shown = _residuals(result)
    assert shown.label == f"averages of {count.min():g} to {count.max():g} readings, with standard error"
    assert 0.5 * (shown.y_high - shown.y_low) == pytest.approx(u / 6894.757, rel=1e-6)  # psi, NIST SP 811
    assert f"averages of {count.min():g} to {count.max():g} readings with their" in residual_caption(result)
    assert chart.y_title == "Difference (psi)"
    trace = next(t for t in json.loads(figure_json(chart))["data"] if t.get("mode") == "markers")
    assert trace["error_y"]["type"] == "data"


def test_readings_that_are_not_averaged_are_called_readings():
    result = analyse(_log(2.0))
    assert result.averaged is None
    _, shown = _residuals(result)
    assert shown.label == "reading minus fitted decay" and shown.y_low is None
    assert "averages" not in residual_caption(result) and "Points: readings minus" in residual_caption(result)
    assert "readings, on dense logs averages of" in residual_caption(result, analyse(_log(0.02)))


def test_the_legend_of_residuals_stays_in_the_picture():
    chart, _ = _residuals(analyse(_log(0.02)))
    figure = picture._figure(chart, headed=True)
    figure.canvas.draw()
    box = figure.legends[0].get_window_extent()
    assert box.x0 >= 0 and box.x1 <= figure.bbox.width
    assert figure.axes[0].yaxis.label.get_window_extent().x0 >= 0


def test_a_band_that_the_line_hides_is_said_to_be():
    labels = {s.label for s in decay_chart(analysis()).series}
    assert "95 % band (thinner than the line)" in labels
    wide = analysis()
    wide = replace(wide, curve=replace(wide.curve, low_pa=wide.curve.low_pa - 2e3))
    assert "95 % band" in {s.label for s in decay_chart(wide).series}


def _luminance(colour):
    """Relative luminance of sRGB, WCAG 2.2."""
    parts = [int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("tone", ["pressure", "vacuum"])
def test_readings_fit_and_band_differ_in_grey(tone):
    """Contrast by WCAG: line and points 3:1 off white (1.4.11); 1.35 between any two is practice, no source."""
    shades = [_luminance(c) for c in (READING, LOOKS[tone].colour, LOOKS[tone].band)]
    for a, b in combinations(shades, 2):
        assert (max(a, b) + 0.05) / (min(a, b) + 0.05) > 1.35
    assert all(1.05 / (shade + 0.05) >= 3.0 for shade in shades[:2])
