"""A job -> the JSON object of `job show --json`. Every number is finite; what is unknown is null."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from leakdown.jobs.outcome import last_finding, places_named, said_verdict
from leakdown.jobs.plainly import headline, paragraphs
from leakdown.jobs.record import Entry, Job, Note, Suspected
from leakdown.jobs.standing import standing_of


def job_object(job: Job) -> dict[str, Any]:
    """Plain dicts, lists, text, numbers and None."""
    standing, said, place = standing_of(job), said_verdict(job), last_finding(job)
    return {
        "reference": job.reference,
        "opened": job.opened,
        "engine": asdict(job.current) | {"parts_changed": list(job.current.parts_changed)},
        "verdict": standing.word,
        "headline": headline(job),
        "said_verdict": said.verdict if said else None,
        "circuits": [
            {
                "circuit": c.circuit,
                "verdict": c.word,
                "tests": [t.number for t in c.tests],
                "missing": list(c.missing),
            }
            for c in standing.circuits
        ],
        "not_tested": list(standing.not_tested),
        "places": list(places_named(job)),
        "finding": asdict(place) if place else None,
        "summary": list(paragraphs(job)),
        "entries": [_entry(job, e) for e in job.entries],
    }


def _entry(job: Job, entry: Entry) -> dict[str, Any]:
    if isinstance(entry, Note):
        return asdict(entry) | {"seen": list(entry.seen), "not_seen": list(entry.not_seen)}
    if isinstance(entry, Suspected):
        return asdict(entry) | {"kind": entry.kind, "counts": entry in job.suspected}
    found = entry.found
    return {
        "number": entry.number,
        "at": entry.at,
        "kind": "test",
        "stage": entry.stage,
        "counts": entry in job.counted,
        "file": entry.kept.file,
        "sha256": entry.kept.sha256,
        "circuit": entry.circuit,
        "direction": entry.direction,
        "verdict": found.verdict,
        "reason": found.reason,
        "size": found.size,
        "leak_rate": found.figures.get("leak_rate"),
        "loss_kpa_per_min": found.figures.get("loss_kpa_per_min"),
        "equivalent_hole_mm": found.figures.get("equivalent_hole_mm"),
        "limit": found.figures.get("limit"),
        "limit_from": entry.said.limit_from or None,
        "manual_page": entry.said.manual_page or None,
        "gauge": entry.said.conditions.gauge,
        "blocked": list(entry.said.conditions.blocked),
        "connection_proven": entry.connection_proven,
        "blanks_checked": entry.said.blanks_checked,
        "changed": asdict(entry.changed) if entry.changed else None,
        "warnings": [{"code": code, "text": text} for code, text in found.flags],
        "program": found.program,
    }
