"""Analysis -> Chart: which points, spans, marks and limits a decay chart shows. Draws nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from leakdown.analysis import Analysis
from leakdown.circuits import Direction
from leakdown.quantities import significant
from leakdown.report.chart_data import MOST_POINTS, Axes, Chart, LimitLine, Note, Series, Span, Tone, apart, thinned
from leakdown.report.limit_mark import far_beyond, limit_lines
from leakdown.tuned import tuned
from leakdown.words.signs import signs
from leakdown.words.sizes import circuit_words, size_brief, verdict_word

DENSE_FROM = 80
_T = tuned("report")
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
    only = analyses[0] if axes.alone else None
    x_range, y_range = _ranges(series, limits, axes, only)
    series = apart(series, y_range)
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
        cut=_cut(only, axes, x_range) if only else "",
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
        of, u = analysis.averaged, analysis.residual_u_pa
        if of is None or u is None:
            dense = t.size > DENSE_FROM
            series.append(Series("readings", tone, "reading minus fitted decay", x, y, dense=dense))
        else:
            label = f"averages of {ends_of(*of)} readings, with standard error"
            bars = axes.y(r[keep] - u[keep]), axes.y(r[keep] + u[keep])
            series.append(Series("readings", tone, label, x, y, *bars, dense=True))
    return Chart(
        "How well the curve fits",
        (),
        axes.x_title,
        signs(f"Difference ({axes.unit})"),
        *_ranges(tuple(series), (), axes),
        tuple(series),
        height_ratio=0.2,
    )


def ends_of(least: int, most: int) -> str:
    """How many readings went into an average."""
    return f"{most}" if least == most else f"{least} to {most}"


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
    thin = axes.alone and float(np.max(edges[1] - edges[0])) < _T.band_seen * float(np.ptp(y))
    band = f"{who}95 % band{' (thinner than the line)' if thin else ''}"
    return [
        Series("band", tone, band, along, fitted, *edges, dense=dense),
        Series("readings", tone, f"{who}readings", x, y, dense=dense),
        Series("fit", tone, f"{who}fitted decay", along, fitted, end_label=end, dense=dense),
    ]


def _ranges(
    series: tuple[Series, ...], limits: tuple[LimitLine, ...], axes: Axes, only: Analysis | None = None
) -> tuple[tuple[float, float], tuple[float, float]]:
    ys = [np.concatenate([v for v in (s.y, s.y_low, s.y_high) if v is not None]) for s in series if s.y.size]
    y = np.concatenate([*ys, *(np.array(line.y) for line in limits), np.zeros(1)])
    xs = [s.x for s in series if s.x.size] or [np.array([0.0, 1.0])]
    first, last = min(float(x.min()) for x in xs), max(float(x.max()) for x in xs)
    left, right, most = (first, last, 2.2) if only is None else _of_interest(only, axes, first, last)
    span = max(right - left, 1e-9)
    # a limit far beyond the hold is cut off: the decay itself must stay readable
    right = max([right, *(min(line.x[1], left + most * span) for line in limits)])
    left = min([left, *(max(line.x[0], left - 0.25 * span) for line in limits)])
    pad = 0.02 * (right - left)
    longest = max((len(s.end_label) for s in series), default=0)
    beyond = (0.02 + 0.0185 * min(longest, 30)) * (right - left) if longest else 1.5 * pad
    low, high = float(y.min()), float(y.max())
    room = max(high - low, 1e-9)
    above, below = (0.12, 0.12) if low < 0 < high else (0.14, 0.04) if high > 0 else (0.08, 0.10)
    return (left - pad, right + beyond), (low - below * room, high + above * room)


def _of_interest(only: Analysis, axes: Axes, first: float, last: float) -> tuple[float, float, float]:
    """Where one test's chart begins and ends, and how many times that a limit may make it as long.

    From the filling to the end of the hold, and a little more; a leak that is soon at its end fills the axis, and its
    limit, which it passed, may be cut off.
    """
    hold, curve = only.hold, only.curve
    fills = [p.start_s for p in hold.phases if p.name == "fill" and p.start_s <= hold.closed_s]
    begin = max(fills, default=hold.closed_s)
    end, most = hold.end_s, 2.2
    if curve is not None and curve.time_s.size:
        size = np.abs(curve.pressure_pa - hold.zero.known_pa)
        gone = np.flatnonzero(size <= size[-1] + _T.fall_left * (size[0] - size[-1]))
        spent = size[-1] < _T.spent_below * size[0]
        if spent and gone.size:
            end = min(end, hold.closed_s + _T.fall_shown * (float(curve.time_s[gone[0]]) - hold.closed_s))
            most = _T.limit_beyond
    end = max([end, *(mark.time_s for mark in only.recording.marks if mark.time_s <= hold.end_s)])
    begin_x, end_x = (float(v) for v in axes.x(np.array([begin, end]), only))
    around = _T.around_hold * (end_x - begin_x)
    left, right = begin_x - around, end_x + around
    # no less is cut off than is shown beyond
    return first if first > left - around else left, last if last < right + around else right, most


def _spans(analysis: Analysis, axes: Axes, x_range: tuple[float, float]) -> tuple[Span, ...]:
    room = x_range[1] - x_range[0]
    spans = []
    for phase in analysis.hold.phases:
        start, end = (float(v) for v in np.clip(axes.x(np.array([phase.start_s, phase.end_s]), analysis), *x_range))
        if end <= start:
            continue
        word = _PHASE_WORDS.get(phase.name, phase.name)
        fits = end - start > 0.013 * max(len(word), 4) * room
        spans.append(Span(phase.name, start, end, word if fits else "", phase.name == "hold"))
    return tuple(spans)


def _cut(analysis: Analysis, axes: Axes, x_range: tuple[float, float]) -> str:
    """That readings lie outside, of which nothing hangs; "" where all are shown."""
    unit = "min" if axes.minutes else "s"
    first, last = (float(x) for x in axes.x(analysis.recording.time_s[[0, -1]], analysis))
    ends = [f"begin at {significant(first)} {unit}"] if first < x_range[0] else []
    ends += [f"go on to {significant(last)} {unit}"] if last > x_range[1] else []
    return signs(f"readings {' and '.join(ends)}") if ends else ""


def _notes(analysis: Analysis, axes: Axes) -> tuple[Note, ...]:
    unit = "min" if axes.minutes else "s"
    at = ((mark, float(axes.x(mark.time_s, analysis))) for mark in analysis.recording.marks)
    return tuple(Note(x, k, f"{significant(x)} {unit}: {m.text}") for k, (m, x) in enumerate(at, start=1))


def change_decay(before: Analysis, after: Analysis) -> Chart:
    """Both decays of a repair on one chart, the earlier one quiet."""
    return decay_chart(before, after, names=("before", "after"), limits_within=1.2)
