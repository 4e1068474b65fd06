"""The report page in a real browser: drawn, silent, offline, fitting a desk, a phone and A4 paper."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

import pytest

from leakdown.analysis import Flag
from leakdown.recording import Mark
from leakdown.report.analysis_page import analysis_page
from tests.report.report_examples import ALL, analysis

pytestmark = pytest.mark.browser
DESK, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 800}


@dataclass
class Opened:
    page: object
    url: str
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@pytest.fixture
def show(browser, tmp_path):
    """show(analysis, viewport, scripts=True) -> the page, opened and drawn."""
    contexts = []

    def opened(result, viewport=DESK, scripts=True) -> Opened:
        path = tmp_path / "report.html"
        path.write_text(analysis_page(result), encoding="utf-8")
        context = browser.new_context(viewport=viewport, java_script_enabled=scripts)
        contexts.append(context)
        seen = Opened(context.new_page(), path.as_uri())
        seen.page.on("request", lambda request: seen.requests.append(request.url))
        seen.page.on("console", lambda message: seen.complaints.append(message.text))
        seen.page.on("pageerror", lambda error: seen.complaints.append(str(error)))
        seen.page.goto(seen.url)
        if scripts:
            seen.page.wait_for_selector("#decay .main-svg", timeout=15_000)
        return seen

    yield opened
    for context in contexts:
        context.close()


@pytest.mark.parametrize("viewport", [DESK, PHONE], ids=["desk", "phone"])
@pytest.mark.parametrize("name", ["fail", "nasty", "without fit", "vacuum"])
def test_drawn_silent_offline_and_fitting(show, name, viewport):
    seen = show(ALL[name](), viewport)
    assert seen.complaints == [] and seen.requests == [seen.url]
    assert seen.page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]
    assert seen.page.locator("#decay .point").count() >= 100
    box = seen.page.locator("#decay .main-svg").first.bounding_box()
    assert box["x"] >= 0 and box["x"] + box["width"] <= viewport["width"]


_OVERLAPS = """() => {
  const g = document.getElementById('decay'), l = g._fullLayout;
  const frame = g.querySelector('.main-svg').getBoundingClientRect();
  const points = [];
  for (const trace of g.calcdata) for (const p of trace) if (trace[0].trace.name !== '95 % band')
    points.push([frame.x + l.xaxis._offset + l.xaxis.d2p(p.x), frame.y + l.yaxis._offset + l.yaxis.d2p(p.y)]);
  const found = [];
  for (const a of g.querySelectorAll('.annotation .annotation-text-g text, .annotation text')) {
    const b = a.getBoundingClientRect(), text = a.textContent;
    if (!/^limit|^open air/.test(text)) continue;
    if (b.left < frame.left || b.right > frame.right) found.push(['cut', text]);
    const under = p => p[0] > b.left && p[0] < b.right && p[1] > b.top && p[1] < b.bottom;
    if (points.some(under)) found.push(['over', text]);
  }
  return found; }"""


@pytest.mark.parametrize("viewport", [DESK, PHONE], ids=["desk", "phone"])
@pytest.mark.parametrize("name", ["fail", "vacuum", "undecided"])
def test_no_label_lies_over_data_or_is_cut(show, name, viewport):
    page = show(ALL[name](), viewport).page
    texts = page.locator("#decay .annotation").all_text_contents()
    assert any(text.startswith("limit: ") for text in texts)
    assert page.evaluate(_OVERLAPS) == []


def test_legend_hides_a_series_and_no_upload_is_offered(show):
    page, band = show(analysis()).page, "95 % band (thinner than the line)"
    assert page.locator("#decay .legendtext").all_text_contents() == [band, "readings", "fitted decay"]
    page.hover("#decay .main-svg >> nth=0")
    titles = page.locator("#decay .modebar-btn").evaluate_all("all => all.map(b => b.dataset.title || '')")
    assert titles and not any(re.search("share|cloud|edit|plotly", title, re.IGNORECASE) for title in titles)
    page.locator("#decay .legendtoggle").nth(1).click()
    page.wait_for_selector("#decay .traces[style*='opacity: 0.5']", timeout=5_000)
    assert page.evaluate("() => document.getElementById('decay').data[2].visible") == "legendonly"


def test_injected_script_does_not_run(show):
    seen = show(ALL["nasty"]())
    dialogs = []
    seen.page.on("dialog", lambda dialog: dialogs.append(dialog.message) or dialog.dismiss())
    blocked = seen.page.evaluate(
        """() => { window.ran = false; const s = document.createElement('script');
        s.textContent = 'window.ran = true'; document.body.append(s); return !window.ran; }"""
    )
    assert blocked and dialogs == []
    refused = seen.page.evaluate("() => fetch('http://example.invalid/').then(() => false, () => true)")
    assert refused and seen.requests == [seen.url]


def test_without_scripts_the_still_chart_stands_in(show):
    page = show(analysis(), PHONE, scripts=False).page
    assert page.locator(".still svg").first.is_visible() and not page.locator("#decay").is_visible()
    box = page.locator(".still svg").first.bounding_box()
    assert box["width"] <= PHONE["width"] and box["height"] > 120


def test_a_browser_that_cannot_unpack_keeps_the_still_chart(browser, tmp_path):
    path = tmp_path / "report.html"
    path.write_text(analysis_page(analysis()), encoding="utf-8")
    context = browser.new_context(viewport=DESK)
    context.add_init_script("delete window.DecompressionStream")
    page, complaints = context.new_page(), []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(path.as_uri())
    page.wait_for_timeout(500)
    assert page.locator(".still svg").first.is_visible() and not page.locator("#decay").is_visible()
    assert complaints == []
    context.close()


def test_a_point_says_its_numbers_and_a_drag_zooms(show):
    seen = show(analysis())
    page = seen.page
    page.locator("#decay").scroll_into_view_if_needed()
    frame = page.locator("#decay").bounding_box()
    place = """() => { const g = document.getElementById('decay'), l = g._fullLayout;
    const p = g.calcdata[1].find(p => p.x >= 40);
    return [l.xaxis._offset + l.xaxis.d2p(p.x), l.yaxis._offset + l.yaxis.d2p(p.y)]; }"""
    x, y = page.evaluate(place)
    page.mouse.move(frame["x"] + x - 4, frame["y"] + y - 3)
    page.mouse.move(frame["x"] + x, frame["y"] + y)
    page.wait_for_selector("#decay .hovertext", timeout=5_000)
    said = page.locator("#decay .hovertext").first.text_content()
    assert all(words in said for words in ("readings", "kPa", "lost since", "fitted"))
    page.mouse.down()
    page.mouse.move(frame["x"] + x + 150, frame["y"] + y - 120, steps=4)
    page.mouse.up()
    page.wait_for_function("() => document.getElementById('decay').layout.xaxis.range[0] > 35", timeout=5_000)
    assert seen.complaints == [] and seen.requests == [seen.url]


def test_labels_of_the_chart_do_not_overlap(show):
    marks = (Mark(30.0, "boot pushed"), Mark(50.0, "soap"))
    for viewport in (DESK, PHONE):
        page = show(analysis(marks=marks), viewport).page
        boxes = page.locator("#decay .annotation-text, #decay .xtitle, #decay .legendtext").evaluate_all(
            "all => all.map(e => [e.textContent, e.getBoundingClientRect().toJSON()])"
        )
        assert len(boxes) >= 7
        for i, (name, a) in enumerate(boxes):
            for other, b in boxes[i + 1 :]:
                apart = a["right"] <= b["left"] or b["right"] <= a["left"]
                assert apart or a["bottom"] <= b["top"] or b["bottom"] <= a["top"], (name, other)


def test_on_a_phone_no_button_lies_on_the_chart_and_words_stay_whole(show):
    page = show(analysis(), PHONE).page
    assert page.locator("#decay .modebar-btn").count() == 0
    assert "open air" not in page.locator("#decay .annotation-text").all_text_contents()
    heights = page.locator("tbody th").evaluate_all(
        "all => all.filter(e => e.textContent === 'Temperature').map(e => e.getClientRects()[0].height)"
    )
    assert len(heights) == 1 and heights[0] < 45  # one line


@pytest.mark.parametrize("flags", [0, 8])
def test_an_undecided_report_prints_on_two_pages(show, flags):
    said = "A sentence of a flag that is long enough to take two lines of print, as most of them do, and so on."
    result = replace(ALL["undecided"](), flags=tuple(Flag(f"x{k}", f"{k} {said}") for k in range(flags)))
    pdf = show(result).page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 2


def test_prints_on_two_a4_pages_without_controls(show):
    page = show(analysis()).page
    pdf = page.pdf(prefer_css_page_size=True)
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 2
    assert re.search(rb"/MediaBox\s*\[\s*0 0 59[45]", pdf)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 703, "height": 1000})  # A4 less its margins at 96 dpi
    assert page.locator(".still svg").first.is_visible() and not page.locator(".live").first.is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 703
