"""Analysis -> Chart: which points, spans, marks and limits a decay chart shows. Draws nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Analysis
from leakdown.circuits import Direction
from leakdown.quantities import PRESSURE_PA, significant
from leakdown.report.chart_data import MOST_POINTS, Axes, Chart, LimitLine, Note, Series, Span, Tone, apart, thinned
from leakdown.words.numbers import number, short
from leakdown.words.signs import signs
from leakdown.words.sizes import circuit_words, size_brief, verdict_word


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
        from_s = max(counted.from_s, a.hold.start_s)  # before the hold there is nothing to compare it with
        at_hold = counted.level_pa(from_s)
        y = axes.y(np.array([sign * at_hold + zero, sign * counted.remains_pa + zero])).tolist()
        x = axes.x(np.array([from_s, counted.until_s]), a).tolist()
        if limit.start_pa is None or math.isclose(counted.from_pa, limit.start_pa, rel_tol=0.01):
            level = _level(counted.remains_pa, axes.unit)
            told = f"{level}{' of vacuum' if sign < 0.0 else ''} left {limit.time_s:g} s later"
        else:  # its level is not the limit's own
            told = f"{_level(limit.drop_pa, axes.unit)} in {limit.time_s:g} s"
        label = signs(f"limit: {told}")
        away = a.verdict is not None and a.verdict.word != "pass"
        back = 0.6 * (y[0] - y[1]) if away else 0.0  # its text reaches back along the line
        line = LimitLine((x[0], x[1]), (y[0], y[1]), label, y[1] + back, away)
        lines.setdefault((a.direction, limit.text), line)
    return tuple(lines.values())


def _level(pressure_pa: float, unit: str) -> str:
    return f"{short(number(pressure_pa / PRESSURE_PA[unit]))} {unit}"


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


DENSE_FROM = 80
_PHASE_WORDS = {"stabilise": "settle", "other": ""}  # the others go by their own names


def decay_chart(*analyses: Analysis, names: Sequence[str] = (), limits_within: float = math.inf) -> Chart:
    """The decay of one test, or of several on one chart (pressure and vacuum mirrored, before and after).

    names: what to call each test (default: its direction, earlier tests of a direction "before").
    All tests are drawn in the first one's pressure unit, with their limits unless one is reached later than
    `limits_within` times the longest hold, or counts from as long before it: it would only push the tests
    together. 0 leaves limits out.
    Raises ValueError without a test.
    """
    if not analyses:
        raise ValueError("a chart needs at least one analysis")
    axes = Axes(analyses)
    tones = _tones(analyses)
    labels = list(names) or [_name(a, tone) for a, tone in zip(analyses, tones, strict=True)]
    series = tuple(
        s for a, tone, name in zip(analyses, tones, labels, strict=True) for s in _series(a, axes, tone, name)
    )
    limits = limit_lines(analyses, axes)
    if far_beyond(limits, series, limits_within):
        limits = ()
    x_range, y_range = _ranges(series, limits, axes)
    series = apart(series, y_range)
    only = analyses[0] if axes.alone else None
    return Chart(
        title=_title(analyses),
        subtitle=tuple(
            ("" if axes.alone else f"{name}: {verdict_word(a)}, ") + signs(size_brief(a))
            for a, name in zip(analyses, labels, strict=True)
        ),
        x_title=axes.x_title,
        y_title=axes.y_title,
        x_range=x_range,
        y_range=y_range,
        series=series,
        spans=_spans(only, axes, x_range) if only else (),
        notes=_notes(only, axes) if only else (),
        limits=limits,
        zero_label="open air",
    )


def residual_chart(analysis: Analysis) -> Chart:
    """Readings minus fitted curve, with the curve's 95 % band about zero."""
    axes, tone = Axes([analysis]), analysis.direction
    t, r, curve = analysis.residual_time_s, analysis.residual_pa, analysis.curve
    series: list[Series] = []
    if t.size and curve is not None:
        x, low, high = axes.x(curve.time_s, analysis), curve.low_pa, curve.high_pa
        edges = axes.y(low - curve.pressure_pa), axes.y(high - curve.pressure_pa)
        series.append(Series("band", tone, "95 % band of the fitted decay", x, np.zeros(x.size), *edges))
    if t.size:
        keep = thinned(t, r, MOST_POINTS)
        x, y = axes.x(t[keep], analysis), axes.y(r[keep])
        dense = t.size > DENSE_FROM
        series.append(Series("readings", tone, "reading minus fitted decay", x, y, dense=dense))
    return Chart(
        "How well the curve fits",
        (),
        axes.x_title,
        signs(f"Difference ({axes.unit})"),
        *_ranges(tuple(series), (), axes),
        tuple(series),
        height_ratio=0.2,
    )


def _title(analyses: Sequence[Analysis]) -> str:
    first = analyses[0]
    circuit = circuit_words(first.circuit).capitalize()
    if len(analyses) == 1:
        return f"{circuit}, {first.direction} test: {verdict_word(first)}"
    directions = " and ".join(sorted({a.direction for a in analyses}))
    return f"{circuit}, {directions} tests"


def _tones(analyses: Sequence[Analysis]) -> list[Tone]:
    earlier: dict[Direction, Tone] = {"pressure": "pressure-earlier", "vacuum": "vacuum-earlier"}
    last = {a.direction: i for i, a in enumerate(analyses)}
    return [a.direction if last[a.direction] == i else earlier[a.direction] for i, a in enumerate(analyses)]


def _name(analysis: Analysis, tone: Tone) -> str:
    return f"{analysis.direction} before" if tone.endswith("earlier") else analysis.direction


def _series(analysis: Analysis, axes: Axes, tone: Tone, name: str) -> list[Series]:
    recording = analysis.recording
    if not axes.alone:  # side by side, only the part that is compared
        recording = recording.between(analysis.hold.closed_s, analysis.hold.end_s)
    keep = thinned(recording.time_s, recording.pressure_pa, axes.most_points)
    x, y = axes.x(recording.time_s[keep], analysis), axes.y(recording.pressure_pa[keep])
    dense = recording.time_s.size > DENSE_FROM
    who, end = ("", "") if axes.alone else (f"{name}: ", name)
    curve = analysis.curve
    if curve is None:
        return [Series("readings", tone, f"{who}readings", x, y, end_label=end, dense=dense)]
    along, fitted = axes.x(curve.time_s, analysis), axes.y(curve.pressure_pa)
    edges = axes.y(curve.low_pa), axes.y(curve.high_pa)
    return [
        Series("band", tone, f"{who}95 % band", along, fitted, *edges),
        Series("readings", tone, f"{who}readings", x, y, dense=dense),
        Series("fit", tone, f"{who}fitted decay", along, fitted, end_label=end),
    ]


def _ranges(
    series: tuple[Series, ...], limits: tuple[LimitLine, ...], axes: Axes
) -> tuple[tuple[float, float], tuple[float, float]]:
    xs = [s.x for s in series if s.x.size] or [np.array([0.0, 1.0])]
    ys = [np.concatenate([v for v in (s.y, s.y_low, s.y_high) if v is not None]) for s in series if s.y.size]
    y = np.concatenate([*ys, *(np.array(line.y) for line in limits), np.zeros(1)])
    left, right = min(float(x.min()) for x in xs), max(float(x.max()) for x in xs)
    span = max(right - left, 1e-9)
    # a limit far beyond the hold is cut off: the decay itself must stay readable
    right = max([right, *(min(line.x[1], left + 2.2 * span) for line in limits)])
    left = min([left, *(max(line.x[0], left - 0.25 * span) for line in limits)])
    pad = 0.02 * (right - left)
    longest = max((len(s.end_label) for s in series), default=0)
    beyond = (0.02 + 0.015 * min(longest, 30)) * (right - left) if longest else 1.5 * pad
    low, high = float(y.min()), float(y.max())
    room = max(high - low, 1e-9)
    above, below = (0.12, 0.12) if low < 0 < high else (0.14, 0.04) if high > 0 else (0.08, 0.10)
    return (left - pad, right + beyond), (low - below * room, high + above * room)


def _spans(analysis: Analysis, axes: Axes, x_range: tuple[float, float]) -> tuple[Span, ...]:
    room = x_range[1] - x_range[0]
    spans = []
    for phase in analysis.hold.phases:
        start, end = (float(v) for v in axes.x(np.array([phase.start_s, phase.end_s]), analysis))
        word = _PHASE_WORDS.get(phase.name, phase.name)
        fits = end - start > 0.013 * max(len(word), 4) * room
        spans.append(Span(phase.name, start, end, word if fits else "", phase.name == "hold"))
    return tuple(spans)


def _notes(analysis: Analysis, axes: Axes) -> tuple[Note, ...]:
    unit = "min" if axes.minutes else "s"
    at = ((mark, float(axes.x(mark.time_s, analysis))) for mark in analysis.recording.marks)
    return tuple(Note(x, k, f"{significant(x)} {unit}: {m.text}") for k, (m, x) in enumerate(at, start=1))


def change_decay(before: Analysis, after: Analysis) -> Chart:
    """Both decays of a repair on one chart, the earlier one quiet."""
    return decay_chart(before, after, names=("before", "after"), limits_within=1.2)
