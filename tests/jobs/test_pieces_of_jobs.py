"""Small pieces of a job's room by stand-ins: what is kept of a result, checked again, drawn on the page, told of answers."""

# ruff: noqa: E501  (cases are as long as they are)
from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import Finding
from leakdown.disk import TEMPORARY
from leakdown.errors import UsageError
from leakdown.jobs import results as results_room
from leakdown.jobs.alike import counting_change, last_before, of_the_whole, set_ups
from leakdown.jobs.complaint_answers import (
    add_suspects,
    answer_words,
    answers_in_record,
    complaint_answers,
    engine_facts,
    understood_in,
    words_of,
)
from leakdown.jobs.engine_run import EngineRun
from leakdown.jobs.engine_runs import add_run
from leakdown.jobs.job_verdict import job_verdict, last_finding, since_the_repair
from leakdown.jobs.lock import _holder
from leakdown.jobs.record import Engine, StoredChange, StoredCurve, StoredRecording
from leakdown.jobs.results import (
    _curve,
    _stored_place,
    change_since,
    place_found,
    settings_of,
    sizes_a_leak,
    with_counting_limit,
    with_shop_air,
)
from leakdown.jobs.store import create, writing
from leakdown.judge.limits import parse_limit
from leakdown.recording import Conditions, Recording
from leakdown.where.answers import Answers
from tests.jobs.records import SEAL, job, note, test_entry

FILE = StoredRecording("p.jpg", "p.jpg", "0" * 64, 3)


def _with(entry: Any, **conditions: Any) -> Any:
    given = entry.inputs
    return replace(entry, inputs=replace(given, conditions=replace(given.conditions, **conditions)))


# ---------------------------------------------------------------- which limit and air are kept


def _recording(**said: Any) -> Recording:
    return Recording(
        np.arange(3.0),
        np.array([40e3, 39e3, 38e3]),
        conditions=Conditions("crankcase", "pressure", **said),
        source="a.csv",
    )


def test_whose_limit_is_kept_with_a_test() -> None:
    plain = test_entry(1).inputs
    given = replace(plain, limit="6 kPa in 60 s", limit_from="given")
    own = _recording(extra=(("limit", "4 kPa in 60 s"),))
    maker = test_entry(1, inputs=replace(plain, limit="5 kPa in 60 s", limit_from="maker", manual_page="12"))
    assert with_counting_limit(plain, _recording(), job(), None) == (plain, "")
    assert with_counting_limit(given, own, job(maker), None) == (given, "")
    kept, said = with_counting_limit(plain, own, job(maker), None)
    assert (kept.limit, kept.limit_from, kept.manual_page, said) == ("4 kPa in 60 s", "file", "", "")
    kept, said = with_counting_limit(plain, _recording(), job(maker), None)
    assert (kept.limit, kept.limit_from, kept.manual_page) == ("5 kPa in 60 s", "maker", "12")
    assert said == "judged by the maker's figure of test 1, 5 kPa in 60 s"
    shop = SimpleNamespace(limit_text=lambda *_: "3 kPa in 60 s", path="s")
    kept, said = with_counting_limit(plain, _recording(), job(), shop)  # type: ignore[arg-type]
    assert (kept.limit, kept.limit_from, said) == ("3 kPa in 60 s", "settings", "")


def test_what_was_fixed_then_is_fixed_again() -> None:
    plain = test_entry(1).inputs
    fixed = settings_of(replace(plain, limit="5 kPa in 60 s", limit_from="maker", quote_pa=30e3, hold_s=(1.0, 9.0)))
    assert fixed.given_limit == parse_limit("5 kPa in 60 s", "job") and (fixed.quote_pa, fixed.hold_s) == (
        30e3,
        (1.0, 9.0),
    )
    assert settings_of(replace(plain, limit="5 kPa in 60 s")).given_limit == parse_limit("5 kPa in 60 s", "given")
    assert settings_of(plain).given_limit is None and settings_of(plain).air_needed_from == "given"
    air = settings_of(replace(plain, air_needed_m3_s=2e-7, air_needed_from="settings"))
    assert (air.air_needed_m3_s, air.air_needed_from) == (2e-7, "settings")
    shop = SimpleNamespace(air_needed_m3_s=3e-7)
    tank = replace(_recording(), conditions=Conditions("tank", "vacuum"))
    kept = with_shop_air(plain, tank, shop)  # type: ignore[arg-type]
    assert (kept.air_needed_m3_s, kept.air_needed_from) == (3e-7, "settings") and with_shop_air(
        plain, tank, None
    ) is plain
    own = replace(plain, air_needed_m3_s=1e-7)
    assert with_shop_air(own, tank, shop) is own  # type: ignore[arg-type]


def test_a_little_curve_is_the_hold_s() -> None:
    t = np.arange(100.0)
    recording = Recording(t, 40e3 - 100.0 * t, conditions=Conditions("crankcase", "pressure"), source="a")

    def of(closed: float, end: float) -> StoredCurve | None:
        return _curve(SimpleNamespace(recording=recording, hold=SimpleNamespace(closed_s=closed, end_s=end)))  # type: ignore[arg-type]

    curve = of(10.0, 90.0)
    assert curve is not None and len(curve.time_s) == len(curve.pressure_kpa) == 32
    assert (curve.time_s[0], curve.time_s[-1], curve.pressure_kpa[0], curve.pressure_kpa[-1]) == (0.0, 80.0, 39.0, 31.0)
    few = of(10.0, 11.0)
    assert few is not None and few.time_s == (0.0, 1.0) and of(10.0, 10.5) is None


def test_what_of_a_place_is_kept() -> None:
    seal, boot = (
        SimpleNamespace(group="shaft-seal", name="shaft seal", probability=0.8),
        SimpleNamespace(group="x", name="x", probability=0.1),
    )
    places = [
        SimpleNamespace(group=g, place=p, name=f"the {p}")
        for g, p in (("x", "a"), ("shaft-seal", "b"), ("shaft-seal", "c"))
    ]
    located: Any = SimpleNamespace(
        groups=[seal, boot], places=places, next_test=SimpleNamespace(do="Do.", why="Why."), headline="H"
    )
    kept = _stored_place(located, ("dies",))
    assert (kept.headline, kept.group, kept.group_name, kept.place, kept.place_name) == (
        "H",
        "shaft-seal",
        "shaft seal",
        "b",
        "the b",
    )
    assert (kept.probability, kept.next_do, kept.next_why, kept.answers) == (0.8, "Do.", "Why.", ("dies",))
    located.groups = [SimpleNamespace(group="other", name="o", probability=0.5)]
    assert _stored_place(located, ()).place == "a"


def test_what_sizes_no_leak_says_nothing_of_place_or_change(tmp_path: Path) -> None:
    vent: Any = SimpleNamespace(findings=(Finding("air-in", "x", "y", instead=True),), recording=_recording())
    hold: Any = SimpleNamespace(findings=(Finding("rig", "x", "y"),), recording=_recording())
    assert sizes_a_leak(hold) and not sizes_a_leak(vent)
    after = test_entry(2, stage="after")
    assert place_found(tmp_path, job(), after, vent) is None is change_since(tmp_path, job(test_entry(1)), after, vent)
    assert (
        change_since(tmp_path, job(test_entry(1)), test_entry(2), hold)
        is None
        is change_since(tmp_path, job(), after, hold)
    )
    with pytest.raises(UsageError, match="no test before the repair is like it: test 1 had other parts"):
        change_since(tmp_path, job(_with(test_entry(1), blocked=("boot",))), after, hold)


def test_the_change_since_the_last_like_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(results_room, "recording_again", lambda folder, test: test.number)
    change = SimpleNamespace(word="smaller", sentence="S", after_over_before=(0.5, 0.4, 0.6))
    monkeypatch.setattr(
        results_room, "compare", lambda before, after, settings: replace_ns(change, sentence=f"S {before}")
    )
    hold: Any = SimpleNamespace(findings=(), recording=_recording())
    kept = change_since(
        tmp_path,
        job(test_entry(1), test_entry(2), test_entry(3, direction="vacuum")),
        test_entry(4, stage="after"),
        hold,
    )
    assert kept == StoredChange(2, "smaller", "S 2", 0.5, 0.4, 0.6)


def test_where_the_tests_of_a_stage_put_the_leak(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The earlier ones of its stage that count, but for the one it takes the place of, and itself."""
    hold: Any = SimpleNamespace(findings=(), recording="now")
    monkeypatch.setattr(results_room, "recording_again", lambda folder, test: test.number)
    monkeypatch.setattr(
        results_room,
        "judged",
        lambda recording, settings: SimpleNamespace(analysis=replace_ns(hold, recording=recording)),
    )
    monkeypatch.setattr(results_room, "fitted_test", lambda one: one.analysis.recording)
    monkeypatch.setattr(results_room, "locate_fitted", lambda tests, facts: (tuple(tests), facts.intake))
    monkeypatch.setattr(results_room, "_stored_place", lambda located, answers: (located, answers))
    told = job(test_entry(1), test_entry(2), test_entry(3, stage="after"), intake="reed", understood=("dies-cap",))
    newest = test_entry(4, corrects=2)
    assert place_found(tmp_path, told, newest, hold) == (((1, "now"), "reed"), words_of(("dies-cap",)))


def test_what_a_killed_writer_left_is_swept(tmp_path: Path) -> None:
    create(tmp_path, "a", Engine())
    left = [tmp_path / "a" / f"{TEMPORARY}x", tmp_path / "a" / "recordings" / f"{TEMPORARY}y"]
    for path in left:
        path.write_text("half")
    with writing(tmp_path, "a") as at:
        assert at.job.reference == "a" and not any(path.exists() for path in left)


def test_who_holds_a_lock(tmp_path: Path) -> None:
    path = tmp_path / ".lock"
    assert _holder(path) == "unknown process"
    for text, said in (("", "unknown process"), (" process 7 \n", "process 7"), ("x" * 90, "x" * 80)):
        path.write_text(text)
        assert _holder(path) == said


def replace_ns(one: Any, **said: Any) -> Any:
    return SimpleNamespace(**(vars(one) | said))


# ---------------------------------------------------------------- alike, verdicts, answers


def test_which_tests_are_alike() -> None:
    whole, part, other = test_entry(1), _with(test_entry(2), blocked=("boot",)), test_entry(3, direction="vacuum")
    found_here = set_ups([whole, part, other])
    assert [found_here[k].without for k in (1, 2, 3)] == [(), ("boot",), ()]
    assert [found_here[k].label for k in (1, 2, 3)] == ["pressure", "pressure, without boot", "vacuum"]
    two = set_ups([_with(whole, blocked=("boot", "impulse")), other])
    assert two[1].label == "pressure, without boot and impulse"
    after = test_entry(4, stage="after")
    before, others = last_before(job(whole, part, other), after)
    assert before == whole and others == (part,) and last_before(job(other), after) == (None, ())
    assert (
        of_the_whole([whole, part]) == [whole]
        and of_the_whole([part]) == [part]
        and of_the_whole([whole, whole]) == [whole] * 2
    )
    change = StoredChange(2, "smaller", "x", 0.1, 0.0, 0.2)
    assert counting_change(job(whole, part, replace(after, change=change)), replace(after, change=change)) is None
    like = replace(after, change=replace(change, against=1))
    assert counting_change(job(whole, part, like), like) == like.change and counting_change(job(after), after) is None
    lost = replace(after, change=replace(change, against=9))
    assert counting_change(job(whole, lost), lost) is None


def test_the_present_state() -> None:
    both = (test_entry(1), test_entry(2, direction="vacuum"))
    part = _with(test_entry(3), blocked=("boot",))
    only = job_verdict(job(part, _with(test_entry(4, direction="vacuum"), includes=("boot", "case"))))
    assert only.circuits[0].missing == ("a pressure test",)
    assert job_verdict(job(*both, part)).word == "pass" and job_verdict(job(*both)).not_tested[0] == "intake"
    repaired = job(*both, note(3, "x", "repair"))
    assert since_the_repair(repaired, both) == [] and job_verdict(repaired).circuits[0].missing == (
        "a test since the repair",
    )
    assert since_the_repair(job(*both), both) == list(both)
    assert last_finding(job(test_entry(1, "fail", place=SEAL), test_entry(2))) == SEAL
    assert (
        last_finding(job(test_entry(1, place=SEAL)))
        is None
        is last_finding(job(test_entry(1, "fail", "after", place=SEAL)))
    )


def test_the_last_word_on_each_fact() -> None:
    told = job(
        note(1, "x", seen=("case-dry",)),
        note(2, "y", not_seen=("case-dry",)),
        understood=("dies-cap",),
        intake="reed",
        seal_lips="in",
    )
    assert dict(answers_in_record(told)) == {"dies-cap": True, "case-dry": False}
    assert understood_in(told) == ("dies-cap",)
    put_right = job(
        *told.entries, note(3, "z", "correction", corrects="complaint", seen=("floods",)), understood=("dies-cap",)
    )
    assert understood_in(put_right) == ("floods",) and dict(answers_in_record(put_right))["floods"] is True
    facts = engine_facts(told)
    assert (facts.seen, facts.not_seen, facts.intake, facts.seal_lips) == (("dies-cap",), ("case-dry",), "reed", "in")
    asked = complaint_answers(told, ("floods",), ("dies-cap",))
    assert asked.seen == ("floods",) and asked.not_seen == ("dies-cap",)
    assert words_of(("unheard-of",)) == ("unheard-of",) and words_of(("dies-cap",)) != ("dies-cap",)
    seen, vain = answer_words(Answers(("dies-cap",), ("floods",)))
    assert seen == words_of(("dies-cap",))[0] and vain == f"not so: {words_of(('floods',))[0]}"
    step = SimpleNamespace(do="Do.", why="why")
    one = SimpleNamespace(place="p", name="n", probability=0.5, leak=True, reasons=("r",))
    triage: Any = SimpleNamespace(suspects=(one,), next_test=step, plain="P", caveat="C")
    at: Any = SimpleNamespace(add=lambda entry: entry)
    kept = add_suspects(at, "it dies", Answers(("dies-cap",), ("floods",)), triage)
    assert (kept.text, kept.seen, kept.not_seen, kept.next_do, kept.next_why) == (
        "it dies",
        ("dies-cap",),
        ("floods",),
        "Do.",
        "why",
    )
    assert (
        kept.answers == (seen, vain)
        and kept.suspects[0].name == "n"
        and kept.suspects[0].reasons == ("r",)
        and kept.plain == "P"
    )


def test_runs_that_are_refused() -> None:
    at: Any = SimpleNamespace(job=job(EngineRun(1, "2026-03-05", 30.0, "died")), add=lambda entry: entry)
    run = EngineRun(0, "", 41.0, "died")
    assert add_run(at, run) == run and add_run(at, replace(run, corrects=1)).corrects == 1
    for name in ("fuel", "fitted", "text"):
        assert add_run(at, replace(run, **{name: "x" * 10_000}))
        with pytest.raises(UsageError, match="longer than 10000 letters"):
            add_run(at, replace(run, **{name: "x" * 10_001}))
    with pytest.raises(UsageError, match="there is no run 2 that counts") as caught:
        add_run(at, replace(run, corrects=2))
    assert "Runs that count: 1." in str(caught.value)
    at.job = job()
    with pytest.raises(UsageError) as none:
        add_run(at, replace(run, corrects=2))
    assert "Runs that count: none yet." in str(none.value)
