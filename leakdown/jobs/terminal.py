"""A job -> lines for a terminal and the JSON object of `job show --json`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from leakdown.jobs.alike import counting_change
from leakdown.jobs.customer_paragraph import headline, paragraphs, rig_remark, word
from leakdown.jobs.engine_run import EngineRun
from leakdown.jobs.job_verdict import job_verdict, last_finding, mechanics_verdict, places_named
from leakdown.jobs.listing import Row
from leakdown.jobs.record import Entry, Job, Note, Photo, SuspectList
from leakdown.jobs.story import Step, story_of
from leakdown.jobs.trend import Visit, change_words, kinds
from leakdown.words.sizes import VERDICT_WORDS, circuit_words
from leakdown.words.wrap import Style, clean, wrapped


def job_object(job: Job) -> dict[str, Any]:
    """Plain dicts, lists, text, numbers and None."""
    verdict, said, place = job_verdict(job), mechanics_verdict(job), last_finding(job)
    return {
        "reference": job.reference,
        "opened": job.opened,
        "engine": asdict(job.current),
        "verdict": verdict.word,
        "headline": headline(job),
        "said_verdict": said.verdict if said else None,
        "circuits": [
            {"circuit": c.circuit, "verdict": c.word, "tests": [t.number for t in c.tests], "missing": list(c.missing)}
            for c in verdict.circuits
        ],
        "not_tested": list(verdict.not_tested),
        "places": list(places_named(job)),
        "finding": asdict(place) if place else None,
        "summary": list(paragraphs(job)),
        "entries": [_entry(job, e) for e in job.entries],
    }


_OF_TEST = ("number", "at", "kind", "stage", "circuit", "direction", "connection_proven")
_FIGURES = ("leak_rate", "loss_kpa_per_min", "equivalent_hole_mm", "limit")


def _entry(job: Job, entry: Entry) -> dict[str, Any]:
    if isinstance(entry, Note):
        return asdict(entry)
    if isinstance(entry, SuspectList):
        return asdict(entry) | {"kind": entry.kind, "counts": entry in job.suspect_lists}
    if isinstance(entry, Photo | EngineRun):
        return asdict(entry) | {"kind": entry.kind, "counts": not job.withdrawn(entry)}
    found, given, change = entry.result, entry.inputs, counting_change(job, entry)
    return {
        **{name: getattr(entry, name) for name in _OF_TEST},
        **{name: getattr(entry.recording, name) for name in ("file", "sha256")},
        **{name: getattr(found, name) for name in ("verdict", "reason", "size", "program")},
        **{name: found.figures.get(name) for name in _FIGURES},
        "counts": entry in job.counted,
        "limit_from": given.limit_from or None,
        "manual_page": given.manual_page or None,
        "gauge": given.conditions.gauge,
        "blocked": list(given.conditions.blocked),
        "blanks_checked": given.blanks_checked,
        "changed": asdict(change) if change else None,
        "warnings": [asdict(flag) for flag in found.flags],
    }


_SHOWN = ("engine", "serial", "hours", "fuel_mix", "intake")  # of the head


def job_lines(job: Job, width: int, style: Style) -> list[str]:
    """The whole job."""
    verdict, shown = job_verdict(job), word(job)
    lines = [style(clean(f"Job {job.reference}"), "strong"), *_facts(job, width)]
    first = wrapped(f"{shown}  {headline(job)}", width, "", "  ")
    first[0] = first[0].replace(shown, style(shown, verdict.word), 1)
    lines += ["", *first]
    for circuit in verdict.circuits:
        if circuit.missing:
            wanted = f"Still wanted ({circuit.circuit}): {'; '.join(circuit.missing)}."
            lines += wrapped(wanted, width, "  ", "  ")
    if remark := rig_remark(job):
        lines += wrapped(remark, width, "  ", "  ")
    for step in story_of(job):
        lines += ["", *_step(step, width, style)]
    return lines


def _facts(job: Job, width: int) -> list[str]:
    said = {name: getattr(job.current, name) for name in _SHOWN}
    pairs = [f"{n.replace('_', ' ').capitalize()} {v}" for n, v in said.items() if v not in ("", "unknown")]
    return wrapped(clean(", ".join(pairs)), width, "  ", "  ") if pairs else []


def _step(step: Step, width: int, style: Style) -> list[str]:
    number = f"{step.number}  " if step.number is not None else ""
    said = f": {VERDICT_WORDS[step.verdict]}" if step.kind == "test" and step.verdict else ""
    title = f"{number}{step.title}{said}" + (" (does not count)" if step.struck else "")
    lines = wrapped(clean(title), max(20, width - 18), "", "   ")
    day = f"{step.at[:10]} {step.at[11:16]}"
    lines[0] = f"{lines[0]:<{max(20, width - 17)}} {day}".rstrip()
    lines[0] = style(lines[0], "strong")
    lines += [part for line in step.lines for part in _wrapped_lines(line, width)]
    return lines + [style(part, "dim") for part in _wrapped_lines(step.aside, width)] * bool(step.aside)


def _wrapped_lines(text: str, width: int) -> list[str]:
    """A text of several lines keeps them."""
    return [part for line in text.splitlines() or [""] for part in wrapped(clean(line), width, "   ", "   ")]


def row_lines(rows: Sequence[Row], width: int, style: Style) -> list[str]:
    """Two lines a job at most: reference, day, verdict, engine; then complaint and place."""
    first = min(24, max((len(clean(r.reference)) for r in rows), default=0))
    lines = []
    for row in rows:
        word = VERDICT_WORDS.get(row.verdict, "not tested")
        said = f" (mechanic: {VERDICT_WORDS.get(row.said, row.said)})" if row.said else ""
        serial = f", {row.serial}" if row.serial else ""
        head = f"{clean(row.reference):<{first}}  {row.opened[:10]}  "
        tail = f"{word:<15}{clean(row.engine + serial)}{said}"
        line = _cut(head + tail, width)
        lines.append(line.replace(word, style(word, row.verdict or "dim"), 1))
        about = "; ".join(clean(part) for part in (row.complaint, row.places and f"{row.found}: {row.places}") if part)
        if about:
            lines.append(style(_cut(" " * (first + 2) + about, width), "dim"))
    return lines


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 3]}..."


def trend_lines(visits: Sequence[Visit], width: int, style: Style) -> list[str]:
    """A block for each circuit and direction, a line for each visit, and what became of it."""
    lines: list[str] = []
    for (circuit, direction), group in kinds(visits).items():
        lines += [""] * bool(lines) + [style(f"{circuit_words(circuit).capitalize()}, {direction}", "strong")]
        for v in group:
            hours = f", {clean(v.hours)} h" if v.hours else ""
            stage = " after the repair" if v.stage == "after" else ""
            visit = f"{v.at[:10]}  {clean(v.reference)}{hours}{stage}"
            text = f"{visit}: {VERDICT_WORDS[v.verdict]}, {clean(v.size)}"
            lines += wrapped(text, width, "  ", " " * 14)
        if words := change_words(group):
            lines += wrapped(words, width, "  ", "  ")
    return lines
