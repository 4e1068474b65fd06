"""Every command that README or a help text shows is run as it stands; what README shows of its output is what comes.

Ports are those of a bench: `log`, `simulate` and `test` run in tests/live, with a virtual gauge. `plan`, which takes
seconds, runs with the same words in tests/cli/test_bench_commands.py.
"""

from __future__ import annotations

import importlib
import re
import shlex
import shutil
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest
import typer
from PIL import Image

from leakdown.cli.app import COMMANDS
from tests.cli.program import leakdown
from tests.test_readme import ROOT, TEXT, blocks

pytestmark = pytest.mark.slow
WIDTH = "88"
ELSEWHERE = ("log", "simulate", "test", "plan")
FIRST = (["job", "new"], ["job", "add"], ["job", "run"], ["rig", "keep"])  # what others need


def help_examples() -> list[list[str]]:
    """The words of each example in a help text, those first that make what others use."""
    whole = typer.Typer()
    for module in sorted({command.module for command in COMMANDS}):
        importlib.import_module(f"leakdown.cli.{module}").register(whole)
    found = [
        shlex.split(m)[1:]
        for text in _epilogs(whole)
        for m in re.findall(r"Example: (leakdown .*?)(?:\. Keys|$)", text)
    ]
    assert len(found) >= 30
    return sorted(found, key=lambda words: next((k for k, first in enumerate(FIRST) if words[:2] == first), 99))


def _epilogs(group: typer.Typer) -> Iterator[str]:
    for command in group.registered_commands:
        yield str(command.epilog or "")
    for inner in group.registered_groups:
        assert inner.typer_instance is not None
        yield from _epilogs(inner.typer_instance)


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """A folder with the files that the examples name."""
    data = ROOT / "datasets"
    pressure, vacuum = data / "2_crankcase_pressure.csv", data / "3_crankcase_vacuum.csv"
    for name, source in {
        "sheet.csv": data / "4_needle_sheet_vacuum.csv", "pressure.csv": pressure, "vacuum.csv": vacuum,
        "test.csv": pressure, "before.csv": pressure, "after.csv": data / "5_after_repair_pressure.csv",
        "hold1.csv": vacuum, "hold2.csv": data / "6_after_repair_vacuum.csv",
        "hold3.csv": data / "4_needle_sheet_vacuum.csv",
        "capped.csv": data / "1_rig_capped.csv", "leak.csv": pressure, "hole.csv": pressure,
    }.items():  # fmt: skip
        shutil.copy(source, tmp_path / name)
    Image.new("RGB", (40, 30), "grey").save(tmp_path / "seal.jpg")
    (tmp_path / "datasets").symlink_to(data)
    return tmp_path


def _run(words: list[str], folder: Path):
    return leakdown(*words, cwd=folder, COLUMNS=WIDTH, LEAKDOWN_SETTINGS=str(folder / "settings.toml"))


def test_every_example_of_a_help_text_runs(bench):
    book = openpyxl.Workbook()
    for row in (["Volume: 250 cm3"], ["time (s)", "pressure (kPa)"], *([10 * k, 40.0 - 0.5 * k] for k in range(9))):
        book.active.append(row)
    book.save(bench / "sheet.xlsx")
    for words in help_examples():
        if words[0] in ELSEWHERE:
            continue
        asked = {"convert": ["converted.csv" if w == "test.csv" else w for w in words]}.get(words[0], words)
        done = _run(asked, bench)
        assert done.status == 0, (words, done.err)
        assert (done.out or done.err).strip() and "Traceback" not in done.err, words


def test_every_command_that_readme_names_is_there():
    named = set(re.findall(r"`leakdown ((?:job |rig |volume |reckon )?[a-z]+)", TEXT)) | {"job photo", "job list"}
    assert len(named) >= 20
    for words in sorted(named):
        assert _run([*words.split(), "--help"], ROOT).status == 0, words


def _shown(block: str) -> list[tuple[list[str], list[str]]]:
    """(words of the command, lines shown after it) of a block."""
    found: list[tuple[list[str], list[str]]] = []
    for line in block.splitlines():
        if line.startswith("$ leakdown "):
            found.append((shlex.split(line[2:])[1:], []))
        elif found:
            found[-1][1].append(line)
    return found


def test_readme_shows_what_comes(bench):
    asked = [one for block in blocks("console") for one in _shown(block) if one[0][0] not in ELSEWHERE]
    assert len(asked) >= 5
    assert _run(["job", "new", "2026-017"], bench).status == 0
    like = ["--fuel", "full", "--cold"]
    for seconds in ("28 s", "41 s", "33 s", "36 s"):
        assert (
            _run(["job", "run", "2026-017", seconds, "--ended", "died", *like, "--with", "old vent"], bench).status == 0
        )
    for words, shown in asked:
        if words[:2] == ["job", "runs"]:
            for seconds, ended in (("5 min", "stopped"), ("55 s", "died"), ("4 min 30 s", "stopped")):
                ran = ["job", "run", "2026-017", seconds, "--ended", ended, *like, "--with", "new vent"]
                assert _run(ran, bench).status == 0
        done = _run(words, bench)
        assert done.status == 0, done.err
        assert "\n".join(shown) in done.out, (words, done.out)
