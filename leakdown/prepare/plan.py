"""How long to hold so that this limit is decided with this gauge, found before the test is run."""

from __future__ import annotations

import math
from dataclasses import dataclass

from leakdown.errors import UsageError
from leakdown.prepare.holds import CLEARLY_FEWER, Proved, detection_pa_s, ladder, shortest
from leakdown.prepare.rehearsal import Bench, limit_leak, rate_pa_s
from leakdown.prepare.trials import Count, Crew


@dataclass(frozen=True)
class Plan:
    """How long to hold, and what such a test can and cannot see.

    hold_s: None when no hold up to `longest_s` decides the limit with this gauge.
    detection_pa_m3_s, loss_pa_s: smallest leak seen 95 times in 100 by that hold (or the longest), as a
    throughput and as loss of pressure at the quoted pressure. allowed_pa_s: the limit, likewise.
    count: the rehearsed tests of that hold. half_s, half_count: those of half of it, as far as there are
    readings (0 s: only the first). open_s: a longer hold that left more open than this one, if one was met.
    drift_k_s: drift of the gas temperature that looks like half the limit.
    """

    bench: Bench
    hold_s: float | None
    longest_s: float
    detection_pa_m3_s: float
    loss_pa_s: float
    allowed_pa_s: float
    count: Count
    half_s: float
    half_count: Count
    open_s: float | None
    drift_k_s: float
    notes: tuple[str, ...]


LONGEST_S = 1800.0
_NEEDLE_FROM_PA = 500.0
_LONG_S = 600.0
_SETTLING_S = 30.0  # no pass before this (common practice, no source)


def plan(bench: Bench, longest_s: float = LONGEST_S, workers: int | None = None) -> Plan:
    """The shortest hold that decides the bench's limit. Raises UsageError for a test that cannot be.

    workers: processes that rehearse, all cores by default; 1 stays in this process.
    """
    _check(bench)
    allowed = rate_pa_s(bench, limit_leak(bench))
    with Crew(bench, workers) as crew:
        found = shortest(crew, longest_s, allowed)
    detection = detection_pa_s(bench, found.hold_s or ladder(bench, longest_s)[-1])
    drift = 0.5 * allowed * bench.temperature_k / (bench.barometer_pa + bench.sign * bench.quote_pa)
    return Plan(
        bench=bench,
        hold_s=found.hold_s,
        longest_s=longest_s,
        detection_pa_m3_s=detection * bench.volume_m3,
        loss_pa_s=detection,
        allowed_pa_s=allowed,
        count=found.count,
        half_s=found.half_s,
        half_count=found.half_count,
        open_s=found.open_s,
        drift_k_s=drift,
        notes=_notes(bench, found, longest_s, allowed, detection),
    )


def _check(bench: Bench) -> None:
    if bench.inward and bench.start_pa >= bench.barometer_pa:
        raise UsageError(
            f"a vacuum of {bench.start_pa / 1e3:g} kPa is more than the air's {bench.barometer_pa / 1e3:g}",
            remedy="Check the limit's start pressure and the barometer.",
        )
    if bench.resolution_pa > 0.5 * bench.start_pa:
        raise UsageError(
            "the gauge's step is more than half of the test pressure", remedy="Check --resolution."
        )


def _notes(
    bench: Bench, found: Proved, longest_s: float, allowed: float, detection: float
) -> tuple[str, ...]:
    lines = [_gauge_note(bench, found.hold_s, longest_s, allowed, detection)]
    if found.half_count.share > CLEARLY_FEWER:
        lines.append("Half of this hold would often do as well: the rest is for safety.")
    if found.open_s is not None:
        lines.append(
            f"With so few readings a longer hold is not always better: one of {found.open_s:g} s left more "
            "tests undecided. If in doubt, repeat the test."
        )
    if found.hold_s is not None and found.hold_s < _SETTLING_S:
        lines.append(
            f"Hold {_SETTLING_S:g} s all the same before you believe a pass: rubber creeps and gas settles."
        )
    if bench.resolution_pa >= _NEEDLE_FROM_PA:
        lines.append(
            "Note the time at which the needle crosses a mark: that tells more than the mark at a time."
        )
    return tuple(lines)


def _gauge_note(
    bench: Bench, hold_s: float | None, longest_s: float, allowed: float, detection: float
) -> str:
    gauge = "needle gauge" if bench.resolution_pa >= _NEEDLE_FROM_PA else "gauge"
    if hold_s is None:
        sees = f" and sees {60e-3 * detection:.2g} kPa/min at best" if math.isfinite(detection) else ""
        return (
            f"This {gauge} cannot tell half the limit from twice the limit within {longest_s / 60:.0f} min: "
            f"it is read to {bench.resolution_pa / 1e3:.3g} kPa{sees}, the limit allows "
            f"{60e-3 * allowed:.2g} kPa/min. Take a finer gauge or less dead volume."
        )
    if hold_s > _LONG_S:
        return f"A {gauge} can do it, but the hold is long and drift counts: a finer gauge is better."
    return f"A {gauge} read to {bench.resolution_pa / 1e3:.3g} kPa can do it."
