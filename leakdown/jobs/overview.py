"""All jobs on one page: a row each with its little curves, where it stands, and what is still wanted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from markupsafe import Markup

from leakdown.jobs.customer_paragraph import headline, texts_of_people, word
from leakdown.jobs.job_verdict import job_verdict, places_named, places_said
from leakdown.jobs.record import Job, Test
from leakdown.jobs.store import load
from leakdown.jobs.tests_on_page import thumbnail_of
from leakdown.report.page import page
from leakdown.words.sizes import circuit_words
from leakdown.words.wrap import capital

_MOST_CURVES = 2


@dataclass(frozen=True)
class Overview:
    """One row. role: the verdict's look. place: where the fault is, "found" or "likely" before it."""

    reference: str
    day: str
    engine: str
    complaint: str
    role: str
    word: str
    headline: str
    place: str
    wanted: tuple[str, ...]
    curves: tuple[Markup, ...]


def overview_page(root: Path, references: Iterable[str]) -> str:
    """One HTML file without scripts. references: of readable jobs, in the order of the rows. Raises RecordError."""
    jobs = [load(root / reference) for reference in references]
    own = tuple(dict.fromkeys(text for job in jobs for text in texts_of_people(job)))
    rows = [overview(job) for job in jobs]
    counts = {w: sum(row.word == w for row in rows) for w in dict.fromkeys(row.word for row in rows)}
    return page("overview.html", own, rows=rows, counts=counts)


def overview(job: Job) -> Overview:
    """The row of a job."""
    verdict, engine = job_verdict(job), job.current
    places = places_named(job)
    place = f"{'found' if places_said(job) else 'likely'}: {'; '.join(places)}" if places else ""
    wanted = [f"{circuit_words(c.circuit)}: {'; '.join(c.missing)}" for c in verdict.circuits if c.missing]
    return Overview(
        reference=job.reference,
        day=job.opened[:10],
        engine=", ".join(part for part in (engine.engine, engine.serial) if part),
        complaint=engine.complaint,
        role=verdict.word if verdict.circuits else "undecided",
        word=word(job),
        headline=headline(job),
        place=place,
        wanted=tuple(map(capital, wanted)) if verdict.circuits else ("A first test",),
        curves=tuple(thumbnail_of(test) for test in _shown(job)),
    )


def _shown(job: Job) -> list[Test]:
    """The last test of each direction of the circuit that was tested last."""
    counted = [t for t in job.counted if t.result.curve is not None]
    own = [t for t in counted if t.circuit == counted[-1].circuit] if counted else []
    return list({t.direction: t for t in own}.values())[-_MOST_CURVES:]
