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
