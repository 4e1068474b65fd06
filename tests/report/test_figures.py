"""Figures for a notebook are those of the page; a card is whole, small, and runs nothing."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace

import numpy as np
import plotly.graph_objects as go
import pytest

from leakdown.report.analysis_page import analysis_page, html_card
from leakdown.report.decay_chart import decay_chart, residual_chart
from leakdown.report.figures import chart_of, figure, figure_json
from leakdown.report.located_chart import located_chart
from tests.report.located_examples import CHANGES, LOCATED
from tests.report.report_examples import ALL, analysis


@pytest.mark.parametrize("name", ALL)
def test_a_notebook_gets_the_figure_of_the_page(name):
    chart = decay_chart(ALL[name]())
    drawn, said = figure(chart), json.loads(figure_json(chart))
    assert isinstance(drawn, go.Figure) and len(drawn.data) == len(said["data"])
    assert [t.name for t in drawn.data] == [t.get("name") for t in said["data"]]
    assert drawn.layout.yaxis.title.text == said["layout"]["yaxis"]["title"]["text"]
    points = next(t for t in drawn.data if t.mode == "markers")
    readings = next(s for s in chart.series if s.role == "readings")
    assert np.asarray(points.x) == pytest.approx(readings.x, rel=1e-6)


def test_every_result_has_its_chart():
    assert chart_of(analysis()).title == decay_chart(analysis()).title
    found, tests = LOCATED["sections"]()
    assert chart_of(found, tests).title == located_chart(found, tests).title
    assert chart_of(found).title == "Share of the leak by section"
    change, before, after = CHANGES["repaired"]()
    assert chart_of(change).title == "Leak after, of the leak before"
    assert len([s for s in chart_of(change, (before, after)).series if s.role == "fit"]) == 2
    for chart in (chart_of(found), chart_of(change), residual_chart(analysis())):
        assert isinstance(figure(chart), go.Figure)
    assert chart_of(replace(found, sections=(), ratio=None)) is None


def test_a_page_needs_the_file_of_plotly_only():
    code = "import sys, leakdown.report.analysis_page; print('plotly' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert ran.stdout.strip() == "False"


@pytest.mark.parametrize("name", ALL)
def test_a_card_is_whole_and_runs_nothing(name):
    result = ALL[name]()
    card = html_card(result)
    assert len(card) < 200_000 and card.count("<svg") == 1 and card.count("<div") == card.count("</div>")
    for never in ("<script", "<img", 'href="http', "\x1b"):
        assert never not in card
    word = analysis_page(result).split("<span>")[1].split("</span>")[0]
    assert f">{word}</strong>" in card


def test_two_cards_in_one_notebook_keep_their_ids_apart():
    first, second = html_card(ALL["fail"]()), html_card(ALL["vacuum"]())
    ids = [set(part.split('"')[0] for part in card.split('clipPath id="')[1:]) for card in (first, second)]
    assert ids[0] and not ids[0] & ids[1]
