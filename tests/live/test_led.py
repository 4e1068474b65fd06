"""`leakdown test`: the steps, what counts as done, and one direction led to its page, left and taken up again."""

from __future__ import annotations

import json
import shlex
import subprocess
import sys
from dataclasses import replace

import pytest

from leakdown.circuits import CIRCUITS, circuit
from leakdown.jobs.led_test import circuit_of, next_step, plan_of
from leakdown.judge.limits import parse_limit
from leakdown.judge.settings import Settings
from leakdown.live.bench.states import PressureGuard
from tests.jobs.records import job, note, test_entry
from tests.live.led import gauge, sit


def test_the_steps_come_in_order_and_vacuum_before_soap():
    plan = plan_of(job(), "crankcase")
    assert [step.id for step in plan] == ["rig", "seal", "vacuum", "pressure"]
    assert [step.does for step in plan] == ["look", "look", "record", "record"]
    assert (
        "50 kPa" in plan[2].title
        and "45 kPa" in plan[3].title
        and "6.5 psi" in plan_of(job(), "crankcase", "psi")[3].title
    )
    assert next_step(plan) is plan[0]


@pytest.mark.parametrize("name", CIRCUITS)
def test_every_step_says_why_and_what_to_watch_for(name):
    plan = plan_of(job(), name)
    assert all(step.why and step.mind for step in plan)
    directions = {step.direction for step in plan if step.does == "record"}
    assert directions == {way.direction for way in circuit(name).ways}, "as practice has them"
    assert ("rig" in [step.id for step in plan]) is (name != "rig")


def test_what_the_record_holds_is_done():
    rig = note(1, "stands", seen=("rig-tight",))
    plan = plan_of(job(rig), "crankcase")
    assert plan[0].done and next_step(plan).id == "seal"
    assert plan_of(job(), "crankcase", rig_known="bench-1")[0].done == "rig bench-1, proven"
    vacuum = plan_of(job(rig, test_entry(2, direction="vacuum")), "crankcase")
    assert next_step(vacuum).id == "pressure" and vacuum[2].done.startswith("test 2")
    both = job(rig, test_entry(2, direction="vacuum"), test_entry(3))
    assert next_step(plan_of(both, "crankcase")) is None and circuit_of(both) == "crankcase"
    assert next_step(plan_of(both, "tank")).id == "seal", "another circuit is another test"
    repaired = both.with_entry(note(9, "new seal", "repair"))
    assert next_step(plan_of(repaired, "crankcase")).id == "seal", "after a repair all is tested again"


def test_the_maker_s_figure_of_the_job_goes_to_the_screen():
    entry = test_entry(2)
    figure = "7 kPa in 60 s from 70 kPa"
    own = replace(entry, inputs=replace(entry.inputs, limit=figure, limit_from="maker"))
    step = plan_of(job(own, note(9, "new seal", "repair")), "crankcase")[3]
    assert step.limit == figure and plan_of(job(entry), "crankcase")[3].limit == ""
    told = Settings(job_limit=step.limit).told_limit
    assert told is not None and (told.source, told.start_pa) == ("job", 70e3)
    guard = PressureGuard(circuit("crankcase"), told)
    guard.feed(60e3)  # above common practice's caution, within the maker's
    assert guard.now is None
    assert Settings(limit="6 kPa in 60 s", job_limit=figure).told_limit == parse_limit("6 kPa in 60 s")


def test_without_a_terminal_it_says_what_to_do(tmp_path):
    run = subprocess.run(
        [sys.executable, "-m", "leakdown", "test", "J1"], cwd=tmp_path, stdin=subprocess.DEVNULL, capture_output=True,
        text=True, timeout=60,
    )  # fmt: skip
    assert run.returncode == 2 and "no terminal" in run.stderr and "leakdown log" in run.stderr
    assert len(run.stderr.splitlines()) <= 3 and not list(tmp_path.iterdir())


@pytest.mark.slow
def test_one_direction_is_led_to_its_page(tmp_path):
    """Left before the recording and taken up again: the rig is not asked about twice. Both directions, with the gauge's
    own times: `python -m tests.live.led`, which ends with the page too."""
    with gauge("--target", "20 kPa", "--zero", "1 s", "--fill", "1 s", "--top-up", "0 s", "--seed", "1") as port:
        first = [("known): ", "yard blower\n"), ("crankcase]: ", "float-inlet\n"), ("known): ", "20 cm3\n")]
        answers = [*first, ("both ways? [Y/n]: ", "y\n"), ("to air?", "q\n")]
        left = sit(["test", "J1", "--port", port], answers, tmp_path)
        goes_on = f"leakdown test J1 --port {port} --circuit float-inlet --volume '20 cm3'"
        assert left.status == 0 and f"{goes_on} takes it up again" in left.said
        again = shlex.split(goes_on)[1:]
        answers = [("to air?", "y\n"), ("Start?", "\n"), ("20 s", "q"), ("cracked open?", "y\n")]
        done = sit(again, answers, tmp_path)
    assert done.status == 0 and "The rig first" not in done.said and "yard blower" not in done.said
    assert "report.html" in done.said and (tmp_path / "jobs/J1/report.html").exists()
    assert "unexpected" not in done.said and "q end" in done.screens
    entries = json.loads((tmp_path / "jobs/J1/job.json").read_text())["entries"]
    assert [entry["kind"] for entry in entries] == ["note", "test"] and entries[1]["inputs"]["connection_proven"]
    assert not list((tmp_path / "jobs").glob("*.csv")), "the job has its own copy"
