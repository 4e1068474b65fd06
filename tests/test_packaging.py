"""Wheel and sdist: built, whole, and the wheel does the main job away from the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """The folder of the sdist and of the wheel that was built from it."""
    pytest.importorskip("build")
    out = tmp_path_factory.mktemp("dist")
    words = [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(out), str(ROOT)]
    run = subprocess.run(words, capture_output=True, text=True, check=False, timeout=300)
    assert run.returncode == 0, run.stdout + run.stderr
    return out


def test_the_sdist_holds_the_project(built):
    (sdist,) = built.glob("*.tar.gz")
    with tarfile.open(sdist) as archive:
        names = {name.split("/", 1)[1] for name in archive.getnames() if "/" in name}
    for name in ("README.md", "LICENSE", "pyproject.toml", "leakdown/circuits.toml", "datasets/README.md"):
        assert name in names, name


def test_the_wheel_runs_the_demo_elsewhere(built, tmp_path):
    (wheel,) = built.glob("*.whl")
    assert wheel.stat().st_size < 2_000_000
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        archive.extractall(tmp_path / "site")
    for name in ("leakdown/py.typed", "leakdown/circuits.toml", "leakdown/vocabulary.toml"):
        assert name in names, name
    assert not [name for name in names if name.endswith(".min.js") or name.startswith("tests/")]
    run = subprocess.run(
        [sys.executable, "-m", "leakdown", "demo", "out"],
        capture_output=True, text=True, cwd=tmp_path, check=False, timeout=300,
        env={**os.environ, "PYTHONPATH": str(tmp_path / "site")},
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert (tmp_path / "out" / "3_crankcase_vacuum.html").exists() and "FAIL" in run.stdout
