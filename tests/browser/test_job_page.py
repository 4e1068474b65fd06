"""The page of a job in a real browser: hostile notes are text, nothing is asked of a network, it fits."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from leakdown.jobs.page import LIBRARY, job_page
from leakdown.jobs.record import StoredFlag
from leakdown.report.blank_sheet import blank_sheet, blank_sheet_page
from leakdown.report.page import library_script
from tests.jobs.records import NASTY, full_job, job, note, test_entry
from tests.report.report_examples import analysis

pytestmark = pytest.mark.browser
DESK, PHONE = {"width": 1200, "height": 900}, {"width": 390, "height": 800}


def hostile():
    """Every text of a record says something that a careless page would run."""
    entry = test_entry(1, "fail")
    said = replace(entry.inputs.conditions, note=NASTY, gauge=NASTY, blocked=(NASTY,))
    entry = replace(
        entry,
        recording=replace(entry.recording, file=NASTY.replace("/", ""), name=NASTY),
        inputs=replace(entry.inputs, conditions=said, manual_page=NASTY, limit_from="maker"),
        result=replace(entry.result, size=NASTY, reason=NASTY, brief=NASTY, flags=(StoredFlag(NASTY, NASTY),)),
    )
    notes = [note(i, f"{NASTY}{i}", kind, place=NASTY, verdict="pass" if kind == "verdict" else "")
             for i, kind in enumerate(("note", "repair", "verdict"), start=2)]  # fmt: skip
    head = dict.fromkeys(("engine", "serial", "hours", "fuel_mix", "complaint"), NASTY)
    one = job(entry, *notes, note(9, NASTY, "correction", corrects="1"), parts_changed=(NASTY,), **head)
    return replace(one, reference=NASTY, opened=NASTY), {}


def whole():
    """Before and after in both directions, with charts."""
    results = {1: analysis(), 2: analysis(vacuum=True), 4: analysis(), 5: analysis(vacuum=True)}
    return full_job(), results


@pytest.fixture
def show(browser, tmp_path):
    """show(page, viewport) -> the opened page, requests, complaints."""
    contexts = []

    def opened(text: str, viewport=DESK):
        path = tmp_path / "page.html"
        path.write_text(text, encoding="utf-8")
        (tmp_path / LIBRARY).write_bytes(library_script())
        context = browser.new_context(viewport=viewport)
        contexts.append(context)
        page, requests, complaints = context.new_page(), [], []
        page.on("request", lambda request: requests.append(request.url))
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("dialog", lambda dialog: complaints.append("dialog") or dialog.dismiss())
        page.goto(path.as_uri())
        own = (path.as_uri(), (tmp_path / LIBRARY).as_uri())
        return page, [r for r in requests if r not in own], complaints

    yield opened
    for context in contexts:
        context.close()


@pytest.mark.parametrize("viewport", [DESK, PHONE], ids=["desk", "phone"])
def test_hostile_notes_are_shown_as_text(show, viewport):
    page, requests, complaints = show(job_page(*hostile()), viewport)
    assert requests == [] and complaints == []
    assert page.evaluate("window.ran === undefined") and page.locator("main script, main img").count() == 0
    assert page.locator("text=window.ran = true").count() >= 8
    assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]


@pytest.mark.parametrize("viewport", [DESK, PHONE], ids=["desk", "phone"])
def test_the_whole_job_is_drawn_and_fits(show, viewport):
    page, requests, complaints = show(job_page(*whole()), viewport)
    page.wait_for_selector("#decay-0 .main-svg", timeout=15_000)
    assert requests == [] and complaints == []
    assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]
    legend = page.locator("#decay-0 .legendtext").all_text_contents()
    assert sorted(legend) == ["pressure after", "pressure before", "vacuum after", "vacuum before"]
    ends = page.locator("#decay-0 .annotation-text").evaluate_all(
        "all => all.map(e => [e.textContent, e.getBoundingClientRect().toJSON()])"
    )
    assert {name for name, _ in ends} >= set(legend)
    for i, (name, a) in enumerate(ends):
        assert a["right"] <= viewport["width"], name
        for other, b in ends[i + 1 :]:
            apart = a["bottom"] <= b["top"] + 1 or b["bottom"] <= a["top"] + 1
            assert apart or a["right"] <= b["left"] or b["right"] <= a["left"], (name, other)
    first = page.locator(".plainly p").first.inner_text()
    assert first.startswith("Pump 40 (serial P-1) came in with")


def test_a_click_in_the_legend_hides_all_of_a_test(show):
    page, _, _ = show(job_page(*whole()))
    page.wait_for_selector("#decay-0 .main-svg", timeout=15_000)
    page.locator("#decay-0 .legendtoggle").first.click()
    page.wait_for_selector("#decay-0 .traces[style*='opacity: 0.5']", timeout=5_000)
    groups = page.evaluate(
        "document.getElementById('decay-0').data.map(t => [t.legendgroup, t.visible === 'legendonly'])"
    )
    hidden = {group for group, off in groups if off}
    assert len(hidden) == 1 and all(off == (group in hidden) for group, off in groups if group)


def test_printed_the_job_has_a_signature_line_and_few_pages(show):
    page, _, _ = show(job_page(*whole()))
    pdf = page.pdf(prefer_css_page_size=True)
    assert 2 <= len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 4
    page.emulate_media(media="print")
    assert page.locator(".signature").is_visible() and page.locator("text=Signature").is_visible()


@pytest.mark.parametrize("direction", ["pressure", "vacuum"])
def test_a_blank_sheet_is_one_page_of_paper(show, direction):
    page, requests, complaints = show(
        blank_sheet_page(blank_sheet("crankcase", direction, "psi", 10.0, None, None, None))
    )
    assert requests == [] and complaints == []
    assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True))) == 1
