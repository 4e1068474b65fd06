"""What a record says of the engine besides its tests: answers to the complaint, and suspects."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from leakdown import __version__
from leakdown.jobs.engine_runs import counted_runs
from leakdown.jobs.record import Job, Note, StoredSuspect, SuspectList
from leakdown.jobs.store import Writing
from leakdown.runs.shows import shown
from leakdown.where.answers import Answers, EngineFacts, all_observations, fact_name, for_suspects
from leakdown.where.complaint_knowledge import complaint_knowledge
from leakdown.where.suspects import Triage


def answers_in_record(job: Job) -> tuple[tuple[str, bool], ...]:
    """(id, seen) of everything that was said, once each, the last word on it."""
    entries: list[SuspectList | Note] = [*job.suspect_lists, *job.notes("note", "repair", "verdict")]
    said: list[tuple[tuple[str, ...], tuple[str, ...]]] = [(understood_in(job), ())]
    said += [(tuple(c.id for c in shown(counted_runs(job))), ())]  # what somebody says goes on top
    said += [(e.seen, e.not_seen) for e in sorted(entries, key=lambda e: e.number)]
    last: dict[str, tuple[str, bool]] = {}
    for seen, not_seen in said:
        last |= {fact_name(i): (i, True) for i in seen} | {fact_name(i): (i, False) for i in not_seen}
    return tuple(last.values())


def understood_in(job: Job) -> tuple[str, ...]:
    """Ids that the complaint's words were taken to say when they were written, or last put right."""
    corrections = [n for n in job.notes("correction") if n.corrects == "complaint"]
    return corrections[-1].seen if corrections else job.engine.understood


def words_of(ids: Iterable[str]) -> tuple[str, ...]:
    """Observations of either kind in words; an id that the tables do not know any more stands for itself."""
    names = {o.id: o.text for o in all_observations()}
    known = complaint_knowledge().complaints
    return tuple(known[i].says if i in known else names.get(i, i) for i in ids)


def answer_words(answers: Answers) -> tuple[str, ...]:
    """Answers in words, as parts of a sentence."""
    known = complaint_knowledge().complaints
    return tuple(known[i].says if seen else f"not so: {known[i].says}" for i, seen in answers.all())


def complaint_answers(job: Job, seen: Sequence[str] = (), not_seen: Sequence[str] = ()) -> Answers:
    """What the record says already of all that `suspects` takes in, and these answers, whose word counts."""
    said = (*answers_in_record(job), *Answers(tuple(seen), tuple(not_seen)).all())
    return for_suspects(said)


def engine_facts(job: Job) -> EngineFacts:
    """Everything of it that `locate` takes in."""
    said = answers_in_record(job)
    found = Answers(*(tuple(i for i, was in said if was is seen) for seen in (True, False)))
    return EngineFacts(found.seen, found.not_seen, job.current.intake, job.current.seal_lips)


def add_suspects(at: Writing, text: str, answers: Answers, found: Triage) -> SuspectList:
    """Write the ranking as it was shown. text: the complaint in words, or "". Raises OutputError."""
    entry = SuspectList(
        number=0,
        at="",
        text=text,
        seen=answers.seen,
        not_seen=answers.not_seen,
        answers=answer_words(answers),
        suspects=tuple(StoredSuspect(s.place, s.name, s.probability, s.leak, s.reasons) for s in found.suspects),
        next_do=found.next_test.do,
        next_why=found.next_test.why,
        plain=found.plain,
        caveat=found.caveat,
        program=__version__,
    )
    return at.add(entry)
