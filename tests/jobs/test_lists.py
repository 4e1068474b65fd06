"""Across jobs: search, an index that is only a memory, a table without formulas, one engine's visits."""

from __future__ import annotations

import csv
import io
import json
import os
from dataclasses import replace
from pathlib import Path

import pytest

from leakdown.jobs import listing as lists
from leakdown.jobs.form import dumped
from leakdown.jobs.listing import INDEX, Wanted, csv_text, harmless, listing, matches, row_of
from leakdown.jobs.trend import change_words, kinds, trend
from tests.jobs.records import full_job, job, test_entry


def put(root: Path, name: str, one) -> Path:
    (root / name).mkdir(exist_ok=True)
    path = root / name / "job.json"
    fresh = path.with_name("fresh")
    fresh.write_bytes(dumped(replace(one, reference=name)))
    os.replace(fresh, path)
    return path


@pytest.fixture
def root(tmp_path: Path) -> Path:
    put(tmp_path, "a", full_job())
    put(tmp_path, "b", job(test_entry(1, "fail"), engine="Saw 50", serial="S-2"))
    put(tmp_path, "c", job(engine="Blower"))
    return tmp_path


def found(root: Path, **wanted) -> list[str]:
    return [r.reference for r in listing(root).rows if matches(r, Wanted(**wanted))]


def test_search(root):
    assert found(root) == ["a", "b", "c"]
    assert found(root, engine="saw") == ["b"] and found(root, engine="p-1") == ["a", "c"]
    assert found(root, place="DRIVE side") == ["a"] and found(root, words=("half", "pump")) == ["a"]
    assert [found(root, verdict=v) for v in ("pass", "fail", "none")] == [["a"], ["b"], ["c"]]
    assert found(root, serial="s-2") == ["b"] and found(root, serial="S") == []


def test_the_index_spares_reading_and_follows_every_change(root, monkeypatch):
    first = listing(root)
    reads = []
    real = lists.load
    monkeypatch.setattr(lists, "load", lambda folder: reads.append(folder.name) or real(folder))
    assert listing(root) == first and reads == []
    put(root, "b", job(test_entry(1, "pass"), engine="Saw 51"))
    assert [r.engine for r in listing(root).rows] == ["Pump 40", "Saw 51", "Blower"] and reads == ["b"]


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"form": 1}', b'{"form": null, "jobs": 3}', b"\xff"])
def test_a_damaged_index_costs_time_only(root, content):
    first = listing(root)
    (root / INDEX).write_bytes(content)
    assert listing(root) == first and json.loads((root / INDEX).read_bytes())["jobs"]


def test_a_damaged_record_is_named_and_the_others_listed(root):
    (root / "b" / "job.json").write_text("{")
    shown = listing(root)
    assert [r.reference for r in shown.rows] == ["a", "c"] and "job.json" in shown.troubles[0].where


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1", " =1", "\n=1", "=cmd|' /C calc'!A0", "\uff1d1", "|x"]
)
def test_no_cell_is_a_formula(text):
    assert harmless(text).startswith("'")
    row = row_of(job(engine=text, complaint=f'a",{text}'))
    cells = list(csv.reader(io.StringIO(csv_text([row]))))[1]
    assert cells[3].startswith("'") and not any(c.lstrip().startswith(tuple("=+-@|")) for c in cells)


def test_plain_cells_stay_as_they_are():
    assert harmless("2026-017") == "2026-017" and harmless("a = b") == "a = b"


def test_trend_of_one_serial(root):
    put(root, "d", job(test_entry(1, rate=0.09), test_entry(2, rate=0.05, direction="vacuum"), hours="400"))
    visits, troubles = trend(root, "p-1")
    groups = kinds(visits)
    assert not troubles and set(groups) == {("crankcase", "pressure"), ("crankcase", "vacuum")}
    pressure = groups["crankcase", "pressure"]
    assert [(v.reference, v.stage) for v in pressure] == [("a", "before"), ("a", "after"), ("d", "before")]
    assert "grown" in change_words(pressure)
    assert "no change" in change_words([pressure[0], replace(pressure[0], reference="e")])
    assert change_words(pressure[:2]) == ""  # before and after a repair is one visit
