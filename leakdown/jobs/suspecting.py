"""The complaint's ranking of suspects as an entry of a record."""

from __future__ import annotations

from collections.abc import Sequence

from leakdown import __version__
from leakdown.jobs.heard import answer_words, answers_in
from leakdown.jobs.record import Job, Ranked, Suspected
from leakdown.jobs.store import Writing, now, plain
from leakdown.where.complaint import for_suspects
from leakdown.where.complaint_knowledge import complaint_knowledge
from leakdown.where.suspects import Answers, Triage


def answers_with(job: Job, seen: Sequence[str], not_seen: Sequence[str]) -> Answers:
    """What the record says already, and these answers, whose word counts."""
    earlier = answers_in(job)
    said = (*earlier.all(), *((i, True) for i in seen), *((i, False) for i in not_seen))
    return for_suspects(said, complaint_knowledge())


def add_suspects(at: Writing, text: str, answers: Answers, found: Triage) -> Suspected:
    """Write the ranking as it was shown. text: the complaint in words, or "". Raises OutputError."""
    entry = Suspected(
        number=at.job.next_number,
        at=now(),
        text=plain(text),
        seen=answers.seen,
        not_seen=answers.not_seen,
        said=answer_words(answers),
        suspects=tuple(Ranked(s.place, s.name, s.probability, s.leak, s.reasons) for s in found.suspects),
        next_do=found.next_test.do,
        next_why=found.next_test.why,
        plain=found.plain,
        caveat=found.caveat,
        program=__version__,
    )
    at.save(at.job.with_entry(entry))
    return entry
