"""Every line that a record is told in, for the terminal, the page and the customer; and what may not go in."""

# ruff: noqa: E501  (sentences are as long as they are)
from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from leakdown.errors import UsageError
from leakdown.jobs.alike import no_pair_words
from leakdown.jobs.customer_page import _charted, _failed, _word, foot_of, pair_shown, told
from leakdown.jobs.customer_paragraph import (
    _found,
    _result,
    headline,
    lax_words,
    listed,
    paragraphs,
    rig_remark,
    texts_of_people,
    word,
)
from leakdown.jobs.engine_run import EngineRun
from leakdown.jobs.engine_runs import checked_start, ran_s, run_words, runs_of
from leakdown.jobs.record import Photo, StoredChange, StoredFlag, StoredRecording, StoredSuspect, SuspectList
from leakdown.jobs.run_advice import _experiment, _fuel_try, _not_noted, runs_lines, runs_object, why_no_run
from leakdown.jobs.story import Step, story_of, suspect_words
from leakdown.runs.run import Run
from tests.jobs.records import SEAL, found, full_job, job, note, test_entry

COLD = StoredRecording("p.jpg", "p.jpg", "0" * 64, 3)


def _step_of(entry: Any, *more: Any, **head: Any) -> Step:
    return next(step for step in story_of(job(entry, *more, **head)) if step.number == entry.number)


# ---------------------------------------------------------------- the story, step by step


def test_the_complaint() -> None:
    first, *_ = story_of(job(complaint="dies", parts_changed=("line", "cap"), understood=("dies-cap",)))
    assert (first.kind, first.title, first.number, first.at) == (
        "complaint",
        "Complaint",
        None,
        "2026-03-01T09:30:00+01:00",
    )
    assert first.lines[0] == "dies" and first.lines[1].startswith("Understood as: ")
    assert first.lines[2] == "Already changed before it came in: line; cap."
    assert story_of(job())[0].lines == ("No complaint was noted.",)


def test_a_test_in_the_story() -> None:
    plain = _step_of(test_entry(1))
    assert plain.title == "Crankcase, pressure test, before the repair" and plain.verdict == "pass" and not plain.struck
    assert plain.lines == ("The leak is 7 cm3/min.", "3 kPa lost: said at length for a realistic size.")
    assert plain.aside == "recording 1.csv; gauge gauge 1" and plain.kind == "test"
    given = test_entry(1).inputs
    conditions = replace(given.conditions, blocked=("boot",), gauge=None)
    paged = test_entry(1, inputs=replace(given, conditions=conditions, manual_page="p. 12"))
    assert _step_of(paged).aside == "recording 1.csv; blanked off: boot; manual page p. 12"
    twice = _step_of(test_entry(1), test_entry(2, corrects=1), note(3, "was vacuum", "correction", corrects="1"))
    assert twice.struck and twice.lines[-2:] == (
        "Does not count: withdrawn, or corrected by a later test.", "Correction: was vacuum"
    )  # fmt: skip
    change = StoredChange(1, "smaller", "Much smaller.", 0.1, 0.05, 0.2)
    after = test_entry(2, stage="after", change=change)
    assert story_of(job(test_entry(1), after))[-1].lines[-1] == "Much smaller."


def test_when_a_finding_is_told() -> None:
    """After the last test of a stage, and only where something is over its limit."""

    def findings(*entries: Any) -> list[tuple[str, ...]]:
        return [step.lines for step in story_of(job(*entries)) if step.kind == "finding"]

    bad = test_entry(2, "fail", direction="vacuum", place=SEAL)
    assert findings(test_entry(1, place=SEAL), bad) == [(SEAL.headline, "Next: Grease one seal.")]
    assert findings(test_entry(1, place=SEAL)) == [] == findings(test_entry(1, "fail"))
    told = replace(SEAL, answers=("a", "b"))
    assert findings(test_entry(1, "fail", place=told))[0][1] == "Counted in: a; b."
    after = test_entry(3, "fail", "after", place=SEAL)
    assert findings(bad, after) == [(SEAL.headline, "Next: Grease one seal."), (SEAL.headline,)]
    assert findings(test_entry(1, "fail", place=replace(SEAL, next_do=""))) == [(SEAL.headline,)]
    assert findings(test_entry(1, "fail", circuit="rig", place=SEAL)) == []


def test_notes_in_the_story() -> None:
    kinds_of = {
        "note": ("note", "Note"),
        "repair": ("repair", "Repair"),
        "verdict": ("verdict", "The mechanic's verdict: PASS"),
        "withdrawal": ("note", "Entry 1 withdrawn"),
    }
    for kind, (step_kind, title) in kinds_of.items():
        more = {"verdict": "pass"} if kind == "verdict" else {"corrects": "1"} if kind == "withdrawal" else {}
        step = _step_of(note(2, "said", kind, **more), test_entry(1))
        assert (step.kind, step.title, step.lines, step.verdict) == (
            step_kind,
            title,
            ("said",),
            more.get("verdict", ""),
        )
    assert _step_of(note(2, "x", "correction", corrects="fuel_mix")).title == "Correction of fuel mix"
    assert _step_of(note(2, "x", "correction", corrects="1"), test_entry(1)).title == "Correction of entry 1"
    seen = _step_of(note(1, "x", place="the boot", seen=("case-dry",), not_seen=("case-wet",)))
    assert seen.lines[1] == "Found at: the boot." and seen.lines[2].startswith("Seen: ")
    assert seen.lines[3].startswith("Looked for, not seen: ")
    put_right = _step_of(note(1, "x", "correction", corrects="complaint", seen=("dies-cap",)))
    assert put_right.lines[1].startswith("Understood as: ")
    corrected = _step_of(note(1), note(2, "no: y", "correction", corrects="1"))
    assert corrected.lines == ("said", "Correction: no: y")


def _suspects(number: int = 1, **more: Any) -> SuspectList:
    named = tuple(
        StoredSuspect(f"p{k}", f"name {k}", p, True, ()) for k, p in enumerate((0.4, 0.2, 0.15, 0.1, 0.05, 0.04))
    )
    plain: dict[str, Any] = {"text": "it dies", "seen": (), "not_seen": (), "answers": ("a", "b"), "suspects": named,
                             "next_do": "Look.", "next_why": "it tells", "plain": "Worth it.", "caveat": "From memory."}  # fmt: skip
    return SuspectList(number, "2026-03-01T10:00:00", program="0", **(plain | more))


def test_suspects_in_the_story() -> None:
    step = _step_of(_suspects())
    assert step.title == "Suspects, from the complaint" and not step.struck
    assert step.lines[0] == "In words: it dies" and step.lines[1] == "Said: a; b."
    assert step.lines[2].startswith("Most likely: name 0 (40 %); name 1 (20 %)") and step.lines[3] == "Worth it."
    assert step.lines[4:] == ("Next: Look. Why: it tells.", "From memory.")
    bare = _step_of(_suspects(text="", answers=(), suspects=(), next_do="", caveat=""))
    assert bare.lines == ()
    gone = _step_of(_suspects(), note(2, "wrong", "withdrawal", corrects="1"), note(3, "y", "correction", corrects="1"))
    assert gone.struck and gone.lines[-2:] == ("Does not count: withdrawn.", "Correction: y")
    few = _suspects(suspects=_suspects().suspects[:1])
    assert suspect_words(few) == "Most likely: name 0 (40 %)"
    parts = suspect_words(_suspects()).split("; others together ")
    shown = parts[0].count(" (")
    rest = sum(s.probability for s in _suspects().suspects[shown:])
    assert 1 < shown < 6 and parts[1] == f"{100 * rest:.0f} %"


def test_photographs_in_the_story() -> None:
    photo = Photo(1, "2026-03-01T10:00:00", COLD, "the boot", "a split")
    step = _step_of(photo)
    assert (step.title, step.lines, step.aside, step.kind) == (
        "Photograph: the boot",
        ("a split",),
        "photos/p.jpg",
        "photo",
    )
    bare = _step_of(replace(photo, place="", text=""), note(2, "no", "withdrawal", corrects="1"))
    assert (bare.title, bare.lines, bare.struck) == ("Photograph", ("Does not count: withdrawn.",), True)
    assert _step_of(photo, note(2, "z", "correction", corrects="1")).lines == ("a split", "Correction: z")


def _run(number: int, ran: float = 41.0, ended: Any = "died", **more: Any) -> EngineRun:
    return EngineRun(number, f"2026-03-01T10:0{number}:00", ran, ended, **more)


def test_runs_in_the_story() -> None:
    step = _step_of(_run(1, fuel="full", warm=False, fitted="old filter", text="smoked"))
    assert step.lines == ("41 s, died; fuel full, cold; old filter.", "smoked") and step.title == "Run of the engine"
    assert step.at == "2026-03-01T10:01:00" and not step.struck
    started = _step_of(_run(1, started="2026-02-01T08:00:00"))
    assert started.at == "2026-02-01T08:00:00"
    steps = {
        s.number: s for s in story_of(job(_run(1), _run(2, 50.0, corrects=1), note(3, "k", "correction", corrects="2")))
    }
    assert steps[1].struck and steps[1].lines[-1] == "Does not count: withdrawn, or put right by a later entry."
    assert steps[2].lines == ("50 s, died.", "Takes the place of run 1.", "Correction: k") and not steps[2].struck


# ---------------------------------------------------------------- runs


def test_what_a_run_is_in_words() -> None:
    assert run_words(Run(41.0, "died", "half", True, "new line")) == "41 s, died; fuel half, warm; new line"
    assert run_words(Run(41.0, "died", "", None, "")) == "41 s, died"
    assert "41" not in run_words(Run(0.0, "would-not-start", "", None, ""))
    assert ran_s(None, "would-not-start") == 0.0 and ran_s("1:20", "died") == 80.0
    with pytest.raises(UsageError, match="the duration is missing"):
        ran_s(None, "died")
    assert checked_start("") == "" and checked_start("2026-03-05T09:30") == "2026-03-05T09:30:00"
    with pytest.raises(UsageError, match="'soon' is no date and time"):
        checked_start("soon")


def test_runs_that_count_and_their_period() -> None:
    told_job = job(_run(1), _run(2, 50.0), note(3, "new line", "repair"), _run(4, 90.0), _run(5, 60.0, corrects=2),
                   _run(6, 61.0, corrects=5), _run(7, 5.0), note(8, "no", "withdrawal", corrects="7"))  # fmt: skip
    assert [(r.number, r.run.ran_s, r.run.period) for r in runs_of(told_job)] == [
        (1, 41.0, 0),
        (6, 61.0, 0),
        (4, 90.0, 1),
    ]
    rows = runs_object(told_job)["runs"]
    assert [(r["number"], r["stage"], r["period"]) for r in rows] == [
        (1, "before", 0),
        (6, "before", 0),
        (4, "after", 1),
    ]  # type: ignore[attr-defined, index]
    assert rows[0]["fuel"] is None and rows[0]["with"] is None and rows[0]["note"] is None  # type: ignore[index]
    (full,) = runs_object(job(_run(1, fuel="full", warm=False, fitted="old", text="smoked")))["runs"]  # type: ignore[misc]
    assert (full["fuel"], full["warm"], full["with"], full["note"], full["ended"], full["ran_s"]) == (
        "full",
        False,
        "old",
        "smoked",
        "died",
        41.0,
    )
    unrepaired = runs_object(job(_run(1), _run(2)))["runs"]
    assert [r["stage"] for r in unrepaired] == ["before", "before"]  # type: ignore[attr-defined]


def test_what_job_runs_prints() -> None:
    assert runs_lines(job())[0] == "No run is in the record: leakdown job run REF DURATION --ended died."
    lines = runs_lines(job(_run(1, text="smoked"), _run(2, 50.0)))
    assert lines[:2] == ["1  41 s, died (smoked)", "2  50 s, died"] and lines[2].startswith("It died after 41 to 50 s")
    mixed = [Run(41.0, "died", "full", True, ""), Run(50.0, "died", "full", True, "", period=1)]
    assert _not_noted(mixed) == [] and len(_not_noted([replace(mixed[0], fuel=""), mixed[1]])) == 1
    assert len(_not_noted([mixed[0], replace(mixed[1], warm=None)])) == 1
    assert _not_noted([replace(mixed[0], fuel=""), mixed[0]]) == []  # nothing was changed yet


def test_the_next_experiment_while_it_still_dies() -> None:
    died, stopped = Run(60.0, "died", "full", None, ""), Run(60.0, "stopped", "full", None, "")
    assert len(_experiment([died])) == 1 and _experiment([died, stopped]) == []
    assert len(_experiment([replace(stopped, period=0), replace(died, period=1)])) == 1
    low = replace(died, fuel="low", ran_s=30.0)
    lines = _experiment([died, low])
    assert len(lines) == 3
    fuel: Any = SimpleNamespace(first=1, second=2)
    for first, second in ((1, 2), (3, 3), (5, 1)):
        fuel = SimpleNamespace(first=first, second=second)
        said = _fuel_try([died], fuel)
        assert str(max(1, 3 - first)) in said and str(max(1, 3 - second)) in said


def test_when_no_run_is_safe() -> None:
    lean = {"complaint": "idles high", "understood": ("high-idle",)}
    assert why_no_run(job(_run(1))) == ""
    bare = why_no_run(job(**lean))
    assert bare.startswith("the crankcase has no passed leak test, and the engine ")
    failed = why_no_run(job(test_entry(1, "fail"), **lean))
    assert failed.startswith("the crankcase failed its leak test, and the engine ")
    assert why_no_run(job(test_entry(1), test_entry(2, direction="vacuum"), **lean)) == ""
    assert why_no_run(job(test_entry(1), **lean)).startswith("the crankcase has no passed")
    assert runs_lines(job(_run(1), **lean))[-1].count("the crankcase has no passed leak test") == 1


# ---------------------------------------------------------------- the customer


def test_headlines_of_a_job() -> None:
    both = (test_entry(1), test_entry(2, direction="vacuum"))
    assert headline(job()) == "Not tested yet."
    assert headline(job(*both)) == "The crankcase holds, with pressure and with vacuum."
    assert headline(job(test_entry(1), test_entry(2, "fail", direction="vacuum"))) == "The crankcase is over the limit."
    tank = test_entry(3, "fail", circuit="fuel-line")
    assert headline(job(test_entry(1, "fail"), tank)) == "The crankcase and the fuel line are over the limit."
    repaired = headline(job(note(1, "new", "repair"), test_entry(2, "fail", "after")))
    assert repaired == "The crankcase is over the limit after the repair."
    assert headline(job(test_entry(1))) == "No test is over its limit, and a pass is not proven yet."
    assert headline(job(*both, note(3, "new", "repair"))) == "Repaired, and not tested since."
    line = (test_entry(1, circuit="fuel-line"), test_entry(2, direction="vacuum", circuit="fuel-line"))
    assert headline(job(*line)) == "The fuel line holds; the crankcase was not tested."
    assert headline(job(*both, *(replace(t, number=t.number + 2) for t in line))).startswith(
        "The crankcase and the fuel line hold, with"
    )
    words = [word(job()), word(job(*both)), word(job(test_entry(1, "fail"))), word(job(test_entry(1)))]
    assert words == ["NOT TESTED", "PASS", "FAIL", "CANNOT SAY YET"]
    own = [_word(job()), _word(job(*both)), _word(job(test_entry(1, "fail"))), _word(job(test_entry(1)))]
    assert own == ["NOT TESTED YET", "IT HOLDS", "IT DOES NOT HOLD", "NOT SHOWN YET"]


def test_lists_and_lax_passes() -> None:
    assert [listed(["a", "b", "c"][:n]) for n in range(4)] == ["", "a", "a and b", "a, b and c"]
    lax = replace(found("pass", "crankcase", "vacuum", 0.01), flags=(StoredFlag("lax-limit", "lax"),))
    one, other = test_entry(1), test_entry(2, direction="vacuum", result=lax)
    assert (
        lax_words([one]) == ""
        and lax_words([one, other, other]).count("The vacuum test passes only by a lax limit") == 1
    )
    assert headline(job(one, other)).endswith("look for a leak.")
    rig = test_entry(3, "fail", circuit="rig")
    assert rig_remark(job(rig)).startswith("The test rig itself did not hold") and rig_remark(job(one)) == ""
    assert rig_remark(job(rig, test_entry(4, circuit="rig"))) == "" == rig_remark(job(test_entry(3, "fail")))


def test_what_came_in_and_what_was_tested() -> None:
    first = paragraphs(job(complaint="dies"))[0]
    assert first == 'Pump 40 (serial P-1) came in with: "dies". Nothing has been tested yet.'
    assert paragraphs(job(engine="", serial=""))[0].startswith("The engine came in. Nothing")
    assert "By the complaint. Most likely: name 0" in paragraphs(job(_suspects()))[0]
    both = paragraphs(job(test_entry(1), test_entry(2, direction="vacuum"), test_entry(3, circuit="fuel-line")))[0]
    assert "Tested: the crankcase with pressure and vacuum and the fuel line with pressure." in both
    everything = " ".join(paragraphs(full_job()))
    assert (
        "Done: new seal." in everything
        and "Does it hold now? Yes: the crankcase holds under pressure and vacuum, cold" in everything
    )
    unrepaired = " ".join(paragraphs(job(test_entry(1))))
    assert (
        "Nothing has been repaired yet." in unrepaired
        and "Does it hold? Not shown yet for the crankcase. Still wanted: a vacuum" in unrepaired
    )
    assert "A repair was made." in " ".join(paragraphs(job(test_entry(1, stage="after"))))
    failed = " ".join(paragraphs(job(test_entry(1, "fail"), test_entry(2, "fail", direction="vacuum"))))
    assert "No: the crankcase is over the limit under pressure and vacuum." in failed
    done = " ".join(paragraphs(job(note(1, "new seal!", "repair"), note(2, "and  \n boot", "repair"))))
    assert "Done: new seal! and boot." in done


def test_what_was_found() -> None:
    assert _found(job(test_entry(1, stage="after"))) == "" == _found(job(test_entry(1, circuit="rig")))
    one = _found(job(test_entry(1, "fail", place=SEAL)))
    assert one.startswith("The crankcase under pressure is over the limit. The leak is 7 cm3/min.")
    assert one.endswith(f"{SEAL.headline} The ranges in brackets hold the true size 95 times in 100.")
    both = _found(job(test_entry(1), test_entry(2, stage="after", direction="vacuum")))
    assert both.startswith("As it came in: the crankcase under pressure is within the limit.")
    unseen = replace(found("pass", "crankcase", "pressure", None), detected=False)
    assert "brackets" not in _found(job(test_entry(1, result=unseen)))
    placed = _found(job(test_entry(1, "fail"), note(2, "x", place="the boot"), note(3, "y", place="the boot")))
    assert placed.endswith("The mechanic found the fault here: the boot.")
    assert "mechanic" not in _found(job(test_entry(1, "fail", place=SEAL)))
    no_limit = replace(found("undecided", "crankcase", "pressure", 0.01), figures={"circuit": "crankcase"})
    assert _result(test_entry(1, result=no_limit)).startswith(
        "the crankcase under pressure is without a limit to judge by."
    )
    assert "is not decided." in _result(test_entry(1, "undecided"))
    vent = found("fail", "tank", "vacuum", None)
    vent = replace(vent, figures=dict(vent.figures) | {"limit": {"kind": "inflow", "text": "x"}})
    assert "the tank and vent under vacuum is at fault." in _result(test_entry(1, result=vent))
    assert "is as it should be." in _result(test_entry(1, result=replace(vent, verdict="pass")))


def test_the_customer_s_sheet() -> None:
    sheet = {part.heading: part.sentences for part in told(full_job())}
    assert list(sheet) == ["What you told us", "What was wrong", "What was done", "Does it hold now?", "Not tested"]
    assert sheet["What was done"] == ("New seal.",) and sheet["What you told us"] == ("dies after half a minute",)
    assert sheet["What was wrong"] == (
        "The crankcase does not hold under vacuum.", "The fault was found here: seal, drive side."
    )  # fmt: skip
    assert sheet["Does it hold now?"][0].startswith("Yes: the crankcase holds under pressure and vacuum, tested cold.")
    assert sheet["Does it hold now?"][1].startswith("Under pressure: The leak is 99 % smaller")
    empty = {part.heading: part.sentences for part in told(job())}
    assert empty == {"What was done": ("Nothing has been repaired yet.",)}
    likely = {part.heading: part.sentences for part in told(job(test_entry(1, "fail", place=SEAL)))}
    assert likely["What was wrong"][1].startswith("Most likely it is the shaft seal: the tests point there")
    assert likely["Does it hold?"] == ("No: the crankcase is over the limit under pressure.",)
    fine = {part.heading: part.sentences for part in told(job(test_entry(1, place=SEAL)))}
    assert fine["What was wrong"] == ("No test is over its limit.",)
    several = {
        part.heading: part.sentences
        for part in told(job(note(1, "new seal?", "repair"), note(2, "and boot", "repair")))
    }
    assert several["What was done"] == ("New seal?", "And boot.")
    assert {p.heading: p.sentences for p in told(job(test_entry(1, stage="after")))}["What was done"] == (
        "A repair was made.",
    )
    nothing = replace(SEAL, group="no-leak-found")
    assert len({p.heading: p.sentences for p in told(job(test_entry(1, "fail", place=nothing)))}["What was wrong"]) == 1


def test_how_a_failure_is_told_to_a_customer() -> None:
    result = found("fail", "crankcase", "vacuum", 0.05)
    figures = dict(result.figures) | {"start_pressure_kpa": -40.0, "end_pressure_kpa": -30.0}
    failed = test_entry(1, result=replace(result, figures=figures))
    assert _failed(failed) == (
        "The crankcase does not hold under vacuum: shut off, it fell from 40.0 kPa to 30.0 kPa in 60 s, more than is allowed."
    )
    assert _failed(test_entry(1, result=result)) == "The crankcase does not hold under vacuum."
    vent = replace(result, figures=figures | {"limit": {"kind": "inflow"}})
    assert _failed(test_entry(1, result=vent)) == "The leak is 7 cm3/min."


def test_which_tests_are_drawn_for_a_customer() -> None:
    pair = pair_shown(full_job())
    assert [t.number for t in pair] == [2, 5]
    assert (
        _charted(pair)
        == "The crankcase under vacuum, shut off and watched, before and after: the flatter the curve, the tighter."
    )
    assert _charted(pair[:1]) == "The crankcase under vacuum, shut off and watched." and _charted(()) == ""
    assert [t.number for t in pair_shown(job(test_entry(1, "fail"), test_entry(2, direction="vacuum")))] == [1]
    assert [t.number for t in pair_shown(job(test_entry(1), test_entry(2, circuit="rig")))] == [1]
    assert [t.number for t in pair_shown(job(test_entry(2, circuit="rig")))] == [2] and pair_shown(job()) == ()
    assert foot_of(full_job()) == ("Job 2026-017", "Pump 40", "P-1", "2026-03-07") and foot_of(job())[3] == "2026-03-01"


def test_a_test_without_a_like_one_before_it_says_so() -> None:
    other = test_entry(1)
    other = replace(other, inputs=replace(other.inputs, conditions=replace(other.inputs.conditions, blocked=("boot",))))
    after = test_entry(2, stage="after")
    assert no_pair_words(job(other, after), after) == "Not compared: test 1 had other parts of the circuit in it."
    assert no_pair_words(job(after), after) == "" == no_pair_words(job(other, test_entry(2)), test_entry(2))
    assert no_pair_words(job(other, test_entry(3), after), after) == ""


def test_every_text_of_people_is_named() -> None:
    given = test_entry(1).inputs
    conditions = replace(given.conditions, note="N", blocked=("B",), includes=("I",))
    told_job = job(
        test_entry(1, inputs=replace(given, conditions=conditions, manual_page="M")), note(2, "T", place="P"),
        _run(3, fuel="F", fitted="W", text="R"), Photo(4, "", COLD, "Q", "U"), hours="H", parts_changed=("C", "D"),
    )  # fmt: skip
    assert set("NBIMTPFWRQUHCD") | {"2026-017", "1.csv", "gauge 1", "Pump 40", "P-1"} <= set(texts_of_people(told_job))
    assert "" not in texts_of_people(told_job)
