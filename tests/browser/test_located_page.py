"""The pages of locate and compare in a real browser: drawn, silent, offline, fitting desk, phone and A4."""

from __future__ import annotations

import re

import pytest

from leakdown.report.change_page import change_page
from leakdown.report.located_page import located_page
from tests.report.located_examples import CHANGES, LOCATED

pytestmark = pytest.mark.browser
DESK, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 800}


def _page(name: str) -> str:
    return located_page(*LOCATED[name]()) if name in LOCATED else change_page(*CHANGES[name.split()[1]]())


@pytest.fixture
def show(browser, tmp_path):
    """show(name, viewport, scripts=True) -> the opened page, requests, complaints."""
    contexts = []

    def opened(name: str, viewport=DESK, scripts: bool = True):
        path = tmp_path / "page.html"
        path.write_text(_page(name), encoding="utf-8")
        context = browser.new_context(viewport=viewport, java_script_enabled=scripts)
        contexts.append(context)
        page, requests, complaints = context.new_page(), [], []
        page.on("request", lambda request: requests.append(request.url))
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("dialog", lambda dialog: complaints.append("dialog") or dialog.dismiss())
        page.goto(path.as_uri())
        if scripts:
            page.wait_for_selector("#decay .main-svg", timeout=15_000)
        return page, [r for r in requests if r != path.as_uri()], complaints

    yield opened
    for context in contexts:
        context.close()


def _boxes(page, selector: str):
    return page.locator(selector).evaluate_all(
        "all => all.map(e => [e.textContent, e.getBoundingClientRect().toJSON()])"
    )


def _apart(boxes) -> list[tuple[str, str]]:
    """Pairs of texts that lie on each other."""
    touching = []
    for i, (name, a) in enumerate(boxes):
        for other, b in boxes[i + 1 :]:
            beside = a["right"] <= b["left"] + 1 or b["right"] <= a["left"] + 1
            if not (beside or a["bottom"] <= b["top"] + 1 or b["bottom"] <= a["top"] + 1):
                touching.append((name, other))
    return touching


INTERVALS = {"seal": "ratio", "one-sided": "ratio", "sections": "shares", "change repaired": "change",
             "change healed": "change"}  # fmt: skip


@pytest.mark.parametrize("viewport", [DESK, PHONE], ids=["desk", "phone"])
@pytest.mark.parametrize("name", [*INTERVALS, "tight", "nasty", "change nasty"])
def test_drawn_silent_offline_and_fitting(show, name, viewport):
    page, requests, complaints = show(name, viewport)
    assert requests == [] and complaints == []
    assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]
    assert page.locator("main script, main img").count() == 0
    if name in INTERVALS:
        _labels_are_whole_and_apart(page, INTERVALS[name])


def _labels_are_whole_and_apart(page, chart: str) -> None:
    page.wait_for_selector(f"#{chart} .main-svg", timeout=15_000)
    frame = page.locator(f"#{chart}").bounding_box()
    boxes = _boxes(page, f"#{chart} .annotation-text, #{chart} .xtick text")
    assert len(boxes) >= 6 and _apart(boxes) == []
    for text, box in boxes:
        assert frame["x"] - 1 <= box["left"] and box["right"] <= frame["x"] + frame["width"] + 1, text


def test_without_scripts_every_chart_stands_still(show):
    page, _, _ = show("sections", PHONE, scripts=False)
    stills = page.locator(".still svg")
    assert stills.count() == 3 and all(stills.nth(k).is_visible() for k in range(3))
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize(("name", "most"), [("seal", 4), ("sections", 5), ("change repaired", 3)])
def test_prints_on_a_few_a4_pages(show, name, most):
    page, _, _ = show(name)
    assert 2 <= len(re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True))) <= most
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 703, "height": 1000})  # A4 less its margins at 96 dpi
    assert page.evaluate("document.documentElement.scrollWidth") <= 703
    assert page.locator(".still svg").first.is_visible() and not page.locator(".live").first.is_visible()
