"""Every page on a phone: tables whole and side by side or below each other, nothing cut; colours that are forced."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from leakdown.jobs.customer_page import customer_page
from leakdown.jobs.form import dumped
from leakdown.jobs.overview import overview_page
from leakdown.jobs.page import LIBRARY, job_page
from leakdown.jobs.record import StoredCurve
from leakdown.report.analysis_page import analysis_page
from leakdown.report.change_page import change_page
from leakdown.report.located_page import located_page
from leakdown.report.page import library_script
from tests.jobs.records import full_job
from tests.report.located_examples import repaired, seal, sections
from tests.report.report_examples import analysis, undecided

pytestmark = pytest.mark.browser
WIDTHS = {"desk": 1280, "tablet": 768, "phone": 390}
RESULTS = {1: analysis(), 2: analysis(vacuum=True), 4: undecided(), 5: analysis(vacuum=True, unit="inHg")}


def job_with_curves():
    curve = StoredCurve((0.0, 30.0, 60.0), (40.0, 37.0, 34.0))
    job = full_job()
    tests = {t.number: replace(t, result=replace(t.result, curve=curve)) for t in job.tests}
    return replace(job, entries=tuple(tests.get(e.number, e) for e in job.entries))


def _overview(folder):
    job = replace(job_with_curves(), reference="J1")
    (folder / "J1").mkdir(exist_ok=True)
    (folder / "J1" / "job.json").write_bytes(dumped(job))
    return overview_page(folder, ["J1"])


PAGES = {
    "analysis": lambda folder: analysis_page(analysis()),
    "located": lambda folder: located_page(*sections()),
    "pair": lambda folder: located_page(*seal()),
    "change": lambda folder: change_page(*repaired()),
    "job": lambda folder: job_page(job_with_curves(), RESULTS),
    "customer": lambda folder: customer_page(job_with_curves(), RESULTS),
    "overview": _overview,
}
_WRITTEN: dict[str, str] = {}  # each page is made once


@pytest.fixture
def show(browser, tmp_path):
    """show(name, width, **context) -> the page of that name, opened and drawn."""
    contexts = []

    def opened(name, width, **context):
        path = tmp_path / "page.html"
        if name not in _WRITTEN:
            _WRITTEN[name] = PAGES[name](tmp_path)
        path.write_text(_WRITTEN[name], encoding="utf-8")
        (tmp_path / LIBRARY).write_bytes(library_script())
        contexts.append(browser.new_context(viewport={"width": width, "height": 900}, **context))
        page = contexts[-1].new_page()
        page.goto(path.as_uri())
        if page.locator("#charts").count():
            page.wait_for_selector(".chart.drawn .main-svg", timeout=15_000)
        return page

    yield opened
    for context in contexts:
        context.close()


_CUT = """() => {
  const wide = document.documentElement.clientWidth, found = [];
  const texts = 'table, tr, th, td, dt, dd, p, li, h1, h2, h3, .word, .verdict-word, .at';
  for (const e of document.querySelectorAll(texts)) {
    const b = e.getBoundingClientRect();
    if (b.width && (b.right > wide + 0.5 || b.left < -0.5)) found.push([e.tagName, e.textContent.slice(0, 40)]);
    if (e.tagName !== 'TABLE' && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== 'inline')
      found.push(['overflows', e.tagName, e.textContent.slice(0, 40)]);
  }
  for (const e of document.querySelectorAll('.scroll'))
    if (e.scrollWidth > e.clientWidth + 1) found.push(['scrolls', e.className]);
  return found; }"""


@pytest.mark.parametrize("width", ["tablet", "phone"])
@pytest.mark.parametrize("name", PAGES)
def test_every_table_is_whole_and_nothing_is_cut(show, name, width):
    page = show(name, WIDTHS[width])
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDTHS[width]
    assert page.evaluate(_CUT) == []


@pytest.mark.parametrize("name", ["pair", "job"])
def test_on_a_phone_tests_stand_side_by_side_each_with_its_name(show, name):
    page = show(name, WIDTHS["phone"])
    row = page.locator(".beside tbody tr").nth(1)
    cells = [box for box in (cell.bounding_box() for cell in row.locator("td").all()) if box]
    assert abs(cells[0]["y"] - cells[1]["y"]) < 2 and cells[0]["x"] + cells[0]["width"] <= cells[1]["x"]
    names = row.locator("td").evaluate_all("all => all.map(e => getComputedStyle(e, '::before').display)")
    told = len(page.locator(".beside").first.locator("thead th").all()) > 2
    assert set(names) == {"block" if told else "none"}
    assert page.locator(".beside").first.get_attribute("role") == "table"


def test_what_the_bar_means_stands_under_the_scale_not_in_it(show):
    page = show("analysis", WIDTHS["phone"])
    ends, told = (page.locator(f".scale {part}").bounding_box() for part in (".ends", ".bar-is"))
    assert told["y"] >= ends["y"] + ends["height"]
    assert page.locator(".scale .ends span").count() == 2


def test_pages_are_declared_light(show):
    page = show("analysis", WIDTHS["phone"], color_scheme="dark")
    assert page.locator("meta[name=color-scheme]").get_attribute("content") == "light"
    assert page.evaluate("getComputedStyle(document.documentElement).colorScheme") == "light"
    assert page.evaluate("getComputedStyle(document.querySelector('main')).backgroundColor") == "rgb(255, 255, 255)"


@pytest.mark.parametrize("name", ["analysis", "job", "overview"])
def test_with_forced_colours_badges_have_edges_and_charts_keep_their_own(show, name):
    """Grounds go when colours are forced (CSS Color Adjustment); edges and words stay."""
    page = show(name, WIDTHS["desk"], forced_colors="active", color_scheme="dark")
    badges = page.locator(".word, .verdict-word")
    assert badges.count() >= 1
    for badge in badges.all():
        edge = badge.evaluate("e => [getComputedStyle(e).borderTopWidth, getComputedStyle(e).borderTopColor]")
        assert edge[0] == "2px" and edge[1] != page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert re.search("[A-Z]{4}", badge.inner_text())
    icons = page.locator(".word svg path").evaluate_all("all => all.map(e => getComputedStyle(e).stroke)")
    ground = page.evaluate("getComputedStyle(document.querySelector('main')).backgroundColor")
    assert all(stroke != ground for stroke in icons)
    charts = page.locator(".chart, .thumbnail")
    kept = charts.evaluate_all("all => all.map(e => getComputedStyle(e).forcedColorAdjust)")
    assert kept and set(kept) == {"none"}
    if name == "analysis":
        assert page.locator("#decay .main-svg").nth(1).evaluate("e => getComputedStyle(e).backgroundColor") in (
            "rgba(0, 0, 0, 0)",
            "transparent",
        )
