"""Intervals along an axis: right places, arrows where nothing bounds them, the same in page and picture."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest

from leakdown.report.decay_chart import decay_chart
from leakdown.report.figures import figure_json
from leakdown.report.interval_chart import change_chart, lines_of, ratio_chart, shares_chart
from leakdown.report.picture import inline_svg, picture
from leakdown.uncertainty import Interval
from leakdown.where.located import Ratio, SectionShare
from tests.report.located_examples import CHANGES, RATIOS, healed, never, repaired
from tests.report.report_examples import NASTY, analysis

BOOT, SEALS, RIG = "boot", "seals", "rig"


def shares():
    """The boot alone; seals and rig cannot be told apart."""
    together = (("pressure", Interval(0.7, 0.6, 0.8)), ("vacuum", Interval(None, 0.2, 0.9)))
    unknown = (("pressure", Interval(None, 0.0, 0.8)),)
    return (
        SectionShare(BOOT, (("pressure", Interval(0.3, 0.2, 0.4)), ("vacuum", Interval(0.1, 0.0, 0.2)))),
        SectionShare(SEALS, unknown, False, (RIG,), together),
        SectionShare(RIG, unknown, False, (SEALS,), together),
    )


@pytest.mark.parametrize("name", RATIOS)
def test_a_ratio_lies_on_a_log_axis_with_the_fixed_hole_shaded(name):
    ratio = RATIOS[name]
    chart = ratio_chart(ratio)
    assert chart.log and (chart.shade.start, chart.shade.end) == (0.7, 1.4)
    figure = json.loads(figure_json(chart))
    shade = figure["layout"]["shapes"][0]
    assert (shade["x0"], shade["x1"]) == pytest.approx((np.log10(0.7), np.log10(1.4)))
    low, high = figure["layout"]["xaxis"]["range"]
    known = [np.log10(v) for v in (ratio.low, ratio.value, ratio.high, ratio.at_least) if v]
    assert low < min(known) and max(known) < high and low < shade["x0"] and shade["x1"] < high
    assert 4 <= len(chart.ticks) <= 12 and all(chart.x_range[0] <= t <= chart.x_range[1] for t, _ in chart.ticks)


@pytest.mark.parametrize(
    ("name", "left", "right", "dot", "words"),
    [
        ("both", "line-ns-open", "line-ns-open", 1, "3.00 times (2.50 to 3.60)"),
        ("at least", "line-ns-open", "triangle-right", 0, "at least 40.0 times (pressure was tight)"),
        ("at most", "triangle-left", "line-ns-open", 0, "at most 0.200 times (vacuum was tight)"),
        ("unbounded", "line-ns-open", "triangle-right", 1, "2.00 times (1.10 no upper bound)"),
    ],
)
def test_an_end_that_nothing_bounds_is_an_arrow_at_the_edge(name, left, right, dot, words):
    chart = ratio_chart(RATIOS[name])
    figure = json.loads(figure_json(chart))
    caps = figure["data"][1]
    assert caps["marker"]["symbol"] == [left, right] and len(figure["data"]) == 2 + dot
    edges = figure["layout"]["xaxis"]["range"]
    assert (caps["x"][0] == edges[0]) == (left == "triangle-left")
    assert (caps["x"][1] == edges[1]) == (right == "triangle-right")
    assert chart.rows[0].label == words


def test_without_bounds_there_is_nothing_to_draw():
    assert ratio_chart(None) is None and ratio_chart(Ratio(None, 0.0, None)) is None
    assert shares_chart(()) is None
    change, _, _ = never()
    assert change_chart(replace(change, after_over_before=(None, 0.0, None))) is None


def test_sections_that_cannot_be_told_apart_are_one_row_a_direction():
    chart = shares_chart(shares())
    assert [r.heading for r in chart.rows] == ["seals + rig (cannot be told apart)", "", "boot", ""]
    assert [r.tone for r in chart.rows] == ["pressure", "vacuum"] * 2
    assert [r.label for r in chart.rows] == [
        "pressure 70 % (60 to 80)",
        "vacuum 20 to 90 %",
        "pressure 30 % (20 to 40)",
        "vacuum 10 % (0 to 20)",
    ]
    assert [(r.low, r.high) for r in chart.rows] == [(60.0, 80.0), (20.0, 90.0), (20.0, 40.0), (0.0, 20.0)]


def test_what_is_left_after_a_repair():
    change, _, _ = repaired()
    row = change_chart(change).rows[0]
    assert row.low < 1.0 / 3.0 < row.high and row.tone == "pressure" and "of before" in row.label
    row = change_chart(healed()[0]).rows[0]
    assert row.value is None and row.low is None and row.label.startswith("at most ")


@pytest.mark.parametrize("chart", [ratio_chart(RATIOS["wide"]), shares_chart(shares())])
def test_no_two_texts_share_a_height_and_all_lie_within(chart):
    lines, height = lines_of(chart)
    heights = [y for line in lines for y, _ in line.headings] + [line.label_y for line in lines]
    bars = [line.bar_y for line in lines]
    assert len(set(heights)) == len(heights) and all(-height < y < 0.0 for y in (*heights, *bars))
    places = [chart.label_place(row) for row in chart.rows]
    assert all(chart.span[0] <= x <= chart.span[1] for x, _ in places)


def test_long_names_are_cut_and_hostile_ones_inert():
    long = SectionShare(NASTY + " and more" * 40, (("pressure", Interval(0.5, 0.4, 0.6)),))
    chart = shares_chart((long,))
    assert len(lines_of(chart)[0][0].headings) == 4 and lines_of(chart)[0][0].headings[-1][1] == "..."
    assert "<" not in figure_json(chart)
    assert "<script" not in "".join(a["text"] for a in json.loads(figure_json(chart))["layout"]["annotations"])
    svg = ET.fromstring(inline_svg(chart, "x"))
    assert svg.tag.endswith("svg") and not svg.findall(".//{*}script")


@pytest.mark.parametrize("kind", ["png", "pdf", "svg"])
@pytest.mark.slow
def test_a_strip_stands_under_the_decay_of_a_picture(kind):
    chart, strip = decay_chart(analysis(), analysis(vacuum=True)), ratio_chart(RATIOS["both"])
    alone, both = picture(chart, kind), picture(chart, kind, strip)
    assert both == picture(chart, kind, strip)
    if kind == "png":
        assert both[:8] == b"\x89PNG\r\n\x1a\n"
        height = [int.from_bytes(p[20:24], "big") for p in (alone, both)]
        assert height[1] > height[0] + 150
    elif kind == "pdf":
        assert both.startswith(b"%PDF-") and both.rstrip().endswith(b"%%EOF")
    else:
        assert len(ET.fromstring(both).findall(".//{*}g[@id]")) > len(ET.fromstring(alone).findall(".//{*}g[@id]"))


@pytest.mark.parametrize("name", CHANGES)
def test_every_change_can_be_drawn_both_ways(name):
    chart = change_chart(CHANGES[name]()[0])
    if chart is not None:
        assert json.loads(figure_json(chart))["data"] and inline_svg(chart, "c").startswith("<svg")
