"""The README as somebody follows it: two set-up commands, one Python block whose output is as shown."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", TEXT, re.DOTALL | re.MULTILINE)


def test_each_set_up_block_is_one_command():
    first, second = blocks("sh")
    for block in (first, second):
        assert block.count("\n") == 1 and "&&" in block
    assert first.strip().endswith("leakdown demo") and second.strip().endswith("pytest -n 2")


@pytest.mark.slow
def test_the_python_block_prints_what_is_shown(tmp_path):
    (code,), (shown,) = blocks("python"), blocks("text")
    assert len(code.splitlines()) <= 15
    (tmp_path / "datasets").symlink_to(ROOT / "datasets")
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=tmp_path, check=True, timeout=120
    )
    assert run.stdout == shown
    assert (tmp_path / "decay.html").stat().st_size > 10_000
