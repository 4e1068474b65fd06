"""The complaint in a record: understood, ranked, kept as shown, and counted into every later placing."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from leakdown.errors import RecordError, UsageError
from leakdown.jobs.adding import add_note, checked_engine, note_of
from leakdown.jobs.complaint_answers import add_suspects, answers_in_record, complaint_answers, engine_facts
from leakdown.jobs.customer_paragraph import paragraphs
from leakdown.jobs.form import dumped, loaded
from leakdown.jobs.page import job_page
from leakdown.jobs.record import Engine, StoredPlace, StoredSuspect, SuspectList
from leakdown.jobs.store import create, writing
from leakdown.jobs.story import story_of
from leakdown.jobs.terminal import job_lines, job_object
from leakdown.where.answers import Answers, sorted_answers
from leakdown.where.suspects import suspects
from tests.jobs.records import DAY, NASTY, SEAL, job, note, test_entry


def entry(number: int = 1, **changes: object) -> SuspectList:
    """A ranking by hand."""
    ranked = tuple(
        StoredSuspect(f"p{i}", f"place {i}", p, bool(i % 2), ("why",)) for i, p in enumerate((0.6, 0.3, 0.1))
    )
    made = SuspectList(number, DAY.format(2), "", ("below-half-tank",), ("stored",),
                       ("half", "not so: stored"), ranked, "Look.", "it tells", "Test the fuel side.",
                       "practice", "0.1.0")  # fmt: skip
    return replace(made, **changes)


def test_written_and_read_back_alike():
    whole = job(entry(), note(2, "x"), entry(3, text=NASTY), complaint="x", understood=("tipped",))
    assert loaded(dumped(whole), "x") == whole
    placed = job(test_entry(1, place=replace(SEAL, answers=("worse below half a tank",))))
    assert loaded(dumped(placed), "x") == placed


@pytest.mark.parametrize(
    "damage", [{"suspects": 3}, {"suspects": [{"probability": "high"}]}, {"seen": [1]}, {"number": -1}]
)
def test_damage_is_named(damage):
    value = json.loads(dumped(job(entry())))
    value["entries"][0] |= damage
    with pytest.raises(RecordError, match="damaged"):
        loaded(json.dumps(value).encode(), "x")


def test_the_complaint_is_understood_and_kept():
    engine = checked_engine(Engine(complaint="Dies within a minute, does not flood, smells"))
    assert engine.understood == ("dies-at-once",)
    complaint = story_of(job(complaint=engine.complaint, understood=engine.understood))[0]
    assert complaint.lines[1] == "Understood as: starts, runs and dies within a minute or two."


def test_the_last_word_on_a_fact_counts():
    whole = job(
        entry(1, seen=("floods", "below-half-tank")),
        note(2, seen=("angle-changes",), not_seen=("flooding",)),
        note(3, not_seen=("below-half-tank",)),
        understood=("tipped",),
    )
    assert dict(answers_in_record(whole)) == {"tipped": True, "flooding": False, "below-half-tank": False,
                                    "stored": False, "angle-changes": True}  # fmt: skip
    assert complaint_answers(whole) == Answers(("tipped",), ("floods", "below-half-tank", "stored"))
    said = engine_facts(whole)
    bench, heard = sorted_answers(said.seen, said.not_seen)
    assert bench.seen == ("angle-changes",) and bench.not_seen == ("flooding",)
    assert {i for i, _ in heard.all()} == {"tipped", "below-half-tank", "stored"}


def test_answers_add_to_those_in_the_record():
    whole = job(entry(1), understood=("tipped",))
    found = complaint_answers(whole, ("hiss-at-cap", "stored"), ())
    assert found == Answers(("tipped", "below-half-tank", "stored", "hiss-at-cap"))


def test_what_is_withdrawn_counts_no_more_and_stays():
    whole = job(entry(1), note(2, "wrong engine", "withdrawal", corrects="1"))
    assert whole.suspect_lists == () and answers_in_record(whole) == () and engine_facts(whole).seen == ()
    step = story_of(whole)[1]
    assert step.struck and "Does not count: withdrawn." in step.lines


def test_a_complaint_put_right_is_understood_anew(tmp_path):
    create(tmp_path, "J", checked_engine(Engine(complaint="worse below half a tank")))
    with writing(tmp_path, "J") as at:
        add_note(at, note_of("hiss at the cap", corrects="complaint"))
        assert answers_in_record(at.job) == (("hiss-at-cap", True),)
        assert at.job.current.complaint == "hiss at the cap"
        assert "Understood as: air hisses in when the cap is opened." in story_of(at.job)[1].lines


def test_the_ranking_is_kept_as_shown(tmp_path):
    create(tmp_path, "J", Engine())
    answers = Answers(("below-half-tank",), ("stored",))
    found = suspects(answers)
    with writing(tmp_path, "J") as at:
        entry = add_suspects(at, "worse below half", answers, found)
        assert loaded((tmp_path / "J" / "job.json").read_bytes(), "x").entries == (entry,)
    assert [(s.place, s.probability) for s in entry.suspects] == [(s.place, s.probability) for s in found.suspects]
    assert entry.answers == ("worse below half a tank", "not so: stored for months with fuel in it")
    assert entry.plain == found.plain and entry.next_do == found.next_test.do


def test_show_story_page_and_json_tell_it():
    whole = job(entry(1, text="worse low"), complaint="dies")
    text = "\n".join(job_lines(whole, 200, lambda words, _: words))
    assert "1  Suspects, from the complaint" in text and "In words: worse low" in text
    assert "Most likely: place 0 (60 %); place 1 (30 %); place 2 (10 %)." in text
    assert "place 0 (60 %)" in paragraphs(whole)[0]
    page = job_page(whole, {}).replace("\N{NO-BREAK SPACE}", " ")
    assert "Suspects, from the complaint" in page and "place 1 (30 %)" in page
    row = job_object(whole)["entries"][0]
    assert row["kind"] == "suspects" and row["counts"] is True and row["suspects"][0]["probability"] == 0.6
    json.dumps(job_object(whole), allow_nan=False)


def test_the_story_names_the_first_few_suspects_and_sums_up_the_rest():
    many = tuple(StoredSuspect(f"p{i}", f"place {i}", p, True, ()) for i, p in enumerate((0.4, *[0.1] * 6)))
    text = story_of(job(entry(1, suspects=many)))[1].lines[1]
    assert "place 0 (40 %); place 1 (10 %)" in text
    assert 2 <= text.count("; place") <= 5 and "; others together" in text


def test_a_placing_says_what_of_the_complaint_it_counted():
    place: StoredPlace = replace(SEAL, answers=("worse below half a tank",))
    whole = job(test_entry(1, "fail", place=place))
    finding = next(s for s in story_of(whole) if s.kind == "finding")
    assert "Counted in: worse below half a tank." in finding.lines


def test_hostile_words_stay_text():
    page = job_page(job(entry(1, text=NASTY, answers=(NASTY,), plain=NASTY)), {})
    assert "<script>window.ran" not in page and "\x1b" not in page


def test_notes_take_ids_of_both_kinds():
    assert note_of("x", seen=("tipped", "boot-hard")).seen[0] == "tipped"
    with pytest.raises(UsageError, match="unknown observation"):
        note_of("x", seen=("nothing",))


def test_the_story_tells_observations_in_words():
    whole = job(note(1, seen=("flooding", "floods", "gone"), not_seen=("below-half-tank",)))
    lines = story_of(whole)[1].lines
    assert "Seen: the carburettor floods or drips; floods, drips or blackens the plug; gone." in lines
    assert "Looked for, not seen: worse below half a tank." in lines
