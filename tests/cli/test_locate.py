"""`leakdown locate` and `compare` as scripts rely on them: streams, exit statuses, keys, refusals."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.cli.program import leakdown
from tests.where.engines import Engine, Leak, run

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A seal-like pair and a repaired pressure test as the project's own recordings."""
    path = tmp_path_factory.mktemp("tests")
    rng = np.random.default_rng(1)
    seal, mended = Engine((Leak(300.0, 0.9, 3.0),)), Engine((Leak(60.0, 0.9, 3.0),))
    for name, engine, sign in (("p", seal, 1.0), ("v", seal, -1.0), ("after", mended, 1.0)):
        recording = run(engine, rng, sign)
        head = f"# circuit: crankcase\n# direction: {recording.direction}\n"
        head += "# volume: 250 cm3\n# barometer: 100 kPa\n"
        rows = zip(recording.time_s, recording.pressure_pa / 1e3, strict=True)
        body = "".join(f"{t:.2f},{p:.3f}\n" for t, p in rows)
        (path / f"{name}.csv").write_text(f"{head}time_s,pressure_kpa\n{body}")
    return path


def test_locate_json(folder: Path) -> None:
    ran = leakdown("locate", folder / "p.csv", folder / "v.csv", "--intake", "piston-port", "--json")
    assert ran.status == 0
    (found,) = ran.objects
    ratio = found["vacuum_over_pressure"]
    assert ratio["low"] < 3.0 < ratio["high"] and ratio["value"] == pytest.approx(3.0, rel=0.05)
    assert found["groups"][0]["group"] == "shaft-seal"
    assert sum(g["probability"] for g in found["groups"]) == pytest.approx(1.0)
    assert {p["group"] for p in found["places"]} == {g["group"] for g in found["groups"]}
    assert {"id", "do", "why", "minutes", "direction", "enter"} == set(found["next_test"])


def test_locate_text_begins_with_the_answer(folder: Path) -> None:
    ran = leakdown("locate", folder / "p.csv", folder / "v.csv", "--seen", "angle-changes", "--seal-lips", "in")
    assert ran.status == 0 and "shaft seal" in ran.out.splitlines()[0]
    assert ran.out.splitlines()[1].startswith("Tests: ") and "\nNext: " in ran.out
    assert all(len(line) <= 100 for line in ran.out.splitlines())


def test_observations_are_listed_without_a_file() -> None:
    rows = leakdown("locate", "--observations", "--json").objects
    assert len(rows) > 30 and all({"id", "text"} <= set(row) for row in rows)


def test_compare_json(folder: Path) -> None:
    (found,) = leakdown("compare", folder / "p.csv", folder / "after.csv", "--json").objects
    change = found["after_over_before"]
    assert change["low"] < 0.2 < change["high"] and change["value"] == pytest.approx(0.2, rel=0.05)
    assert {found["verdict_before"], found["verdict_after"]} <= {"pass", "fail", "undecided"}


@pytest.mark.parametrize(("command", "second"), [("locate", "v.csv"), ("compare", "after.csv")])
def test_report_and_chart_are_written(folder: Path, tmp_path: Path, command: str, second: str) -> None:
    report, chart = tmp_path / "r.html", tmp_path / "c.svg"
    ran = leakdown(command, folder / "p.csv", folder / second, "--report", report, "--chart", chart)
    assert ran.status == 0 and f"Report: {report}" in ran.err and f"Chart: {chart}" in ran.err
    assert ran.out.splitlines()[0] in " ".join(report.read_text(encoding="utf-8").split())
    assert chart.read_text(encoding="utf-8").startswith("<?xml")
    silent = leakdown(command, folder / "p.csv", folder / second, "--report", report, "--json")
    assert silent.err == "" and len(silent.objects) == 1


@pytest.mark.parametrize("words", [("--report", "p.csv"), ("--chart", "c.gif"), ("--report", "no/where.html")])
@pytest.mark.parametrize("command", ["locate", "compare"])
def test_files_that_cannot_be_written_are_refused(folder: Path, command: str, words: tuple[str, str]) -> None:
    readings = (folder / "p.csv").read_bytes()
    ran = leakdown(command, "p.csv", "p.csv", *words, cwd=folder)
    assert ran.status in (1, 2) and ran.out == "" and words[1] in ran.err and "Traceback" not in ran.err
    assert (folder / "p.csv").read_bytes() == readings and not (folder / "c.gif").exists()


@pytest.mark.parametrize(
    "words",
    [("locate",), ("locate", "p.csv", "--seen", "nothing"), ("locate", "p.csv", "missing.csv"),
     ("locate", "p.csv", "--intake", "steam"), ("compare", "p.csv", "v.csv")],
)  # fmt: skip
def test_refusals(folder: Path, words: tuple[str, ...]) -> None:
    ran = leakdown(*words, cwd=folder)
    assert ran.status == 2 and ran.out == "" and "Traceback" not in ran.err
    assert len(ran.err.strip().splitlines()) <= 2


def test_a_complaint_is_understood_and_counted_in(folder: Path) -> None:
    pair = (folder / "p.csv", folder / "v.csv", "--intake", "piston-port")
    (plain,) = leakdown("locate", *pair, "--json").objects
    ran = leakdown("locate", *pair, "--json", "--seen", "below-half-tank", "--not-seen", "stored")
    (found,) = ran.objects
    assert [(a["id"], a["seen"]) for a in found["complaint"]["answers"]] == [
        ("below-half-tank", True),
        ("stored", False),
    ]
    seal, before = (_probability(f, "shaft-seal") for f in (found, plain))
    assert seal < before and plain["complaint"] is None
    assert sum(g["probability"] for g in found["groups"]) == pytest.approx(1.0)
    told = leakdown("locate", *pair, "--complaint", "dies at the zoo, worse below half a tank")
    assert "understood: worse below half a tank (below-half-tank)" in told.err and "at the zoo" in told.err
    assert "Counted in from the complaint: worse below half a tank." in told.out


def test_a_fact_with_two_names_counts_once(folder: Path) -> None:
    pair = (folder / "p.csv", folder / "v.csv", "--json")
    (one,) = leakdown("locate", *pair, "--seen", "flooding").objects
    (both,) = leakdown("locate", *pair, "--seen", "flooding", "--seen", "floods").objects
    assert one == both and one["complaint"] is None


def test_both_kinds_of_observations_are_listed() -> None:
    rows = leakdown("locate", "--observations", "--json").objects
    assert {row["kind"] for row in rows} == {"bench", "complaint"}
    assert "below-half-tank" in [row["id"] for row in rows if row["kind"] == "complaint"]
    text = leakdown("locate", "--observations").out
    assert text.startswith("Seen or done at the bench:") and "\n\nFrom the complaint" in text


def _probability(found: dict[str, object], group: str) -> float:
    return next(g["probability"] for g in found["groups"] if g["group"] == group)  # type: ignore[attr-defined]


def test_a_complaint_cannot_write_to_the_terminal() -> None:
    ran = leakdown("suspects", "dies \x1b[31mred \x07")
    assert ran.status == 0 and "not understood: dies" in ran.err and "\x1b" not in ran.err and "\x07" not in ran.err
