"""One engine over its visits: the jobs of one serial, how each kind of test came out, and its chart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from leakdown.errors import LeakdownError
from leakdown.jobs.alike import SetUp, set_ups
from leakdown.jobs.job_verdict import RIG
from leakdown.jobs.listing import Wanted, listing, matches
from leakdown.jobs.record import Job, StoredResult, Test
from leakdown.jobs.store import load
from leakdown.quantities import REFERENCE_TEMPERATURE_K, significant, standard_cm3_per_min
from leakdown.report.chart_data import Tone
from leakdown.report.interval_chart import IntervalChart, IntervalRow, log_ticks
from leakdown.words.sizes import circuit_words


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
    without: tuple[str, ...] = ()


def trend(root: Path, serial: str) -> tuple[tuple[Visit, ...], tuple[LeakdownError, ...]]:
    """The last test of each circuit, direction and stage of every job of this serial, by day."""
    found = listing(root)
    jobs, troubles = [], list(found.troubles)
    for row in found.rows:
        if matches(row, Wanted(serial=serial)):
            try:
                jobs.append(load(root / row.reference))
            except LeakdownError as error:
                troubles.append(error)
    jobs.sort(key=lambda job: job.opened)
    return tuple(v for job in jobs for v in _visits(job)), tuple(troubles)


def _visits(job: Job) -> list[Visit]:
    found = set_ups(job.counted)
    last = {(t.stage, found[t.number]): t for t in job.counted if t.circuit != RIG}
    return [_visit(job, t, found[t.number].without) for t in sorted(last.values(), key=lambda t: t.number)]


def _visit(job: Job, test: Test, without: tuple[str, ...]) -> Visit:
    kind, found = (test.circuit, test.direction, test.stage), test.result
    rates = (found.figures.get("leak_rate"), _standard(found))
    return Visit(job.reference, test.at, job.current.hours, *kind, found.verdict, found.brief, *rates, without)


def _standard(result: StoredResult) -> dict[str, float | None] | None:
    """The leak rate as standard cm3/min, at the temperature that the estimate used (20 degC where unsaid)."""
    leak = result.figure("leak_rate")
    if _bounds(leak) is None:
        return None
    said = result.figure("used").get("temperature_degc")
    degc = said.get("value") if isinstance(said, dict) else None
    kelvin = 273.15 + degc if isinstance(degc, int | float) else REFERENCE_TEMPERATURE_K
    sizes = {key: leak.get(f"{key}_pa_m3_s") for key in ("value", "low", "high")}
    return {
        key: standard_cm3_per_min(float(size), kelvin) if isinstance(size, int | float) else None
        for key, size in sizes.items()
    }


def _bounds(leak_rate: object) -> tuple[float, float] | None:
    """Both ends of a stored leak rate, Pa m3/s; None where one is missing."""
    rate = leak_rate if isinstance(leak_rate, dict) else {}
    low, high = rate.get("low_pa_m3_s"), rate.get("high_pa_m3_s")
    return (low, high) if isinstance(low, int | float) and isinstance(high, int | float) else None


def kinds(visits: Sequence[Visit]) -> dict[tuple[str, str], list[Visit]]:
    """Visits by circuit and by direction and parts left out, in order."""
    grouped: dict[tuple[str, str], list[Visit]] = {}
    for visit in visits:
        label = SetUp(visit.circuit, visit.direction, visit.without).label
        grouped.setdefault((visit.circuit, label), []).append(visit)
    return grouped


def change_words(visits: Sequence[Visit]) -> str:
    """Last against first, from their intervals; "" with one job. Both gauges' errors count as in them."""
    if len({visit.reference for visit in visits}) < 2:
        return ""
    first, last = _bounds(visits[0].leak_rate), _bounds(visits[-1].leak_rate)
    if first is None or last is None:
        return "Over the visits: not comparable, a leak rate is missing (give the volume)."
    if last[0] <= first[1] and last[1] >= first[0]:
        return "Over the visits: no change beyond the doubt of the tests."
    became = "has grown" if last[0] > first[1] else "is smaller"
    return f"Over the visits: the leak {became}, beyond the doubt of the tests."


MOST = 12  # visits of one kind: the last ones
_DECADES_FROM = 500.0  # of that ratio: ticks at the powers of ten alone
_LEAST_RATIO = 10.0  # of the axis' ends


def trend_chart(serial: str, visits: Sequence[Visit]) -> IntervalChart | None:
    """A log axis in standard cm3/min; None where no visit has a leak rate (its volume was not given)."""
    rows = [row for group in kinds(visits).values() for row in _rows(group)]
    bounds = [b for row in rows for b in (row.low, row.value, row.high) if b is not None and b > 0.0]
    if not bounds:
        return None
    low, high = 0.6 * min(bounds), 1.7 * max(bounds)
    if high / low < _LEAST_RATIO:
        middle, half = (low * high) ** 0.5, _LEAST_RATIO**0.5
        low, high = middle / half, middle * half
    ticks = log_ticks((low, high), (), decades=high / low >= _DECADES_FROM)
    title, axis = f"Leak over the visits, serial {serial}", "Leak rate (cm3/min at 20 degC, 101.325 kPa), 95 % interval"
    return IntervalChart(title, axis, True, (low, high), tuple((t, f"{t:g}") for t in ticks), tuple(rows))


def _rows(group: Sequence[Visit]) -> list[IntervalRow]:
    sized = [v for v in group if v.leak_cm3_min and (v.leak_cm3_min["high"] or 0.0) > 0.0]
    last = sized[-MOST:]
    cut = f" (the last {MOST} of {len(sized)})" if len(last) < len(sized) else ""
    first = group[0]
    label = SetUp(first.circuit, first.direction, first.without).label
    heading = f"{circuit_words(first.circuit).capitalize()}, {label}{cut}"
    return [_row(v, heading if k == 0 else "") for k, v in enumerate(last)]


def _row(visit: Visit, heading: str) -> IntervalRow:
    leak = visit.leak_cm3_min or {}
    value, low, high = (leak.get(k) for k in ("value", "low", "high"))
    hours = f", {visit.hours} h" if visit.hours else ""
    stage = ", after the repair" if visit.stage == "after" else ""
    size = f"at most {significant(high or 0.0, 2)}"
    if value:
        size = f"{significant(value, 2)} ({significant(low or 0.0, 2)} to {significant(high or 0.0, 2)})"
    label = f"{visit.at[:10]} {visit.reference}{hours}{stage}: {size}"
    tone: Tone = "vacuum" if visit.direction == "vacuum" else "pressure"
    return IntervalRow(label, tone, value or None, low or None, high, heading)
