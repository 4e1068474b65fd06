"""The page of all jobs: a row each, its curves, what is still wanted."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from leakdown.jobs.form import dumped
from leakdown.jobs.overview import overview, overview_page
from leakdown.jobs.record import Engine, Job, StoredCurve
from tests.jobs.records import full_job

CURVE = StoredCurve((0.0, 30.0, 60.0), (40.0, 37.0, 34.0))


def with_curves(job: Job) -> Job:
    tests = {t.number: replace(t, result=replace(t.result, curve=CURVE)) for t in job.tests}
    return replace(job, entries=tuple(tests.get(e.number, e) for e in job.entries))


def test_a_row_says_where_it_stands_and_what_is_wanted() -> None:
    row = overview(with_curves(full_job()))
    assert row.place.startswith("found: ") and len(row.curves) == 2
    assert 'points="0.0,' in row.curves[0] and 'width="240"' in row.curves[0] and ">PASS<" in row.curves[0]
    bare = overview(Job("J9", "2026-01-02T10:00:00+00:00", Engine("<b>saw</b>")))
    assert bare.word == "NOT TESTED" and bare.wanted == ("A first test",) and bare.curves == ()


def test_the_page_has_every_job_and_no_script(tmp_path: Path) -> None:
    for job in (replace(with_curves(full_job()), reference="J1"), Job("J9", "2026-01-02", Engine("<b>saw</b>"))):
        (tmp_path / job.reference).mkdir()
        (tmp_path / job.reference / "job.json").write_bytes(dumped(job))
    page = overview_page(tmp_path, ["J1", "J9"])
    assert page.count("<polyline") == 2 and "<script" not in page and "&lt;b&gt;saw&lt;/b&gt;" in page
    assert "A first test" in page and "not tested" in page
