"""Where the limit of a verdict lies on its decay: from where it was counted on the fitted curve to its mark."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Analysis
from leakdown.report.chart_data import Axes, LimitLine, Series
from leakdown.words.numbers import pressure_words
from leakdown.words.signs import signs


def limit_lines(analyses: Sequence[Analysis], axes: Axes) -> tuple[LimitLine, ...]:
    """One line per different limit: from its start pressure to the level that must remain."""
    lines: dict[tuple[str, str], LimitLine] = {}
    for a in analyses:
        limit = a.verdict.limit if a.verdict else None
        if limit is None or limit.kind != "drop":
            continue
        counted = counted_from(a)
        if counted is None:
            continue
        sign = -1.0 if a.direction == "vacuum" else 1.0
        zero = a.hold.zero.known_pa
        from_s = max(counted.from_s, a.hold.closed_s)  # before the valve was shut there is nothing to compare it with
        at_hold = counted.level_pa(from_s)
        y = axes.y(np.array([sign * at_hold + zero, sign * counted.remains_pa + zero])).tolist()
        x = axes.x(np.array([from_s, counted.until_s]), a).tolist()
        if limit.start_pa is None or math.isclose(counted.from_pa, limit.start_pa, rel_tol=0.01):
            brief = pressure_words(counted.remains_pa, axes.unit)
            told = f"{brief}{' of vacuum' if sign < 0.0 else ''} left {limit.time_s:g} s later"
        else:  # its level is not the limit's own
            brief = told = f"{pressure_words(limit.drop_pa, axes.unit)} in {limit.time_s:g} s"
        label, brief = signs(f"limit: {told}"), signs(f"limit: {brief}")
        line = LimitLine((x[0], x[1]), (y[0], y[1]), label, brief)
        lines.setdefault((a.direction, limit.text), line)
    return tuple(lines.values())


@dataclass(frozen=True)
class Counted:
    """A limit as it was counted: from a moment and a magnitude of the fitted curve, Pa, to what must be left."""

    from_s: float
    from_pa: float
    until_s: float
    remains_pa: float

    def level_pa(self, at_s: float) -> float:
        """The straight line between both ends."""
        share = (at_s - self.from_s) / (self.until_s - self.from_s)
        return self.from_pa - share * (self.from_pa - self.remains_pa)


def counted_from(analysis: Analysis) -> Counted | None:
    """Where the verdict counted its limit from; else the hold's own start. None where no mark says what it says."""
    verdict, hold = analysis.verdict, analysis.hold
    if verdict is None or analysis.curve is None:
        return None
    places = [(hold.start_s, abs(hold.start_pa))] if verdict.word in ("pass", "fail") else []
    if verdict.from_s is not None and verdict.from_pa is not None:
        places = [(verdict.from_s, verdict.from_pa), *places]
    time_s, drop_pa = verdict.limit.time_s, verdict.limit.drop_pa
    for begin, start in places:
        counted = Counted(begin, start, begin + time_s, max(start - drop_pa, 0.0))
        far = hold.start_s - begin > hold.end_s - hold.start_s or counted.until_s <= hold.start_s
        if not far and _agrees(analysis, counted):
            return counted
    return None


def _agrees(analysis: Analysis, counted: Counted) -> bool:
    """Whether the fitted curve ends on that side of the mark that the verdict names, where it goes so far."""
    verdict, curve = analysis.verdict, analysis.curve
    if verdict is None or curve is None or counted.until_s > curve.time_s[-1] or verdict.word == "undecided":
        return True
    size = np.abs(curve.pressure_pa - analysis.hold.zero.known_pa)
    left = float(np.interp(counted.until_s, curve.time_s, size))
    return left >= counted.remains_pa if verdict.word == "pass" else left <= counted.remains_pa


def far_beyond(limits: tuple[LimitLine, ...], series: tuple[Series, ...], within: float) -> bool:
    """Whether a limit is reached later than `within` times the longest hold, or counts from as early."""
    longest = max((float(s.x[-1]) for s in series if s.x.size), default=0.0)
    early = (1.0 - within) * longest
    return any(line.x[1] > within * longest or line.x[0] < early for line in limits)
