"""Every line of a job's page and of its lists; and what may not go in."""

# ruff: noqa: E501  (sentences are as long as they are)
from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from leakdown.errors import InputError, UsageError
from leakdown.jobs.adding import (
    LONGEST_TEXT,
    _refuse_the_same_bytes,
    _tried,
    add_note,
    checked_engine,
    note_of,
    stage_named,
)
from leakdown.jobs.led_test import circuit_of, next_step, plan_of
from leakdown.jobs.listing import Row, Wanted, harmless, listing, matches, row_of
from leakdown.jobs.page import _head, _steps, _told
from leakdown.jobs.record import Engine, Job, Photo
from leakdown.jobs.story import Step
from leakdown.jobs.terminal import _cut, _facts, _step, job_lines, job_object, row_lines, trend_lines
from leakdown.jobs.tests_on_page import _conditions, _limit, warnings
from leakdown.jobs.trend import Visit, change_words, kinds
from tests.jobs.records import SEAL, found, full_job, job, note, test_entry
from tests.jobs.test_words_of_jobs import COLD, _run, _suspects

# ---------------------------------------------------------------- terminal and page


def _plain(text: str, *_: object) -> str:
    return text


STYLE: Any = _plain


def test_a_step_on_the_terminal() -> None:
    step = Step("test", "2026-03-01T09:30:00+01:00", "Crankcase", ("one", "two\nthree"), 4, "fail", True, "aside")
    lines = _step(step, 60, STYLE)
    assert lines[0] == f"{'4  Crankcase: FAIL (does not count)':<43} 2026-03-01 09:30"
    assert lines[1:] == ["   one", "   two", "   three", "   aside"]
    bare = _step(Step("verdict", "2026-03-01T09:30", "Verdict", (), None, "pass"), 60, STYLE)
    assert bare == [f"{'Verdict':<43} 2026-03-01 09:30"]
    without = _step(Step("test", "2026-03-01T09:30", "Crankcase", (), 4), 60, STYLE)
    assert without == [f"{'4  Crankcase':<43} 2026-03-01 09:30"]
    narrow = _step(Step("note", "2026-03-01T09:30", "N" * 12 + " word", ()), 20, STYLE)
    assert narrow == [f"{'N' * 12 + ' word':<20} 2026-03-01 09:30"]
    assert _cut("abcdef", 6) == "abcdef" and _cut("abcdefg", 6) == "abc..."


def test_a_whole_job_on_the_terminal() -> None:
    lines = job_lines(job(test_entry(1), hours="12", intake="reed"), 80, STYLE)
    assert lines[0] == "Job 2026-017" and lines[1] == "  Engine Pump 40, Serial P-1, Hours 12, Intake reed"
    assert lines[2] == "" and lines[3].startswith("CANNOT SAY YET  No test is over its limit")
    assert lines[4].startswith("  Still wanted (crankcase): a vacuum test.")
    assert _facts(Job("x", "", Engine()), 80) == []
    rig = "\n".join(job_lines(job(test_entry(1, "fail", circuit="rig")), 200, STYLE))
    assert "  The test rig itself did not hold" in rig


def test_the_object_of_a_job() -> None:
    told_job = full_job()
    whole = job_object(told_job.with_entry(_run(7)).with_entry(Photo(8, "", COLD)).with_entry(_suspects(9)))
    assert (whole["verdict"], whole["said_verdict"], whole["places"]) == ("pass", "pass", ["seal, drive side"])
    assert whole["circuits"] == [{"circuit": "crankcase", "verdict": "pass", "tests": [4, 5], "missing": []}]
    assert [e["kind"] for e in whole["entries"]] == [
        "test",
        "test",
        "repair",
        "test",
        "test",
        "verdict",
        "run",
        "photo",
        "suspects",
    ]
    first = whole["entries"][0]
    assert first["counts"] and first["limit_from"] is None and first["manual_page"] is None and first["blanks_checked"]
    assert (
        first["gauge"] == "gauge 1"
        and first["blocked"] == []
        and first["changed"] is None
        and len(first["warnings"]) == 2
    )
    assert whole["entries"][3]["changed"]["against"] == 1 and whole["finding"]["group"] == "shaft-seal"
    assert [whole["entries"][k]["counts"] for k in (6, 7, 8)] == [True, True, True]
    gone = told_job.with_entry(_run(7)).with_entry(note(8, "no", "withdrawal", corrects="7")).with_entry(_suspects(9))
    gone = gone.with_entry(note(10, "no", "withdrawal", corrects="9"))
    assert [e["counts"] for e in job_object(gone)["entries"] if e["kind"] in ("run", "suspects")] == [False, False]
    assert job_object(job())["finding"] is None and job_object(job())["said_verdict"] is None


ROW = Row("2026-017", "2026-03-01T09:30", "2026-03-02", "Pump 40", "P-1", "12", "dies", "seal", "pass", "", "found", 2)


def test_rows_on_the_terminal() -> None:
    first, second = row_lines([ROW], 100, STYLE)
    assert first == f"2026-017  2026-03-01  {'PASS':<15}Pump 40, P-1" and second == "          dies; found: seal"
    said, *_ = row_lines([replace(ROW, said="fail", serial="", verdict="", reference="x")], 100, STYLE)
    assert said == f"x  2026-03-01  {'not tested':<15}Pump 40 (mechanic: FAIL)"
    assert len(row_lines([replace(ROW, complaint="", places="")], 100, STYLE)) == 1 and row_lines([], 100, STYLE) == []
    long = row_lines([replace(ROW, reference="r" * 30), ROW], 40, STYLE)
    assert all(len(line) <= 40 for line in long) and long[0].startswith("r" * 30)
    assert row_lines([ROW, replace(ROW, reference="r" * 30)], 100, STYLE)[0].startswith(f"{'2026-017':<24}  2026")


def test_a_trend_on_the_terminal() -> None:
    visit = Visit("a", "2026-03-01T09:30", "12", "crankcase", "vacuum", "before", "fail", "leak 7", None)
    later = replace(visit, reference="b", at="2026-04-01", hours="", stage="after", verdict="pass")
    lines = trend_lines([visit, later, replace(visit, direction="pressure")], 80, STYLE)
    assert lines[0] == "Crankcase, vacuum" and lines[1] == "  2026-03-01  a, 12 h: FAIL, leak 7"
    assert lines[2] == "  2026-04-01  b after the repair: PASS, leak 7" and lines[3].startswith(
        "  Over the visits: not comparable"
    )
    assert lines[4:6] == ["", "Crankcase, pressure"] and list(kinds([visit, replace(visit, without=("boot",))])) == [
        ("crankcase", "vacuum"), ("crankcase", "vacuum, without boot")
    ]  # fmt: skip
    assert change_words([visit, visit]) == ""


def test_steps_and_head_of_the_page() -> None:
    told_job = job(
        test_entry(1, "fail"), test_entry(2, corrects=1), note(3, "fine", "verdict", verdict="pass"), note(4)
    )
    looks = {step.number: (css, shown) for step, css, shown in _steps(told_job)}
    assert looks[1] == ("test fail struck", "FAIL") and looks[2] == ("test pass", "PASS")
    assert looks[3] == ("own pass", "") and looks[4] == ("note", "") and looks[None] == ("complaint", "")
    head = _head(job(hours="12", fuel_mix="1:50", intake="reed", complaint="dies", parts_changed=("a", "b")))
    assert head == [("Engine", "Pump 40"), ("Serial", "P-1"), ("Hours", "12"), ("Fuel mix", "1:50"), ("Intake", "reed"),
                    ("Changed before", "a; b")]  # fmt: skip
    assert _told(told_job)["own_verdict"] == ("PASS", "fine") and _told(job())["own_verdict"] is None
    assert _told(job(test_entry(1, "fail", circuit="rig")))["remarks"] and _told(job())["remarks"] == []


def test_conditions_of_tests_side_by_side() -> None:
    given = test_entry(1).inputs
    other = replace(given, conditions=replace(given.conditions, blocked=("boot",), note="warm"), blanks_checked=False)
    unproven = replace(found("pass", "crankcase", "pressure", 0.01), detected=False)
    second = test_entry(2, inputs=replace(other, connection_proven=False), result=unproven)
    rows = {what: [facts[0].shown if hasattr(facts[0], "shown") else str(facts[0]) for facts in cells]
            for what, cells in _conditions([test_entry(1), second]).items()}  # fmt: skip
    assert list(rows) == ["Limit", "Blanked off", "Gauge", "Connection", "Blanks and plugs", "Note"]
    for what, one, two in (("Connection", "proven", "not proven"), ("Blanks and plugs", "checked", "not checked")):
        assert one in rows[what][0] and two not in rows[what][0] and two in rows[what][1]
    assert "boot" in rows["Blanked off"][1] and "warm" in rows["Note"][1]


def test_whose_limit_stands_beside_a_test() -> None:
    def said(source: str | None, **more: Any) -> str:
        result = found("pass", "crankcase", "pressure", 0.01)
        limit = {"text": "7 kPa in 60 s"} | ({"source": source} if source else {})
        inputs = replace(test_entry(1).inputs, **more)
        return _limit(
            test_entry(1, result=replace(result, figures=dict(result.figures) | {"limit": limit}), inputs=inputs)
        )

    assert said(None) == said("practice") == said("strange") == "7 kPa in 60 s (common practice)"
    assert said("file") == "7 kPa in 60 s (the file's own)"
    assert said("job", limit_from="maker", manual_page="12") == "7 kPa in 60 s (the maker's, manual page 12)"
    assert said("job", limit_from="maker") == "7 kPa in 60 s (the maker's)"
    none = replace(found("pass", "crankcase", "pressure", 0.01), figures={})
    assert _limit(test_entry(1, result=none)) == "none"
    warned = warnings(job(test_entry(1), test_entry(2)), {})
    assert warned == ["Tests 1, 1, 2, 2: The barometer was taken as 101.3 kPa; give the bench's."]


# ---------------------------------------------------------------- what goes in


def test_which_notes_can_be_meant() -> None:
    assert note_of("x").kind == "note" and note_of("x", repair=True).kind == "repair"
    said = note_of("x", verdict="fail", place="p", seen=("case-dry",), not_seen=("case-wet",))
    assert (said.kind, said.verdict, said.place, said.seen, said.not_seen) == (
        "verdict",
        "fail",
        "p",
        ("case-dry",),
        ("case-wet",),
    )
    assert note_of("x", corrects=" fuel-mix ").corrects == "fuel_mix" and note_of("x", withdraws=3).corrects == "3"
    assert note_of("x", withdraws=3).kind == "withdrawal" and note_of("x", corrects="1").kind == "correction"
    with pytest.raises(UsageError, match="a note is one of repair, verdict, not several"):
        note_of("x", repair=True, verdict="pass")
    with pytest.raises(UsageError, match="--verdict 'good' is unknown"):
        note_of("x", verdict="good")
    with pytest.raises(UsageError, match="unknown observation"):
        note_of("x", not_seen=("nonsense",))


def _writing(told_job: Job) -> Any:
    return SimpleNamespace(job=told_job, add=lambda entry: entry)


def test_notes_that_are_refused() -> None:
    at = _writing(job(test_entry(1), note(2)))
    assert add_note(at, note(0, "x" * LONGEST_TEXT)).text
    for bad, what in (
        (note(0, "  "), "the text is empty"),
        (note(0, "x" * (LONGEST_TEXT + 1)), "longer than 100000 letters"),
        (note(0, "x", "withdrawal", corrects="2"), "there is no test 2 to withdraw"),
        (note(0, "x", "withdrawal", corrects="9"), "there is no test 9 to withdraw"),
        (note(0, "x", "correction", corrects="9"), "there is no '9' to correct"),
        (note(0, "up", "correction", corrects="seal_lips"), "--seal-lips 'up' is not known"),
    ):
        with pytest.raises(UsageError, match=what):
            add_note(at, bad)
    assert add_note(at, note(0, "x", "withdrawal", corrects="1")).corrects == "1"
    assert add_note(at, note(0, "x", "correction", corrects="2")).corrects == "2"
    heard_again = add_note(
        at, note(0, "there is a hiss when I unscrew the gas cap", "correction", corrects="complaint")
    )
    assert heard_again.seen == ("hiss-at-cap",)
    assert (
        add_note(at, note(0, "there is a hiss when I unscrew the gas cap", "correction", corrects="engine")).seen == ()
    )


def test_stages_and_heads() -> None:
    assert stage_named(None, job()) == "before" and stage_named(None, job(note(1, "x", "repair"))) == "after"
    assert stage_named(" After ", job()) == "after" and stage_named("before", job(note(1, "x", "repair"))) == "before"
    with pytest.raises(UsageError, match="--stage 'later' is neither"):
        stage_named("later", job())
    assert checked_engine(Engine(complaint="there is a hiss when I unscrew the gas cap")).understood == ("hiss-at-cap",)
    with pytest.raises(UsageError, match="--fuel-mix is longer than"):
        checked_engine(Engine(fuel_mix="x" * (LONGEST_TEXT + 1)))
    assert checked_engine(Engine(hours="x" * LONGEST_TEXT))
    with pytest.raises(UsageError, match="--intake 'port'"):
        checked_engine(Engine(intake="port"))


def test_the_same_bytes_only_put_right_what_they_were() -> None:
    from leakdown.disk import digest

    stored = replace(test_entry(1).recording, sha256=digest(b"x"))
    told_job = job(test_entry(1, recording=stored))
    with pytest.raises(
        InputError, match=r"a.csv: is in the job already, byte for byte: test 1, recordings/1.csv"
    ) as caught:
        _refuse_the_same_bytes(told_job, b"x", "a.csv", None, None)
    assert "--corrects 1" in str(caught.value)
    _refuse_the_same_bytes(told_job, b"x", "a.csv", 1, None)
    _refuse_the_same_bytes(told_job, b"x", "a.csv", None, 2)
    _refuse_the_same_bytes(told_job, b"y", "a.csv", None, None)
    with pytest.raises(InputError):
        _refuse_the_same_bytes(told_job, b"x", "a.csv", 3, None)

    remarks: list[str] = []

    def fail(where: str = "") -> None:
        raise InputError("no", where=where)

    assert _tried(fail, "the place", remarks, "f.csv") is None and _tried(fail, "the change", remarks) is None
    assert _tried(lambda: 3, "x", remarks) == 3
    assert remarks == ["the place could not be worked out (f.csv: no)", "the change could not be worked out (no)"]


# ---------------------------------------------------------------- lists and led tests


@pytest.mark.parametrize(
    ("asked", "so"),
    [
        ({}, True), ({"words": ("PUMP", "dies")}, True), ({"words": ("pump", "boot")}, False), ({"words": ("2026-017",)}, True),
        ({"words": ("p-1",)}, True), ({"words": ("SEAL",)}, True), ({"engine": "p-1"}, True), ({"engine": "seal"}, False),
        ({"place": "Seal"}, True), ({"place": "pump"}, False), ({"verdict": "pass"}, True), ({"verdict": "fail"}, False),
        ({"verdict": "none"}, False), ({"serial": " p-1 "}, True), ({"serial": "p"}, False),
    ],
)  # fmt: skip
def test_searches(asked: dict[str, Any], so: bool) -> None:
    assert matches(ROW, Wanted(**asked)) is so
    assert matches(replace(ROW, verdict=""), Wanted(verdict="none"))
    with pytest.raises(UsageError, match="--verdict 'good' is unknown"):
        Wanted(verdict="good")


def test_rows_of_jobs() -> None:
    row = row_of(full_job())
    assert (row.places, row.found, row.verdict, row.said, row.tests) == ("seal, drive side", "found", "pass", "pass", 4)
    assert row.last == "2026-03-07T09:30:00+01:00" and row_of(job()).last == row_of(job()).opened
    likely = row_of(job(test_entry(1, "fail", place=SEAL)))
    assert (likely.places, likely.found, likely.said) == ("seal, drive side", "likely", "") and row_of(
        job()
    ).found == ""
    assert row_of(job()).verdict == "" and row_of(job()).tests == 0


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", "|", "%", "\uff1d", "\uff0b", "\uff0d", "\uff20", " ="])
def test_what_a_spreadsheet_would_reckon_is_text(sign: str) -> None:
    assert harmless(f"{sign}1").startswith("'")
    assert harmless("a=1") == "a=1" and harmless(3) == "3"


def test_a_record_that_is_no_plain_file_is_said(tmp_path: Path) -> None:
    (tmp_path / "a" / "job.json").mkdir(parents=True)
    (tmp_path / "b").mkdir()
    found_here = listing(tmp_path)
    assert found_here.rows == () and [str(t).splitlines()[0] for t in found_here.troubles] == [
        f"{tmp_path / 'a' / 'job.json'}: is not a plain file"
    ]


def test_the_plan_of_a_led_test() -> None:
    plan = plan_of(job(), "crankcase")
    assert [(s.id, s.does, s.done) for s in plan] == [
        ("rig", "look", ""), ("seal", "look", ""), ("vacuum", "record", ""), ("pressure", "record", "")
    ]  # fmt: skip
    assert "50 kPa" in plan[2].title and "55 kPa" in plan[2].mind[0] and plan[2].direction == "vacuum" and plan[0].ask
    assert next_step(plan) == plan[0] and [s.id for s in plan_of(job(), "rig")][0] == "seal"
    assert plan_of(job(), "crankcase", rig_known="bench")[0].done == "rig bench, proven"
    looked = job(
        note(1, "x", seen=("rig-tight",)),
        note(2, "y", not_seen=("rig-tight",)),
        test_entry(3, "fail", direction="vacuum"),
    )
    done = plan_of(looked, "crankcase")
    assert [s.done for s in done] == ["note 2", "test 3", "test 3: fail", ""] and next_step(done) == done[3]
    assert [s.done for s in plan_of(looked.with_entry(note(4, "z", "repair")), "crankcase")] == ["note 2", "", "", ""]
    assert circuit_of(looked) == "crankcase" and circuit_of(job()) is None
    whole = plan_of(looked.with_entry(test_entry(4)), "crankcase")
    assert next_step(whole) is None
    maker = test_entry(5, inputs=replace(test_entry(5).inputs, limit="6 kPa in 60 s", limit_from="maker"))
    limits = {s.id: s.limit for s in plan_of(job(maker), "crankcase")}
    assert limits == {"rig": "", "seal": "", "vacuum": "", "pressure": "6 kPa in 60 s"}
