"""The small picture of a test: its curve to scale, its word readable, inert; and what stands in a file of a picture."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from leakdown.report.analysis_page import analysis_page
from leakdown.report.chart_data import in_words, spread_words
from leakdown.report.decay_chart import decay_chart, residual_chart
from leakdown.report.interval_chart import shares_chart
from leakdown.report.picture import picture
from leakdown.report.theme import INK, LOOKS, QUIET, VERDICTS, custom_properties
from leakdown.report.thumbnail import WIDE, thumbnail
from tests.report.located_examples import sections
from tests.report.report_examples import NASTY, analysis, without_fit
from tests.report.test_residuals import _luminance

ASSETS = Path(__file__).parents[2] / "leakdown" / "report" / "assets"
SVG = "{http://www.w3.org/2000/svg}"


def _small(direction="pressure", role="fail", word="FAIL", name="pressure, before", size=(40.0, 30.0, 20.0)):
    signed = [-p if direction == "vacuum" else p for p in size]
    text = str(thumbnail((0.0, 30.0, 60.0), signed, direction, role, word, name))
    return ET.fromstring(text.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))


def _corners(element):
    return [tuple(map(float, pair.split(","))) for pair in element.find(f"{SVG}polyline").get("points").split()]


@pytest.mark.parametrize("direction", ["pressure", "vacuum"])
def test_the_curve_is_to_scale_from_open_air(direction):
    """40, 30 and 20 of anything: the heights from open air are as 4 to 3 to 2, vacuum downward."""
    element = _small(direction)
    zero = float(element.findall(f"{SVG}path")[1].get("d").split("H")[0].split()[1])
    away = [(zero - y) * (1 if direction == "pressure" else -1) for _, y in _corners(element)]
    assert away[1] / away[0] == pytest.approx(0.75, abs=0.01) and away[2] / away[0] == pytest.approx(0.5, abs=0.01)
    assert [x for x, _ in _corners(element)] == [0.0, 0.5 * WIDE, WIDE]


@pytest.mark.parametrize("role", VERDICTS)
def test_the_word_is_readable_and_not_told_by_colour_alone(role):
    """15 px bold at 4.5:1 or more (WCAG 1.4.3) in 240 px; each role has its own shape."""
    element = _small(role=role, word="CANNOT SAY YET")
    word = next(t for t in element.findall(f"{SVG}text") if t.text == "CANNOT SAY YET")
    assert element.get("width") == "240" and float(word.get("font-size")) >= 14.0
    assert 24.0 + 0.85 * 15.0 * len(word.text) < WIDE  # a wide bold letter is 0.85 em: metrics of DejaVu Sans Bold
    assert 1.05 / (_luminance(word.get("fill")) + 0.05) >= 4.5
    shapes = {other: _small(role=other).findall(f"{SVG}path")[0].get("d") for other in VERDICTS}
    assert len(set(shapes.values())) == len(VERDICTS)
    assert element.get("aria-label") == "pressure, before: CANNOT SAY YET" and element.get("role") == "img"


def test_directions_differ_in_dash_too_and_texts_are_inert():
    lines = [_small(way).find(f"{SVG}polyline") for way in ("pressure", "vacuum")]
    assert [line.get("stroke-dasharray") is None for line in lines] == [True, False]
    assert lines[1].get("stroke") == LOOKS["vacuum"].colour
    assert "<script" not in str(thumbnail((), (), "pressure", "pass", NASTY, NASTY))


@pytest.mark.parametrize("kind", ["decay", "intervals"])
def test_an_svg_has_its_words_as_text_with_title_and_description(kind):
    chart = decay_chart(analysis()) if kind == "decay" else shares_chart(sections()[0].sections)
    root = ET.fromstring(picture(chart, "svg"))
    assert root.get("role") == "img" and root.get("aria-labelledby") == "title desc"
    assert root[0].tag == f"{SVG}title" and root[0].text == chart.title
    assert root[1].tag == f"{SVG}desc" and len(root[1].text) > 40
    words = " ".join(t.text or "" for t in root.iter(f"{SVG}text"))
    assert chart.title in words and chart.x_title in words


def test_a_png_carries_what_it_shows_in_words():
    with Image.open(BytesIO(picture(decay_chart(analysis()), "png"))) as image:
        assert image.info["Title"].endswith("FAIL") and "33 kPa left 60 s later" in image.info["Description"]


def test_a_chart_in_words_says_where_the_decay_goes_and_where_its_limit_is():
    """45 kPa exp(-60/300) = 36.8 kPa."""
    said = in_words(decay_chart(analysis()))
    assert f"from 45.0 kPa at 10.0 s to {45.0 * math.exp(-0.2):.1f} kPa at 70.0 s" in said
    assert "Limit: 33 kPa left 60 s later, at 105 s." in said
    assert "Readings from" in in_words(decay_chart(without_fit()))
    assert "Vacuum: fitted from" in in_words(decay_chart(analysis(), analysis(vacuum=True)))
    assert "root mean square 0.021 kPa" in spread_words(residual_chart(analysis()))  # 30 Pa over the root of 2


def test_the_pages_have_the_same_colours() -> None:
    """Named once: no stylesheet says them again."""
    styles = {path.name: path.read_text("utf-8") for path in ASSETS.glob("*.css")}
    again = {
        (name, colour) for name, text in styles.items() for colour in (INK, QUIET, *VERDICTS.values()) if colour in text
    }
    assert not again and len(styles) >= 5
    for role, colour in VERDICTS.items():
        assert (
            f"--{role}: {colour};" in custom_properties()
            and f".{role} {{ --word: var(--{role}); }}" in styles["page.css"]
        )
    assert custom_properties() in analysis_page(analysis())
