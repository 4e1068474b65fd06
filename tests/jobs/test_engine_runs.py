"""Runs in a job: entered, put right, compared, and what they say of the cause."""

from __future__ import annotations

import json
from html import unescape

import pytest

from leakdown.jobs.complaint_answers import complaint_answers
from leakdown.jobs.customer_paragraph import paragraphs
from leakdown.jobs.engine_run import EngineRun
from leakdown.jobs.engine_runs import counted_runs, story_sentence
from leakdown.jobs.form import dumped, loaded
from leakdown.jobs.run_advice import runs_lines, runs_object, why_no_run
from leakdown.jobs.runs_on_page import runs_block, write_runs_picture
from leakdown.jobs.store import folder_of, load
from leakdown.runs.run import Run
from leakdown.runs.shows import contrasts, shown
from leakdown.where.suspects import suspects
from tests.cli.program import leakdown
from tests.jobs.records import NASTY, job, note, test_entry


def _entry(number, ran_s, ended="died", **more):
    return EngineRun(number, "2026-03-05T09:30:00+01:00", float(ran_s), ended, **more)


def _job(before, after=(), **more):
    runs = [_entry(k, t, **more) for k, t in enumerate(before, 1)]
    change = [note(50, "new line", "repair")] if after else []
    late = [_entry(60 + k, t, "stopped" if t >= 240 else "died", **more) for k, t in enumerate(after)]
    return job(*runs, *change, *late)


def test_runs_come_back_from_the_record_as_they_went_in():
    whole = _job([28.0, 41.5], [240.0], fuel="full", warm=False, fitted="old filter", text="idle", started="2026-03-05")
    assert loaded(dumped(whole), "x").engine_runs == whole.engine_runs


def test_a_run_put_right_keeps_its_place_and_the_wrong_one_stays():
    whole = job(_entry(1, 28), _entry(2, 33), note(3, "new line", "repair"), _entry(4, 240), _entry(5, 31, corrects=1))
    whole = job(*whole.entries, _entry(6, 29, corrects=5), note(7, "wrong engine", "withdrawal", corrects="2"))
    assert [(r.ran_s, r.period) for r in counted_runs(whole)] == [(29.0, 0), (240.0, 1)]
    assert len(whole.engine_runs) == 5


def test_the_story_in_one_sentence():
    whole = _job([28, 41, 30, 35, 33], [240, 300, 55, 270])
    assert story_sentence(whole) == (
        "It died after 28 to 41 s five times; since the change (new line) it ran 4 to 5 min until stopped by hand, "
        "three of four times, and died after 55 s once of four times."
    )
    assert story_sentence(job()) == ""


def test_better_or_luck_by_the_exact_permutation():
    found = runs_object(_job([28, 41, 33], [240, 300, 270]))
    assert found["comparison"]["verdict"] == "better" and found["comparison"]["p_value"] == pytest.approx(1 / 20)
    assert [r["stage"] for r in found["runs"]] == ["before"] * 3 + ["after"] * 3
    two = runs_object(_job([28, 41], [240, 300]))["comparison"]
    assert (two["verdict"], two["p_value"]) == ("cannot-say", pytest.approx(1 / 6))
    text = " ".join(runs_lines(_job([28, 41], [240, 300])))
    assert "can never decide" in text and "3 more runs" in text
    assert "2 can never decide" in " ".join(
        runs_lines(job(*(_entry(k, 30) for k in (1, 2, 3)), note(9, "x", "repair")))
    )


def test_several_changes_in_turn_have_more_luck_and_that_is_said():
    first = _job([28, 41, 33], [31, 35, 30])
    third = job(*first.entries, note(80, "new plug", "repair"), *(_entry(80 + k, 280, "stopped") for k in (1, 2, 3)))
    assert "number 2" in (said := " ".join(runs_lines(third))) and "up to 10 of 100" in said  # 1 - 0.95^2 = 9.75 %
    assert "number" not in " ".join(runs_lines(_job([28, 41, 33], [240, 300, 270])))


def _level(below, full, half=()):
    levels = (("quarter", below), ("full", full), ("half", half))
    return [Run(t, "died", fuel) for fuel, times in levels for t in times]


def test_a_fuel_level_that_decides_is_noticed_in_six_clear_runs():
    assert [c.id for c in shown(_level([20, 25, 31], [90, 100, 120]))] == ["below-half-tank"]
    assert [c.id for c in shown(_level([90, 100, 120], [20, 25, 31]))] == ["dies-sooner-full"]
    two = contrasts(_level([20, 25], [90]))
    assert [c.id for c in two] == [""] and two[0].p == pytest.approx(1 / 3)
    assert not contrasts(_level([], [20, 25, 31], [90, 100, 120])) and not contrasts(_level([20, 25, 31], [], [90] * 3))
    assert not shown([Run(t, "died", f, period=p) for t, f, p in ((20, "low", 0), (25, "low", 0), (31, "low", 0))]
                     + [Run(t, "died", "full", period=1) for t in (90, 95, 99)])  # fmt: skip


def test_what_the_runs_show_is_counted_in_by_suspects():
    runs = [_entry(k, t, fuel=f) for k, (t, f) in enumerate(
        [(20, "low"), (25, "low"), (31, "quarter"), (90, "full"), (99, "full"), (80, "full")], 1)]  # fmt: skip
    whole = job(*runs)
    assert "below-half-tank" in complaint_answers(whole).seen
    odds = {s.place: s.probability for s in suspects(complaint_answers(whole)).suspects}
    assert max(odds, key=odds.__getitem__) == "pickup-line-in-tank"
    denied = job(*runs, note(20, "no", not_seen=("below-half-tank",)))
    assert "below-half-tank" in complaint_answers(denied).not_seen
    vent = job(*(_entry(k, t, fuel=f) for k, (t, f) in enumerate([(20, "full")] * 3 + [(90, "low")] * 3, 1)))
    found = {s.place: s.probability for s in suspects(complaint_answers(vent)).suspects}
    assert max(found, key=found.__getitem__) == "tank-vent"


def test_the_throttle_noted_with_runs_that_differ_is_an_observation():
    open_, idle = "full throttle in the cut", "left to idle"
    runs = [_entry(k, t, text=n) for k, (t, n) in enumerate([(20, open_)] * 3 + [(90, idle), (99, idle), (80, idle)])]
    assert "full-throttle-only" in complaint_answers(job(*runs)).seen
    other = [_entry(k, t, text=n) for k, (t, n) in enumerate([(90, open_)] * 3 + [(20, idle), (9, idle), (8, idle)])]
    assert "idle-only" in complaint_answers(job(*other)).seen
    assert not complaint_answers(job(*runs[:2], *runs[3:])).seen  # two against three: p >= 0.1
    both = [_entry(k, 20, text="idled, then full throttle") for k in range(3)] + runs[3:]
    denied = [_entry(k, 20, text="not at full throttle") for k in range(3)] + runs[3:]
    assert not complaint_answers(job(*both)).seen and not complaint_answers(job(*denied)).seen


def test_the_same_time_and_a_restart_at_once_speak_of_the_supply():
    note_ = "restarted at once"
    alike = [_entry(k, t, text=note_) for k, t in enumerate([40, 41, 46])]
    assert complaint_answers(job(*alike)).seen == ("same-time-restarts",)
    assert "40 s, 41 s, 46 s" in shown(counted_runs(job(*alike)))[0].reason
    for others in (
        [_entry(k, t, text=note_) for k, t in enumerate([40, 41, 60])],  # not the same time
        alike[:2],
        [_entry(k, 40, text="would not restart at once") for k in range(3)],
        [*alike, _entry(9, 90, "stopped")],  # it can do better
    ):
        assert not complaint_answers(job(*others)).seen
    assert complaint_answers(job(*alike, _entry(9, 30, "stopped"))).seen
    # after a change that cured it the old runs still say what it was
    assert complaint_answers(job(*alike, note(8, "new filter", "repair"), _entry(9, 300, "stopped"))).seen


def test_no_run_is_proposed_before_a_leak_test_when_it_runs_lean():
    lean = note(9, "races", seen=("high-idle",))
    assert why_no_run(job(_entry(1, 30), lean)) and not why_no_run(job(_entry(1, 30)))
    text = " ".join(runs_lines(job(_entry(1, 30), lean)))
    assert "Leak test first" in text and "Cheapest" not in text
    tests = [test_entry(2), test_entry(3, direction="vacuum")]
    assert not why_no_run(job(*tests, _entry(1, 30), lean))
    assert why_no_run(job(test_entry(2, "fail"), _entry(1, 30), lean))


def test_cooling_before_refuelling_is_counted_in_the_cost():
    runs = [_entry(1, 30, fuel="low"), _entry(2, 60, fuel="full")]
    text = " ".join(runs_lines(job(*runs)))
    assert "about 17 min with 10 min cooling" in text  # 2 and 2 more of 45 s, a minute each, and 10
    assert "cool 10 minutes" in text


@pytest.mark.slow
def test_the_commands_on_a_folder(tmp_path):
    def say(*words, status=0):
        done = leakdown("job", *words, "--folder", str(tmp_path))
        assert done.status == status, done.err
        return done

    say("new", "R1")
    first = say("run", "R1", "28 s", "--ended", "died", "--fuel", "full", "--cold", "--with", "old line")
    assert "cool 10 minutes" in first.err
    second = say("run", "R1", "1:20", "--ended", "died")
    assert "cool 10 minutes" not in second.err
    say("run", "R1", "--ended", "would-not-start")
    assert "no unit" in say("run", "R1", "45", "--ended", "died", status=2).err
    assert "--ended" in say("run", "R1", "45 s", status=2).err
    assert "no run 9" in say("run", "R1", "45 s", "--ended", "died", "--instead-of", "9", status=2).err
    say("run", "R1", "30 s", "--ended", "died", "--instead-of", "2")
    found = json.loads(say("runs", "R1", "--json").out)
    assert [r["ran_s"] for r in found["runs"]] == [28.0, 30.0, 0.0]
    assert found["runs"][0] | {"number": 1} == {
        "number": 1, "ran_s": 28.0, "ended": "died", "fuel": "full", "warm": False, "with": "old line",
        "note": None, "stage": "before", "period": 0,
    }  # fmt: skip
    assert load(folder_of(tmp_path, "R1")).entries[-1].corrects == 2
    assert "Run of the engine" in say("show", "R1").out
    assert say("check", "R1").status == 0


def test_the_page_has_the_chart_of_the_runs_and_the_sentence(tmp_path):
    whole = _job([28, 41, 33], [240, 300, 270], fuel="half")
    block = runs_block(whole)
    assert block.count("<svg") == 1 and "<script" not in block and "new line" in block
    assert story_sentence(whole) in unescape(block) and "Better" in block
    assert story_sentence(whole) in paragraphs(whole)
    write_runs_picture(tmp_path, whole)
    assert (tmp_path / "runs.png").read_bytes().startswith(b"\x89PNG")
    assert runs_block(job()) == ""
    nasty = job(_entry(1, 30, fuel=NASTY, fitted=NASTY, text=NASTY), note(2, NASTY, "repair"), _entry(3, 50))
    assert "<script" not in runs_block(nasty) and "<img" not in runs_block(nasty)
