"""Labels lie free of points, lines and each other, on paper and at every size; the axis shows what matters."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import matplotlib as mpl
import numpy as np
import pytest

from leakdown.analysis import Curve
from leakdown.recording import Mark
from leakdown.report import picture, placing
from leakdown.report.chart_data import in_short
from leakdown.report.decay_chart import change_decay, decay_chart
from leakdown.report.decay_figure import END_GROUND, GROUND
from leakdown.report.placing import placed_labels
from tests.report.report_examples import analysis, passed, undecided


def fast(tau_s=3.0, after_s=120.0):
    """A leak that empties the circuit in seconds, logged long after."""
    base = analysis()
    t = np.arange(0.0, 10.0 + after_s, 0.2)
    held = 45e3 * np.exp(-np.maximum(t - 10.0, 0.0) / tau_s)
    p = np.where(t < 10.0, np.clip((t - 4.0) / 5.0, 0.0, 1.0) * 45e3, held)
    along = np.linspace(10.0, 10.0 + after_s, 240)
    c = 45e3 * np.exp(-(along - 10.0) / tau_s)
    hold = replace(base.hold, start_s=10.0, start_pa=45e3, end_s=10.0 + after_s, end_pa=0.0)
    verdict = replace(base.verdict, from_s=10.0 + tau_s * np.log(45.0 / 40.0))
    recording = replace(base.recording, time_s=t, pressure_pa=p)
    return replace(base, recording=recording, hold=hold, curve=Curve(along, c, c - 20.0, c + 20.0), verdict=verdict)


CHARTS = {
    "pressure": lambda: decay_chart(analysis()),
    "vacuum": lambda: decay_chart(analysis(vacuum=True)),
    "undecided": lambda: decay_chart(undecided()),
    "fast": lambda: decay_chart(fast()),
    "marks": lambda: decay_chart(analysis(marks=(Mark(30.0, "a"), Mark(31.0, "b"), Mark(60.0, "c")))),
    "both": lambda: decay_chart(analysis(), analysis(vacuum=True)),
    "change": lambda: change_decay(analysis(), passed()),
    "after a fast one": lambda: change_decay(fast(), passed()),
}


def _drawn(chart, headed, phone=False):
    """Pixels of every text in the plot, and of the readings and fits."""
    with mpl.rc_context(picture._SETTINGS | ({} if headed else {"font.size": 9.5})):
        figure = picture._figure(in_short(chart) if phone else chart, headed=headed, phone=phone)
        figure.canvas.draw()
    axes = figure.axes[0]
    inside = [t for t in axes.texts if t.get_text() and not t.get_text().isdigit()]
    inside = [t for t in inside if axes.bbox.contains(*t.get_window_extent().corners().mean(axis=0))]
    boxes = {t.get_text(): mpl.text.Text.get_window_extent(t) for t in inside}
    lines = [s for s in chart.series if s.role != "band"]
    points = []
    for s in lines:
        x = np.linspace(s.x[0], s.x[-1], 500) if s.role == "fit" else s.x
        points.append(
            axes.transData.transform(np.column_stack([x, np.interp(x, s.x, s.y) if s.role == "fit" else s.y]))
        )
    for line in chart.limits:
        share = np.linspace(0.0, 1.0, 300)
        points.append(
            axes.transData.transform(np.column_stack([np.interp(share, (0, 1), e) for e in (line.x, line.y)]))
        )
    return figure, boxes, np.vstack(points)


@pytest.mark.parametrize("place", ["picture", "page", "phone"])
@pytest.mark.parametrize("name", CHARTS)
def test_no_label_lies_over_data_or_another_or_leaves_the_picture(name, place):
    figure, boxes, points = _drawn(CHARTS[name](), place == "picture", place == "phone")
    for words in (figure.axes[0].yaxis.label, figure.axes[0].xaxis.label, *figure.legends):
        edge = words.get_window_extent()
        assert edge.x0 >= 0 and edge.x1 <= figure.bbox.width and edge.y0 >= 0
    for key in figure.legends:
        assert not key.get_window_extent().overlaps(figure.axes[0].xaxis.label.get_window_extent())
    assert "open air" in boxes
    for text, box in boxes.items():
        inside = (points > (box.x0, box.y0)).all(axis=1) & (points < (box.x1, box.y1)).all(axis=1)
        assert not inside.any(), text
        assert box.x0 >= 0 and box.x1 <= figure.bbox.width and box.y0 >= 0 and box.y1 <= figure.bbox.height, text
    for (one, a), (other, b) in combinations(boxes.items(), 2):
        assert not a.overlaps(b), (one, other)
    for text in figure.texts:
        assert text.get_window_extent().x1 <= figure.bbox.width, text.get_text()


def test_a_label_away_from_its_mark_is_led_to_it():
    """Beside its mark in the open; further off where readings lie all around it."""
    chart = decay_chart(analysis())
    line = chart.limits[0]
    x, y = (v.ravel() for v in np.meshgrid(np.linspace(-8, 8, 30) + line.x[1], np.linspace(-12, 12, 30) + line.y[1]))
    crowded = replace(chart, series=(*chart.series, replace(chart.series[0], role="readings", x=x, y=y)))
    free, led = (placed_labels(c, GROUND, GROUND, GROUND).limits[0] for c in (chart, crowded))
    assert not free.leader and (free.of_x, free.of_y) == (line.x[1], line.y[1])
    assert led.leader and abs(led.y - line.y[1]) > 12.0 or abs(led.x - line.x[1]) > 8.0


def test_the_words_of_the_zero_line_stay_clear_of_readings_at_zero():
    chart = decay_chart(analysis())  # vented from 70 s on
    x, y = placed_labels(chart, GROUND, GROUND, GROUND).zero
    assert x < 70.0 and y < 0.0


def test_a_fast_leak_fills_the_axis():
    """Down to 2 % in 12 s of 120 s; what is cut off is said."""
    chart = decay_chart(fast())
    left, right = chart.x_range
    readings = next(s for s in chart.series if s.role == "readings")
    falling = (readings.x >= 10.0) & (readings.y > 0.02 * 45.0)
    assert np.ptp(readings.x[falling]) > 0.3 * (right - left)
    assert chart.x_words.endswith("readings go on to 130 s")
    assert decay_chart(analysis()).x_words == "Time (s)"


def test_idle_readings_do_not_press_the_hold_together():
    base = analysis()
    t = np.concatenate([np.arange(-600.0, 0.0), base.recording.time_s])
    p = np.concatenate([np.zeros(600), base.recording.pressure_pa])
    chart = decay_chart(replace(base, recording=replace(base.recording, time_s=t, pressure_pa=p)))
    assert chart.x_range[0] > -10.0 and "readings begin at -600 s" in chart.x_words.replace("\N{MINUS SIGN}", "-")


def test_numbers_of_marks_stand_apart():
    figure, _, _ = _drawn(CHARTS["marks"](), True)
    rings = [t.get_window_extent() for t in figure.axes[0].texts if t.get_text().isdigit()]
    assert len(rings) == 3 and not any(a.overlaps(b) for a, b in combinations(rings, 2))


def test_no_line_to_a_curve_strikes_through_another_label():
    """Two decays that end on the mark of their limit: names and limit crowd there."""
    before = analysis()
    chart = change_decay(before, passed())
    line = replace(decay_chart(before).limits[0], x=(35.0, 64.0), y=(40.0, 36.0))
    placed = placed_labels(replace(chart, limits=(line,)), GROUND, END_GROUND, END_GROUND)
    labels = (*placed.limits, *placed.ends)
    wide, high = (np.ptp(r) for r in (chart.x_range, chart.y_range))
    for one, other in ((a, b) for a in labels for b in labels if a is not b and a.leader):
        share = np.linspace(0.0, 1.0, 50)
        x, y = one.x + share * (one.of_x - one.x), one.y + share * (one.of_y - one.y)
        half_x = 0.5 * GROUND.letter * len(other.text) * wide / GROUND.width
        half_y = 0.5 * GROUND.line * high / GROUND.height
        assert not ((np.abs(x - other.x) < half_x) & (np.abs(y - other.y) < half_y)).any(), (one.text, other.text)


def test_points_under_a_label_are_counted_as_one_by_one():
    """Each point tried against each place; the raster may add those within a cell of the edge, never leave one out."""
    rng = np.random.default_rng(2)
    taken = rng.uniform(-20.0, 220.0, (400, 2))
    tried, half = rng.uniform(20.0, 180.0, (60, 2)), np.array([17.3, 6.1])
    taken[0] = np.nan
    found = placing._hits(tried, half, taken)
    away = np.abs(tried[:, None, :] - taken[None, :, :])
    least, most = (((away < half + placing._CLEAR + more).all(axis=2)).sum(axis=1) for more in (0.0, placing._RASTER))
    assert (least <= found).all() and (found <= most).all() and least.sum() > 100
