"""Consoles that lack letters get substitutes; files and other programs get every letter."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from leakdown.cli import console
from leakdown.sheets.file import read_bytes

ROOT = Path(__file__).parents[2]
NOTE = "dichtung \u00f8 5 \u2212 ok \U0001f527"
SHEET = f"# note: {NOTE}\n# circuit: crankcase\n# volume: 250 cm3\ntime (s);p (kPa)\n" + "".join(
    f"{30 * i};{40 - 2 * i}\n" for i in range(6)
)
pytestmark = pytest.mark.slow


def _run(*words: str, **environment: str) -> tuple[bytes, bytes]:
    """Both streams of the program as bytes; it ended well."""
    env = {**os.environ, "COLUMNS": "100", **environment}
    command = [sys.executable, "-m", "leakdown", *words]
    done = subprocess.run(command, capture_output=True, stdin=subprocess.DEVNULL, env=env, cwd=ROOT, timeout=120)
    assert done.returncode == 0 and b"Traceback" not in done.stderr, done.stderr.decode("utf-8", "replace")
    return done.stdout, done.stderr


@pytest.fixture(scope="module")
def sheet(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("letters") / "Pr\u00fcfung\u2212\u00f8\U0001f527.csv"
    path.write_text(SHEET, encoding="utf-8")
    return path


@pytest.mark.parametrize("poor", [{"PYTHONIOENCODING": "cp1252"}, {"LC_ALL": "C"}])
def test_commands_run_on_poor_consoles(sheet, tmp_path, poor):
    encoding = poor.get("PYTHONIOENCODING", "utf-8")
    for words in (("analyse", str(sheet)), ("locate", str(sheet)), ("demo", str(tmp_path / "demo"))):
        out, _ = _run(*words, **poor)
        assert len(out.decode(encoding).splitlines()) > 5


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "utf-8"])
def test_objects_keep_every_letter(sheet, encoding):
    out, _ = _run("analyse", str(sheet), "--json", PYTHONIOENCODING=encoding)
    assert json.loads(out.decode(encoding))["file"] == str(sheet)


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "utf-8"])
def test_files_on_standard_output_are_utf8_with_line_feeds(sheet, encoding):
    out, _ = _run("convert", str(sheet), "--quiet", PYTHONIOENCODING=encoding)
    assert b"\r" not in out and read_bytes(out, "converted").conditions.note == NOTE


def test_a_terminal_gets_its_own_letters(monkeypatch):
    class Terminal:
        encoding, said, buffer = "cp850", "", None

        def write(self, text: str) -> None:
            self.said += text

        def isatty(self) -> bool:
            return True

    terminal = Terminal()
    monkeypatch.setattr(sys, "stdout", terminal)
    console.put("5 cm\u00b3\n")
    assert terminal.said == "5 cm\u00b3\n"


def test_a_name_that_is_no_text_stands_in_every_output(tmp_path):
    """A byte that is no UTF-8 in the name of a file, as old disks and archives bring them."""
    odd = os.fsdecode(os.fsencode(tmp_path) + b"/a\xff.csv")
    try:
        Path(odd).write_text(SHEET, encoding="utf-8")
    except OSError:
        pytest.skip("this file system takes no such name")
    _run("analyse", odd, "--report", "--chart", str(tmp_path / "chart.svg"), "--csv", str(tmp_path / "t.csv"))
    assert (tmp_path / "a_.html").stat().st_size > 10_000 and (tmp_path / "chart.svg").is_file()
