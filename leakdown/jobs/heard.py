"""What a record says of the engine besides its tests: the complaint as understood, answers, observations.

In order, and the last word on a fact counts, whichever of its names it was given by.
"""

from __future__ import annotations

from collections.abc import Iterable

from leakdown.jobs.record import Job, Note, Suspected
from leakdown.where.complaint import all_observations, fact_name, for_suspects
from leakdown.where.complaint_knowledge import complaint_knowledge
from leakdown.where.suspects import Answers

_OBSERVED = ("note", "repair", "verdict")


def said_in(job: Job) -> tuple[tuple[str, bool], ...]:
    """(id, seen) of everything that was said, once each."""
    last: dict[str, tuple[str, bool]] = {}

    def take(seen: tuple[str, ...], not_seen: tuple[str, ...] = ()) -> None:
        for identity, was in (*((i, True) for i in seen), *((i, False) for i in not_seen)):
            last[fact_name(identity)] = (identity, was)

    take(understood_in(job))
    for entry in job.entries:
        if entry in job.suspected or (isinstance(entry, Note) and entry.kind in _OBSERVED):
            assert isinstance(entry, Note | Suspected)
            take(entry.seen, entry.not_seen)
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


def answers_in(job: Job) -> Answers:
    """Everything of it that `suspects` takes in."""
    return for_suspects(said_in(job), complaint_knowledge())
