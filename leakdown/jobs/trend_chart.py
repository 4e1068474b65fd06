"""Visits of one engine -> a chart: the leak of each kind of test, visit below visit, with its interval."""

from __future__ import annotations

from collections.abc import Sequence

from leakdown.jobs.trend import Visit, kinds
from leakdown.quantities import significant
from leakdown.report.chart_data import Tone
from leakdown.report.interval_data import IntervalChart, IntervalRow
from leakdown.words.sizes import circuit_words

MOST = 12  # visits of one kind: the last ones
_STEPS = (1.0, 2.0, 5.0)
_LEAST_DECADES = 10.0


def trend_chart(serial: str, visits: Sequence[Visit]) -> IntervalChart | None:
    """A log axis in standard cm3/min; None where no visit has a leak rate (its volume was not given)."""
    rows = [row for group in kinds(visits).values() for row in _rows(group)]
    bounds = [b for row in rows for b in (row.low, row.value, row.high) if b is not None and b > 0.0]
    if not bounds:
        return None
    low, high = 0.6 * min(bounds), 1.7 * max(bounds)
    if high / low < _LEAST_DECADES:
        middle = (low * high) ** 0.5
        low, high = middle / _LEAST_DECADES**0.5, middle * _LEAST_DECADES**0.5
    return IntervalChart(
        f"Leak over the visits, serial {serial}",
        "Leak rate (cm3/min at 20 degC, 101.325 kPa), 95 % interval",
        True,
        (low, high),
        tuple((t, f"{t:g}") for t in _ticks(low, high)),
        tuple(rows),
    )


def _rows(group: Sequence[Visit]) -> list[IntervalRow]:
    sized = [v for v in group if _drawable(v)]
    last = sized[-MOST:]
    cut = f" (the last {MOST} of {len(sized)})" if len(last) < len(sized) else ""
    first = group[0]
    heading = f"{circuit_words(first.circuit).capitalize()}, {first.direction}{cut}"
    return [_row(v, heading if k == 0 else "") for k, v in enumerate(last)]


def _drawable(visit: Visit) -> bool:
    leak = visit.leak_cm3_min
    return leak is not None and leak["high"] is not None and leak["high"] > 0.0


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


def _ticks(low: float, high: float) -> list[float]:
    steps = _STEPS if high / low < 500.0 else _STEPS[:1]
    every = [step * 10.0**power for power in range(-6, 8) for step in steps]
    return [t for t in every if low <= t <= high]
