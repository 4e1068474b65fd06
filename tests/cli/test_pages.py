"""Where pages go without a name, what a shell is offered, and how help and batches read."""

from __future__ import annotations

from pathlib import Path

import pytest

from leakdown.cli.app import add_commands, app
from leakdown.cli.help_text import circuit_names, job_references, observation_ids
from leakdown.cli.pages import page_path, with_report_names
from leakdown.errors import UsageError
from tests.cli.program import leakdown

SHEET = "# circuit: crankcase\n# direction: pressure\n# volume: 250 cm3\ntime (s),pressure (kPa)\n" + "".join(
    f"{t},{40.0 - 0.15 * t:.1f}\n" for t in range(0, 70, 10)
)


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    (tmp_path / "sheet.csv").write_text(SHEET)
    return tmp_path / "sheet.csv"


def test_a_report_without_a_name_is_told_from_one_with(sheet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(sheet.parent)
    alone = "--report=.html"
    assert with_report_names(["analyse", "sheet.csv", "--report"]) == ["analyse", "sheet.csv", alone]
    assert with_report_names(["analyse", "--report", "sheet.csv"]) == ["analyse", alone, "sheet.csv"]
    assert with_report_names(["analyse", "sheet.csv", "--report", "--json"])[2] == alone
    (sheet.parent / "x.html").write_text("a page of yesterday")
    for named in (
        ["job", "list", "--report", "x.html"],
        ["analyse", "sheet.csv", "--report", "x.html"],
        ["analyse", "sheet.csv", "--report", "sheet.csv"],
    ):
        assert with_report_names(named) == named
    assert page_path(Path(".html"), sheet) == sheet.with_suffix(".html") == page_path(None, sheet, open_it=True)
    assert page_path(None, sheet) is None
    with pytest.raises(UsageError, match="a page is HTML"):
        page_path(Path("x.txt"), sheet)


@pytest.mark.slow
def test_pages_are_written_beside_the_readings_and_shown(sheet: Path) -> None:
    ran = leakdown("analyse", "sheet.csv", "--open", cwd=sheet.parent, BROWSER="echo shown %s")
    assert ran.status == 0 and f"shown {sheet.with_suffix('.html').as_uri()}" in ran.out
    over = leakdown("analyse", "sheet.csv", "--report", "sheet.csv", cwd=sheet.parent)
    assert over.status == 2 and sheet.read_text() == SHEET
    batch = leakdown("analyse", "sheet.csv", "gone.csv", "--report", "--json", cwd=sheet.parent)
    assert batch.status == 2 and len(batch.objects) == 1
    batch = leakdown("analyse", "sheet.csv", "sheet.csv", "gone.csv", cwd=sheet.parent)
    assert batch.err.splitlines()[-1] == "2 read: 2 fail; 1 could not be read"


def test_a_shell_completes_circuits_ids_and_jobs(tmp_path: Path) -> None:
    assert circuit_names("ca") == ["carburettor-inlet"] and ("bubbles-boot" in dict(observation_ids("bubbles")))
    (tmp_path / "2026-1").mkdir()

    class Context:
        params = {"folder": tmp_path}

    assert job_references(Context(), "20") == ["2026-1"] and job_references(Context(), "x") == []  # type: ignore[arg-type]


def test_help_is_grouped_and_flags_take_no_value() -> None:
    out = leakdown("--help").out
    places = [out.index(f"\u2500 {panel} ") for panel in ("Test", "Find", "Record", "Prepare", "Gauge")]
    assert places == sorted(places)
    for words in (("--help",), ("analyse", "--help"), ("job", "add", "--help"), ("sheet", "--help")):
        told = leakdown(*words).out
        assert "<bool>" not in told and "<str>" not in told and "list[" not in told
    add_commands(["sheet"])
    assert any(command.name == "sheet" for command in app.registered_commands)
