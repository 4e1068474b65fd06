"""One engine over its visits: the jobs of one serial, and how each kind of test came out every time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from leakdown.errors import LeakdownError
from leakdown.jobs.listing import listing
from leakdown.jobs.record import Job, Test
from leakdown.jobs.row import Wanted, matches
from leakdown.jobs.standing import RIG
from leakdown.jobs.store import load
from leakdown.quantities import REFERENCE_TEMPERATURE_K, standard_cm3_per_min


@dataclass(frozen=True)
class Visit:
    """One test of one visit. leak_cm3_min: value, low, high at 20 degC and 101.325 kPa; None: no volume."""

    reference: str
    at: str
    hours: str
    circuit: str
    direction: str
    stage: str
    verdict: str
    size: str
    leak_rate: dict[str, Any] | None
    leak_cm3_min: dict[str, float | None] | None = None


def trend(root: Path, serial: str) -> tuple[tuple[Visit, ...], tuple[LeakdownError, ...]]:
    """The last test of each circuit, direction and stage of every job of this serial, by day."""
    found = listing(root)
    jobs, troubles = [], list(found.troubles)
    for row in found.rows:
        if not matches(row, Wanted(serial=serial)):
            continue
        try:
            jobs.append(load(root / row.reference))
        except LeakdownError as error:
            troubles.append(error)
    jobs.sort(key=lambda job: job.opened)
    return tuple(v for job in jobs for v in _visits(job)), tuple(troubles)


def _visits(job: Job) -> list[Visit]:
    last: dict[tuple[str, str, str], Test] = {}
    for test in job.counted:
        if test.circuit != RIG:
            last[(test.circuit, test.stage, test.direction)] = test
    return [
        Visit(
            job.reference,
            t.at,
            job.current.hours,
            t.circuit,
            t.direction,
            t.stage,
            t.found.verdict,
            t.found.brief,
            t.found.figures.get("leak_rate"),
            _standard(t.found.figures),
        )
        for t in sorted(last.values(), key=lambda t: t.number)
    ]


def _standard(figures: Mapping[str, Any]) -> dict[str, float | None] | None:
    """The leak rate as standard cm3/min, at the temperature that the estimate used (20 degC where unsaid)."""
    leak = figures.get("leak_rate")
    if not _sized(leak):
        return None
    used = figures.get("used")
    said = used.get("temperature_degc") if isinstance(used, dict) else None
    degc = said.get("value") if isinstance(said, dict) else None
    kelvin = 273.15 + degc if isinstance(degc, int | float) else REFERENCE_TEMPERATURE_K
    sizes = {key: (leak or {}).get(f"{key}_pa_m3_s") for key in ("value", "low", "high")}
    return {
        key: standard_cm3_per_min(float(size), kelvin) if isinstance(size, int | float) else None
        for key, size in sizes.items()
    }


def kinds(visits: Sequence[Visit]) -> dict[tuple[str, str], list[Visit]]:
    """Visits by circuit and direction, in order."""
    grouped: dict[tuple[str, str], list[Visit]] = {}
    for visit in visits:
        grouped.setdefault((visit.circuit, visit.direction), []).append(visit)
    return grouped


def change_words(visits: Sequence[Visit]) -> str:
    """Last against first, from their intervals; "" with one job. Both gauges' errors count as in them."""
    if len({visit.reference for visit in visits}) < 2:
        return ""
    first, last = visits[0].leak_rate, visits[-1].leak_rate
    if not (_sized(first) and _sized(last)):
        return "Over the visits: not comparable, a leak rate is missing (give the volume)."
    a, b = first or {}, last or {}
    if b["low_pa_m3_s"] > a["high_pa_m3_s"]:
        return "Over the visits: the leak has grown, beyond the doubt of the tests."
    if b["high_pa_m3_s"] < a["low_pa_m3_s"]:
        return "Over the visits: the leak is smaller, beyond the doubt of the tests."
    return "Over the visits: no change beyond the doubt of the tests."


def _sized(rate: dict[str, Any] | None) -> bool:
    ends = [rate.get(k) for k in ("low_pa_m3_s", "high_pa_m3_s")] if isinstance(rate, dict) else [None]
    return all(isinstance(end, int | float) for end in ends)
