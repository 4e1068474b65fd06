"""A writer killed at any step leaves the record before it whole, and does not hinder the next one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from leakdown.jobs.record import Engine
from leakdown.jobs.store import create
from tests.jobs.crash import added

DATA = Path(__file__).parents[2] / "datasets"
SHEET = DATA / "4_needle_sheet_vacuum.csv"
pytestmark = pytest.mark.skipif(os.name != "posix", reason="forks a child for each step")


@pytest.fixture
def base(tmp_path: Path) -> Path:
    """Jobs with one job that has one test, page and pictures."""
    root = tmp_path / "jobs"
    create(root, "j", Engine(engine="Pump"))
    added(root, SHEET)
    return root


def _killed(what: str, base: Path) -> list[dict]:
    command = [sys.executable, "-m", "tests.jobs.crash", what, str(base), str(SHEET)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120, cwd=DATA.parent)
    assert done.returncode == 0, done.stderr[-2000:]
    return [json.loads(line) for line in done.stdout.splitlines()]


@pytest.mark.slow
def test_killed_add_leaves_the_record_before_it_or_after_it_whole(base):
    steps = _killed("add", base)
    assert len(steps) > 10 and steps[-1]["status"] == 0 and {s["status"] for s in steps[:-1]} == {9}
    assert steps[0]["tests"] == 1 and steps[-1]["tests"] == 2
    tests = [s["tests"] for s in steps]
    assert tests == sorted(tests)  # once the entry is there it stays
    assert all(s["sound"] and not s["torn"] and len(s["there"]) == 4 for s in steps)
    assert all(s["then"]["sound"] and s["then"]["tests"] == s["tests"] + 1 for s in steps[:-1])


@pytest.mark.slow
def test_killed_report_leaves_record_page_and_pictures_whole(base):
    steps = _killed("report", base)
    assert len(steps) > 10 and steps[-1]["status"] == 0
    assert all(s["tests"] == 1 and s["sound"] and not s["torn"] and len(s["there"]) == 4 for s in steps)
