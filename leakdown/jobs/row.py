"""A job as one row of a list: what is searched and shown across jobs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

from leakdown.jobs.outcome import places_named, said_verdict
from leakdown.jobs.record import Job
from leakdown.jobs.standing import standing_of


@dataclass(frozen=True)
class Row:
    """verdict: pass, fail, undecided or "" (nothing tested). said: the mechanic's own, or ""."""

    reference: str
    opened: str
    last: str
    engine: str
    serial: str
    hours: str
    complaint: str
    places: str
    verdict: str
    said: str
    tests: int


COLUMNS = tuple(f.name for f in fields(Row))


def row_of(job: Job) -> Row:
    """The row of a job."""
    engine, standing, said = job.current, standing_of(job), said_verdict(job)
    return Row(
        reference=job.reference,
        opened=job.opened,
        last=max((e.at for e in job.entries), default=job.opened),
        engine=engine.engine,
        serial=engine.serial,
        hours=engine.hours,
        complaint=engine.complaint,
        places="; ".join(places_named(job)),
        verdict=standing.word if standing.circuits else "",
        said=said.verdict if said else "",
        tests=len(job.counted),
    )


def row_from(values: Any) -> Row | None:
    """A row out of a cache, or None for anything else."""
    if not isinstance(values, list) or len(values) != len(COLUMNS):
        return None
    kinds = [int if f.name == "tests" else str for f in fields(Row)]
    if not all(type(v) is k for v, k in zip(values, kinds, strict=True)):
        return None
    return Row(*values)


def row_object(row: Row) -> Mapping[str, Any]:
    """The JSON object of `job list --json`."""
    return asdict(row) | {"verdict": row.verdict or None, "said": row.said or None}


@dataclass(frozen=True)
class Wanted:
    """A search. Each text must be found (capitals apart); "" asks nothing. serial: the whole serial."""

    words: tuple[str, ...] = ()
    engine: str = ""
    place: str = ""
    verdict: str = ""
    serial: str = ""


def matches(row: Row, wanted: Wanted) -> bool:
    """Whether a row answers a search."""
    engine = f"{row.engine} {row.serial}".casefold()
    everything = f"{row.reference} {engine} {row.complaint} {row.places}".casefold()
    return (
        all(word.casefold() in everything for word in wanted.words)
        and wanted.engine.casefold() in engine
        and wanted.place.casefold() in row.places.casefold()
        and wanted.verdict in ("", row.verdict or "none")
        and wanted.serial.casefold().strip() in ("", row.serial.casefold().strip())
    )
