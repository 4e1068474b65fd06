"""The customer's sheet: plain words, the pair that failed before, nothing of ids, options or odds."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from typing import Any

import pytest

from leakdown.jobs import customer_page as sheet
from leakdown.jobs.customer_page import customer_page, pair_shown, told
from leakdown.jobs.record import Engine, Job, Note, StoredFlag
from tests.jobs import records
from tests.jobs.records import full_job


def _text(page: str) -> str:
    body = re.sub(r"<(style|script|svg).*?</\1>", " ", page.partition("<body>")[2], flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", body)).replace("\u00a0", " ").split())


def test_it_tells_the_story_in_the_order_a_customer_asks() -> None:
    job = full_job()
    headings = [part.heading for part in told(job)]
    assert headings == ["What you told us", "What was wrong", "What was done", "Does it hold now?", "Not tested"]
    text = _text(customer_page(job, {}))
    assert job.current.complaint in text and "Signature" in text and "Date" in text
    assert [text.index(h) for h in headings] == sorted(text.index(h) for h in headings)


def test_no_ids_no_options_no_odds() -> None:
    text = _text(customer_page(full_job(), {}))
    assert "--" not in text and "leakdown job" not in text and "probab" not in text
    assert not re.search(r"\(\d+ %\)", text) and not re.search(r"\b[a-z]+-[a-z]+-side\b", text)


def test_the_chart_is_of_a_pair_that_failed_before() -> None:
    job = full_job()
    pair = pair_shown(job)
    assert [t.stage for t in pair] == ["before", "after"] and pair[0].result.verdict == "fail"
    alone = replace(job, entries=tuple(e for e in job.entries if getattr(e, "stage", "") != "after"))
    assert [t.stage for t in pair_shown(alone)] == ["before"]


def test_the_chart_is_drawn_for_paper_and_for_a_phone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two curves carry their stages, one needs none; each width has a picture of its own."""
    drawn: list[Any] = []
    monkeypatch.setattr(sheet, "decay_chart", lambda *shown, names: drawn.append((shown, tuple(names))) or "chart")
    monkeypatch.setattr(sheet, "inline_svg", lambda chart, name, phone=False: f"<svg>{chart} {name} {phone}</svg>")
    monkeypatch.setattr(sheet, "in_words", lambda chart: f"{chart} in words")
    job = full_job()
    first, second = (test.number for test in pair_shown(job))
    page = customer_page(job, {first: "one", second: "two"})  # type: ignore[dict-item]
    assert drawn == [(("one", "two"), ("before", "after"))]
    assert page.index("<svg>chart decay False</svg>") > 0 < page.index("<svg>chart decay-phone True</svg>")
    assert "chart in words" in page
    customer_page(job, {second: "two"})  # type: ignore[dict-item]
    assert drawn[1:] == [(("two",), ())] and "<svg>" not in customer_page(job, {}) and len(drawn) == 2


def test_a_pass_by_a_lax_limit_is_no_clean_bill() -> None:
    entry = records.test_entry(1, direction="vacuum")
    lax = replace(entry, result=replace(entry.result, flags=(StoredFlag("lax-limit", "That limit is lax."),)))
    wrong = next(part for part in told(records.job(lax)) if part.heading == "What was wrong")
    assert "only by a lax limit" in wrong.sentences[0]
    plain = next(part for part in told(records.job(entry)) if part.heading == "What was wrong")
    assert plain.sentences == ("No test is over its limit.",)


def test_a_job_without_tests_says_so() -> None:
    job = Job("J2", "2026-01-02T10:00:00+00:00", Engine("saw", complaint="idles high"))
    text = _text(customer_page(job, {}))
    assert "NOT TESTED YET" in text and "idles high" in text and "Nothing has been repaired yet" in text
    mended = job.with_entry(Note(1, "2026-01-03T10:00:00+00:00", "repair", "new boot"))
    assert "New boot." in _text(customer_page(mended, {}))
