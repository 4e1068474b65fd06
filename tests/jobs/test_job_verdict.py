"""A pass has to be earned: both directions, connection proven, blanks checked, and after the last repair."""

from __future__ import annotations

from dataclasses import replace

import pytest

from leakdown.jobs.customer_paragraph import headline, paragraphs, word
from leakdown.jobs.job_verdict import entries_in_order, job_verdict, last_finding, places_named
from leakdown.jobs.story import story_of
from tests.jobs.records import SEAL, full_job, job, note, test_entry

P, V = test_entry(1), test_entry(2, direction="vacuum")


def unsaid(test, **changes):
    return replace(test, inputs=replace(test.inputs, **changes), result=replace(test.result, detected=False))


def test_both_directions_proven_and_checked_pass():
    assert job_verdict(job(P, V)).word == "pass"


@pytest.mark.parametrize(
    ("entries", "wanted"),
    [
        ((P,), "a vacuum test"),
        ((V,), "a pressure test"),
        ((P, unsaid(V, connection_proven=False)), "proof that the gauge"),
        ((P, replace(V, inputs=replace(V.inputs, blanks_checked=False))), "a check of the blanks"),
        ((P, test_entry(2, "undecided", direction="vacuum")), "a decision of the vacuum test"),
        ((P, V, note(3, "seal", "repair")), "a test since the repair"),
        ((P, V, note(3, "seal", "repair"), test_entry(4, stage="after")), "a vacuum test"),
        ((P, V, note(3, "a", "withdrawal", corrects="2")), "a vacuum test"),
    ],
)
def test_what_is_missing_for_a_pass_is_said(entries, wanted):
    state = job_verdict(job(*entries))
    assert state.word == "undecided" and any(wanted in m for m in state.circuits[0].missing)
    assert "Not shown yet" in " ".join(paragraphs(job(*entries))) and word(job(*entries)) == "CANNOT SAY YET"


def test_a_leak_that_was_seen_proves_the_connection():
    seen = replace(V, inputs=replace(V.inputs, connection_proven=False))
    assert job_verdict(job(P, seen)).word == "pass"


def test_one_failed_direction_fails_the_engine():
    assert job_verdict(job(P, test_entry(2, "fail", direction="vacuum"))).word == "fail"


def test_a_repair_noted_after_its_retest_stands_before_it():
    late = job(
        test_entry(1, "fail"),
        test_entry(2, stage="after"),
        test_entry(3, stage="after", direction="vacuum"),
        note(4, "new seal", "repair"),
    )
    assert job_verdict(late).word == "pass" and [e.number for e in entries_in_order(late)] == [1, 4, 2, 3]


def test_a_second_repair_needs_tests_of_its_own():
    twice = job(
        test_entry(1, "fail"),
        note(2, "seal", "repair"),
        test_entry(3, stage="after"),
        test_entry(4, stage="after", direction="vacuum"),
        note(5, "boot", "repair"),
    )
    assert job_verdict(twice).circuits[0].missing == ("a test since the repair",)
    assert headline(twice) == "Repaired, and not tested since."


def test_without_the_crankcase_a_pass_says_so():
    line = job(test_entry(1, circuit="fuel-line"), test_entry(2, circuit="fuel-line", direction="vacuum"))
    assert job_verdict(line).word == "pass" and "the crankcase was not tested" in headline(line)
    assert "crankcase" in job_verdict(line).not_tested


def test_corrections_add_and_never_overwrite():
    put_right = job(
        test_entry(1, "fail", direction="vacuum"),
        test_entry(2, direction="vacuum", corrects=1),
        note(3, "P-99", "correction", corrects="serial"),
        note(4, "it was 21 degC", "correction", corrects="2"),
    )
    assert put_right.engine.serial == "P-1" and put_right.current.serial == "P-99"
    assert [t.number for t in put_right.counted] == [2] and len(put_right.tests) == 2
    steps = {s.number: s for s in story_of(put_right)}
    assert steps[1].struck and not steps[2].struck and "Correction: it was 21 degC" in steps[2].lines


def test_the_story_runs_from_complaint_to_verdict():
    kinds = [s.kind for s in story_of(full_job())]
    assert kinds == ["complaint", "test", "test", "finding", "repair", "test", "test", "verdict"]
    text = " ".join(paragraphs(full_job()))
    for said in ("dies after half a minute", "over the limit", "shaft seal: 80 %", "Done: new seal.", "Yes:",
                 "99 % smaller", "Not tested: intake tract", "95 times in 100"):  # fmt: skip
        assert said in text


def test_place_as_the_mechanic_says_or_else_as_the_tests_say():
    assert places_named(full_job()) == ("seal, drive side",)
    found = job(test_entry(1, "fail", place=SEAL))
    assert places_named(found) == ("seal, drive side",) and last_finding(found) == SEAL
    assert last_finding(job(test_entry(1, "pass", place=SEAL))) is None


@pytest.mark.parametrize(
    ("entries", "overtaken"),
    [
        # of several repairs one before the test and one after it are enough
        (((1, "repair"), (2, "repair"), (3, "after"), (4, "after"), (5, "repair")), True),
        (((1, "repair"), (2, "after"), (3, "after"), (4, "repair"), (5, "repair")), True),
        (((1, "repair"), (2, "repair"), (3, "after"), (4, "after")), False),
        (((1, "after"), (2, "after"), (3, "repair"), (4, "repair")), False),  # all noted late
        (((1, "after"), (2, "after")), False),
    ],
)
def test_which_repairs_make_a_test_out_of_date(entries, overtaken):
    directions = iter(("pressure", "vacuum"))
    found = job(
        *(
            note(number, "seal", "repair")
            if kind == "repair"
            else test_entry(number, stage="after", direction=next(directions))
            for number, kind in entries
        )
    )
    state = job_verdict(found)
    assert state.word == ("undecided" if overtaken else "pass") and state.repaired
    assert state.circuits[0].missing == (("a test since the repair",) if overtaken else ())


def test_repaired_is_what_a_note_or_any_test_after_it_says():
    assert not job_verdict(job(P, V)).repaired
    assert job_verdict(job(P, V, test_entry(3, stage="after"))).repaired
    assert job_verdict(job(P, V, note(3, "seal", "repair"))).repaired


def test_each_test_must_have_been_connected_and_blanked():
    """One of two is not enough, whichever it is."""
    for which in (0, 1):
        tests = [P, V]
        tests[which] = unsaid(tests[which], connection_proven=False, blanks_checked=False)
        (circuit,) = job_verdict(job(*tests)).circuits
        assert [m.split(" ")[0:3] for m in circuit.missing] == [["proof", "that", "the"], ["a", "check", "of"]]


def test_the_last_test_of_a_direction_speaks():
    again = job(test_entry(1, "fail"), V, test_entry(3))
    (circuit,) = job_verdict(again).circuits
    assert [t.number for t in circuit.tests] == [3, 2] and circuit.word == "pass"
    assert job_verdict(job(P, V, test_entry(3, "fail"))).word == "fail"


def test_one_circuit_undecided_leaves_the_engine_undecided_and_one_failed_fails_it():
    line = [test_entry(3, circuit="fuel-line"), test_entry(4, circuit="fuel-line", direction="vacuum")]
    state = job_verdict(job(P, V, *line))
    assert state.word == "pass" and state.engine_tested and "crankcase" not in state.not_tested
    assert "rig" not in state.not_tested
    half = job_verdict(job(P, *line))
    assert half.word == "undecided" and [c.word for c in half.circuits].count("pass") == 1
    assert job_verdict(job(P, V, test_entry(3, "fail", circuit="fuel-line"))).word == "fail"
    rig = job_verdict(job(test_entry(1, "fail", circuit="rig")))
    assert rig.word == "undecided" and rig.circuits == () and not rig.engine_tested


def test_one_bad_test_before_the_repair_is_enough_for_a_place():
    mixed = job(test_entry(1, place=SEAL), test_entry(2, "fail", direction="vacuum", place=SEAL))
    assert last_finding(mixed) == SEAL
    after = job(test_entry(1, "fail", stage="after", place=SEAL))
    assert last_finding(after) is None
    none_found = replace(SEAL, group="no-leak-found")
    assert places_named(job(test_entry(1, "fail", place=none_found))) == ()
