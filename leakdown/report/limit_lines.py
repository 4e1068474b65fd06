"""Limits as lines in a decay chart: from the hold's start, or where the clock starts, to what must remain."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from leakdown.analysis import Analysis
from leakdown.quantities import PRESSURE_PA
from leakdown.recording import Direction
from leakdown.report.axes import Axes
from leakdown.report.chart_data import LimitLine, Series
from leakdown.words.numbers import number, short


def limit_lines(analyses: Sequence[Analysis], axes: Axes) -> tuple[LimitLine, ...]:
    """One line per different limit: from its start pressure to the level that must remain."""
    lines: dict[tuple[str, str], LimitLine] = {}
    for a in analyses:
        limit = a.verdict.limit if a.verdict else None
        if limit is None or limit.kind != "drop":
            continue
        sign = -1.0 if a.direction == "vacuum" else 1.0
        zero = a.hold.zero.offset_pa if a.hold.zero.source == "measured" else 0.0
        start = abs(a.hold.start_pa) if limit.start_pa is None else limit.start_pa
        begin = _begin_s(a, limit.start_pa, sign, zero)
        if begin is None:
            continue
        remains = max(start - limit.drop_pa, 0.0)
        from_s = max(begin, a.hold.start_s)  # before the hold there is nothing to compare it with
        reached_s = begin + limit.time_s
        if reached_s <= from_s:
            continue
        at_hold = start - (start - remains) * (from_s - begin) / limit.time_s
        y = axes.y(np.array([sign * at_hold + zero, sign * remains + zero]))
        x = axes.x(np.array([from_s, reached_s]), a)
        label = f"limit: {_remaining(remains, axes.unit, a.direction)} left {limit.time_s:g} s later"
        away = a.verdict is not None and a.verdict.word != "pass"
        back = 0.6 * (y[0] - y[1]) if away else 0.0  # its text reaches back along the line
        line = LimitLine(
            (float(x[0]), float(x[1])), (float(y[0]), float(y[1])), label, float(y[1] + back), away
        )
        lines.setdefault((a.direction, limit.text), line)
    return tuple(lines.values())


def _remaining(remains_pa: float, unit: str, direction: Direction) -> str:
    level = f"{short(number(remains_pa / PRESSURE_PA[unit]))} {unit}"
    return f"{level} of vacuum" if direction == "vacuum" else level


def _begin_s(analysis: Analysis, start_pa: float | None, sign: float, zero_pa: float) -> float | None:
    """When the limit's clock starts: as the hold falls through its start pressure.

    A hold that starts lower is carried back along its exponential; None when it has none. A hold that
    never falls so far is compared from its own start.
    """
    hold = analysis.hold
    if start_pa is None:
        return hold.start_s
    if abs(hold.start_pa) < start_pa:
        tau = analysis.time_constant_s
        back_s = tau * math.log(start_pa / abs(hold.start_pa)) if tau and hold.start_pa else math.inf
        return hold.start_s - back_s if back_s <= hold.end_s - hold.start_s else None
    part = analysis.recording.between(hold.start_s, hold.end_s)
    below = np.flatnonzero(sign * (part.pressure_pa - zero_pa) <= start_pa)
    return float(part.time_s[below[0]]) if below.size else hold.start_s


def far_beyond(limits: tuple[LimitLine, ...], series: tuple[Series, ...], within: float) -> bool:
    """Whether a limit is reached later than `within` times the longest hold, or counts from as early."""
    longest = max((float(s.x[-1]) for s in series if s.x.size), default=0.0)
    early = (1.0 - within) * longest
    return any(line.x[1] > within * longest or line.x[0] < early for line in limits)
