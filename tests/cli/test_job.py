"""`leakdown job` and `leakdown sheet` as a mechanic and a script meet them: files, words, exit statuses."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from leakdown.cli import job, sheet, suspects
from leakdown.errors import InputError, LeakdownError, RecordError, UsageError
from tests.cli.program import leakdown

pytestmark = pytest.mark.slow

DATA = Path(__file__).parents[2] / "datasets"
BEFORE = [DATA / "2_crankcase_pressure.csv", DATA / "3_crankcase_vacuum.csv"]
AFTER = [DATA / "5_after_repair_pressure.csv", DATA / "6_after_repair_vacuum.csv"]
LIMIT = ("--maker-limit", "6 kPa in 60 s from 40 kPa", "--manual-page", "4-12")


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """A folder of jobs and run(...) in this process -> (status, out, err)."""
    monkeypatch.setenv("LEAKDOWN_JOBS", str(tmp_path / "jobs"))
    monkeypatch.setenv("COLUMNS", "100")

    app = typer.Typer()
    job.register(app)
    sheet.register(app)
    suspects.register(app)

    def run(*words: object):
        done = CliRunner().invoke(app, [str(w) for w in words])
        if isinstance(done.exception, LeakdownError):
            raise done.exception
        assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
        return done.exit_code, done.stdout, done.stderr

    run.root = tmp_path / "jobs"
    return run


def test_the_whole_story(shop):
    assert shop("job", "new", "J1", "--engine", "Pump", "--serial", "S1", "--complaint", "dies")[0] == 0
    status, out, err = shop("job", "add", "J1", *BEFORE, *LIMIT, "--blanks-checked")
    assert status == 0 and "FAIL" in out and "Job J1: FAIL" in out
    shop("job", "note", "J1", "new seal", "--repair", "--place", "seal, flywheel side")
    status, out, err = shop("job", "add", "J1", *AFTER, *LIMIT, "--blanks-checked", "--connection-proven")
    assert status == 0 and "after the repair" in err and "smaller" in out and "Job J1: PASS" in out
    shop("job", "note", "J1", "ran well", "--verdict", "pass")
    folder = shop.root / "J1"
    whole = {".lock", "job.json", "recordings", "report.html", "charts.js", "chart.png", "chart.pdf", "chart.svg"}
    assert {p.name for p in folder.iterdir()} == whole
    for path in BEFORE + AFTER:
        assert (folder / "recordings" / path.name).read_bytes() == path.read_bytes()
    assert (folder / "report.html").stat().st_size < 2_300_000
    told = json.loads(shop("job", "show", "J1", "--json")[1])
    assert told["verdict"] == told["said_verdict"] == "pass" and told["places"] == ["seal, flywheel side"]
    assert [e["kind"] for e in told["entries"]] == ["test", "test", "repair", "test", "test", "verdict"]
    assert told["entries"][0]["manual_page"] == "4-12" and told["entries"][4]["changed"]["against"] == 2
    words = shop("job", "show", "J1")[1]
    order = [words.index(w) for w in ("Complaint", "FAIL", "Finding", "Repair", "smaller", "mechanic's verdict")]
    assert order == sorted(order)
    listed = json.loads(shop("job", "list", "--verdict", "pass", "--json")[1])
    assert listed["reference"] == "J1" and listed["tests"] == 4
    assert "not comparable" not in shop("job", "trend", "S1")[1]


def test_report_and_zip(shop, tmp_path):
    shop("job", "new", "J1")
    status, out, err = shop("job", "add", "J1", BEFORE[0], "--no-report")
    assert not (shop.root / "J1" / "report.html").exists()
    assert shop("job", "report", "J1")[1].strip().endswith("report.html")
    assert shop("job", "export", "J1", tmp_path / "x.zip")[0] == 0
    names = zipfile.ZipFile(tmp_path / "x.zip").namelist()
    assert "J1/recordings/2_crankcase_pressure.csv" in names and len(names) == 7


def test_check_names_what_is_not_as_received(shop):
    shop("job", "new", "J1")
    shop("job", "add", "J1", *BEFORE, "--no-report")
    assert shop("job", "check", "J1")[0] == 0
    changed, missing = (shop.root / "J1" / "recordings" / p.name for p in BEFORE)
    changed.write_bytes(changed.read_bytes()[:-1] + b"9")
    missing.unlink()
    status, out, _ = shop("job", "check", "J1")
    assert status == 1 and f"{changed.name}: NOT the file" in out and f"{missing.name}: MISSING" in out
    status, out, _ = shop("job", "check", "J1", "--json")
    assert status == 1 and [r["state"] for r in json.loads(out)["recordings"]] == ["changed", "missing"]
    status, _, err = shop("job", "report", "J1")  # what can be shown is shown
    assert status == 0 and "checksum" in err and "missing" in err
    page = (shop.root / "J1" / "report.html").read_text("utf-8")
    assert "Could not be shown" in page and "The leak is 7.3\xa0cm" in page


def test_a_bad_file_does_not_keep_the_others_out(shop, tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_text("no readings here\n")
    shop("job", "new", "J1")
    status, out, err = shop("job", "add", "J1", bad, BEFORE[0], "--no-report")
    assert status == 2 and "bad.csv" in err and "PASS" in out
    told = json.loads(shop("job", "show", "J1", "--json")[1])
    assert [e["file"] for e in told["entries"]] == [BEFORE[0].name]
    assert [p.name for p in (shop.root / "J1" / "recordings").iterdir()] == [BEFORE[0].name]


def test_the_same_file_twice_is_refused_unless_it_corrects_the_test(shop, tmp_path):
    shop("job", "new", "J1")
    shop("job", "add", "J1", BEFORE[0], "--no-report")
    record = (shop.root / "J1" / "job.json").read_bytes()
    other = tmp_path / "other name.csv"
    other.write_bytes(BEFORE[0].read_bytes())
    for again in (BEFORE[0], other):
        with pytest.raises(InputError, match=r"test 1, recordings/2_crankcase_pressure\.csv") as caught:
            shop("job", "add", "J1", again, "--no-report")
        assert "--corrects 1" in caught.value.remedy and caught.value.where == again.name
    assert (shop.root / "J1" / "job.json").read_bytes() == record
    for number in (1, 2):  # a correction may itself be corrected
        shop("job", "add", "J1", BEFORE[0], "--volume", "300 cm3", "--corrects", number, "--no-report")
    with pytest.raises(InputError, match="test 3"):
        shop("job", "add", "J1", BEFORE[0], "--corrects", "1", "--no-report")
    told = json.loads(shop("job", "show", "J1", "--json")[1])["entries"]
    assert [e["counts"] for e in told] == [False, False, True]


def test_the_makers_figure_of_a_job_counts_until_another_is_given(shop, tmp_path):
    """Of the same circuit and direction only; the file's own limit and a given one come first."""
    shop("job", "new", "M1")
    shop("job", "add", "M1", BEFORE[0], *LIMIT, "--no-report")
    own = tmp_path / "own.csv"
    own.write_text("# limit: 5 kPa in 60 s\n" + AFTER[0].read_text("utf-8"), encoding="utf-8")
    err = shop("job", "add", "M1", AFTER[0], "--no-report")[2]
    assert "judged by the maker's figure of test 1, 6 kPa in 60 s from 40 kPa" in err
    shop("job", "add", "M1", BEFORE[1], "--no-report")
    shop("job", "add", "M1", own, "--no-report")
    shop("job", "add", "M1", AFTER[0], "--limit", "4 kPa in 60 s", "--corrects", "2", "--no-report")
    told = json.loads(shop("job", "show", "M1", "--json")[1])["entries"]
    assert [e["limit_from"] for e in told] == ["maker", "maker", None, "file", "given"]
    assert told[1]["limit"] == told[0]["limit"] and told[1]["manual_page"] == "4-12"
    assert told[3]["limit"]["text"] == "5 kPa in 60 s"


def test_a_picture_that_fails_costs_nothing_else(shop, monkeypatch):
    from leakdown.jobs import page

    def fails(*given: object) -> bytes:
        raise RuntimeError("no fonts")

    monkeypatch.setattr(page, "picture", fails)
    shop("job", "new", "J1")
    status, out, err = shop("job", "add", "J1", BEFORE[0])
    assert status == 0 and "chart.png could not be drawn (RuntimeError: no fonts)" in err
    assert (shop.root / "J1" / "report.html").exists() and shop("job", "check", "J1")[0] == 0
    monkeypatch.setattr("leakdown.report.page.inline_svg", fails)
    status, out, err = shop("job", "report", "J1")
    assert status == 0 and "charts of the page" in err
    assert "could not be drawn" in (shop.root / "J1" / "report.html").read_text("utf-8")


@pytest.mark.parametrize(
    ("words", "error"),
    [
        (("new", "../evil"), UsageError),
        (("new", "/abs"), UsageError),
        (("new", "J2", "--intake", "sideways"), UsageError),
        (("add", "none", BEFORE[0]), RecordError),
        (("add", "J1", BEFORE[0], "--manual-page", "3"), UsageError),
        (("add", "J1", BEFORE[0], "--stage", "later"), UsageError),
        (("add", "J1", BEFORE[0], "--corrects", "7"), UsageError),
        (("note", "J1", " "), UsageError),
        (("note", "J1", "x", "--repair", "--verdict", "pass"), UsageError),
        (("note", "J1", "x", "--verdict", "good"), UsageError),
        (("note", "J1", "x", "--corrects", "colour"), UsageError),
        (("note", "J1", "x", "--withdraws", "1"), UsageError),
        (("note", "J1", "x", "--seen", "ghosts"), UsageError),
        (("export", "J1", "x.tar"), UsageError),
        (("list", "--verdict", "maybe"), UsageError),
        (("trend", " "), UsageError),
        (("show", "J9"), RecordError),
    ],
)
def test_what_is_refused_changes_nothing(shop, words, error):
    shop("job", "new", "J1")
    before = (shop.root / "J1" / "job.json").read_bytes()
    with pytest.raises(error) as caught:
        shop("job", *words)
    assert caught.value.exit_status == 2 and caught.value.remedy
    assert (shop.root / "J1" / "job.json").read_bytes() == before
    assert {p.name for p in shop.root.iterdir()} == {"J1"}
    assert {p.name for p in shop.root.parent.iterdir()} == {"jobs"}


def test_list_as_csv_runs_nothing_in_a_spreadsheet(shop):
    shop("job", "new", "J1", "--engine", "=HYPERLINK(1)", "--complaint", "@sum", "--serial", "\t-1")
    status, out, _ = shop("job", "list", "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert status == 0 and rows[0]["engine"] == "'=HYPERLINK(1)" and rows[0]["complaint"] == "'@sum"
    assert rows[0]["serial"].startswith("'")


def test_in_a_process_of_its_own(tmp_path):
    place = ("--folder", tmp_path / "jobs")
    assert leakdown("job", "new", "J1", *place).status == 0
    again = leakdown("job", "new", "j1", *place)
    assert again.status == 2 and "already" in again.err and "Traceback" not in again.err
    assert leakdown("job", "new", "../evil", *place).status == 2
    assert leakdown("job", "check", "J1", *place).status == 0
    (tmp_path / "jobs" / "J1" / "job.json").write_text('{"leakdown_job": 99}')
    newer = leakdown("job", "show", "J1", *place)
    assert newer.status == 2 and "form 99" in newer.err and newer.out == ""
    assert leakdown("job", "list", *place).status == 2


def test_sheet(shop, tmp_path):
    status, out, _ = shop("sheet", "--csv", "--unit", "psi", "--direction", "vacuum")
    assert status == 0 and "time (s),vacuum (psi),remarks" in out
    assert shop("sheet", "--out", tmp_path / "s.html")[0] == 0
    assert (tmp_path / "s.html").read_text("utf-8").startswith("<!DOCTYPE html>")
    assert shop("sheet", "--out", tmp_path / "s.csv")[0] == 0
    for wrong in (("--out", tmp_path / "s.pdf"), ("--csv", "--out", tmp_path / "s.html"), ("--direction", "up")):
        with pytest.raises(UsageError):
            shop("sheet", *wrong)


def test_a_complaint_counts_in_every_later_placing(shop, tmp_path):
    words = "Worse below half a tank, purple"
    err = shop("job", "new", "C1", "--complaint", words)[2]
    assert "understood: worse below half a tank (below-half-tank)" in err and "not understood: purple" in err
    status, out, err = shop("suspects", "--job", "C1", "--seen", "restarts-at-once")
    assert status == 0 and "pickup line inside the tank" in out and "C1: suspects 1 added" in err
    shop("job", "new", "C2")
    for reference in ("C1", "C2"):
        assert shop("job", "add", reference, *BEFORE, *LIMIT, "--no-report")[0] == 0
    heard, plain = (json.loads((shop.root / r / "job.json").read_text())["entries"] for r in ("C1", "C2"))
    assert heard[0]["kind"] == "suspects" and heard[0]["seen"] == ["below-half-tank", "restarts-at-once"]
    assert heard[2]["place"]["answers"] == ["worse below half a tank", "restarts at once after dying"]
    assert "answers" not in plain[1]["place"]
    assert heard[2]["place"]["probability"] < plain[1]["place"]["probability"]  # the seal explains less
    located = leakdown("locate", *BEFORE, "--seen", "below-half-tank", "--seen", "restarts-at-once", "--json")
    group = located.objects[0]["groups"][0]  # the same path: the same odds
    assert group["probability"] == pytest.approx(heard[2]["place"]["probability"], rel=1e-3)


def test_suspects_of_an_unknown_job_or_id_change_nothing(shop):
    with pytest.raises(RecordError, match="no job 'X'"):
        shop("suspects", "--job", "X", "--seen", "tipped")
    shop("job", "new", "X")
    before = (shop.root / "X" / "job.json").read_bytes()
    with pytest.raises(UsageError, match="unknown observation"):
        shop("suspects", "--job", "X", "--seen", "nothing")
    assert (shop.root / "X" / "job.json").read_bytes() == before


def test_page_and_charts_are_never_older_than_the_record(shop):
    shop("job", "new", "P1")
    shop("job", "add", "P1", BEFORE[0], *LIMIT)
    page = shop.root / "P1" / "report.html"
    assert "said later" not in page.read_text()
    shop("job", "note", "P1", "said later")
    assert "said later" in page.read_text()
    shop("suspects", "--job", "P1", "--seen", "tipped")
    assert "changes when the machine is tipped" in page.read_text()
    assert "older than the record" not in shop("job", "check", "P1")[2]
    shop("job", "new", "P2")
    shop("job", "note", "P2", "no page yet")
    assert not (shop.root / "P2" / "report.html").exists()


def test_a_note_leaves_pictures_that_are_up_to_date(shop):
    shop("job", "new", "Q1")
    shop("job", "add", "Q1", BEFORE[0], *LIMIT)
    picture = shop.root / "Q1" / "chart.png"
    drawn = picture.read_bytes()
    picture.write_bytes(b"left alone")
    shop("job", "note", "Q1", "looked at it")
    assert picture.read_bytes() == b"left alone"
    shop("job", "note", "Q1", "wrong engine", "--withdraws", "1")  # other tests count now
    shop("job", "add", "Q1", BEFORE[0], *LIMIT, "--no-report", "--corrects", "1")
    shop("job", "note", "Q1", "again")
    assert picture.read_bytes()[:8] == drawn[:8]
    picture.unlink()
    shop("job", "note", "Q1", "and again")
    assert picture.exists()


def test_the_page_holds_each_tests_readings_and_residuals_folded(shop):
    shop("job", "new", "R1")
    shop("job", "add", "R1", *BEFORE, *LIMIT)
    page = (shop.root / "R1" / "report.html").read_text()
    section = page[page.index('<section class="each">') : page.index("Recordings, as received")]
    assert section.count("<summary>1. Crankcase, pressure, before: 2_crankcase_pressure.csv") == 1
    assert "<details open" not in section and section.count('class="readings"') == 2
    assert section.count("Residuals of the fit of test") == 2
    ids = [part.split('"')[0] for part in section.split('<svg id="')[1:]]
    assert len(set(ids)) == len(ids)
    assert len(page) < 2_300_000


def test_trend_draws_a_chart(shop, tmp_path):
    shop("job", "new", "T1", "--serial", "S9")
    assert "no chart" in shop("job", "trend", "S9", "--chart", tmp_path / "t.png")[2]
    shop("job", "add", "T1", *BEFORE, *LIMIT, "--no-report")
    status, out, err = shop("job", "trend", "S9", "--chart", tmp_path / "t.svg")
    assert status == 0 and "Crankcase, pressure" in out and f"Chart: {tmp_path / 't.svg'}" in err
    assert (tmp_path / "t.svg").read_text().startswith("<?xml")
    with pytest.raises(UsageError, match="unknown kind of picture"):
        shop("job", "trend", "S9", "--chart", tmp_path / "t.gif")


def test_a_fact_of_the_complaint_that_the_bench_knows_too_is_told(shop):
    shop("job", "new", "B1", "--complaint", "draws bar oil, idles high")
    shop("job", "add", "B1", *BEFORE, *LIMIT, "--no-report")
    place = json.loads((shop.root / "B1" / "job.json").read_text())["entries"][1]["place"]
    assert set(place["answers"]) == {"bar oil vanishes and it smokes", "idles high or comes down slowly"}
    assert "Counted in: " in shop("job", "show", "B1")[1]


def test_suspects_take_a_fact_by_either_name(shop):
    by_own, by_bench = (shop("suspects", "--seen", name, "--json")[1] for name in ("floods", "flooding"))
    assert by_own == by_bench and json.loads(by_own)["seen"] == ["floods"]
    with pytest.raises(UsageError, match="unknown observation 'angle-changes'"):
        shop("suspects", "--seen", "angle-changes")
