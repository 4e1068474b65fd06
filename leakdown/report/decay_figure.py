"""Chart -> the traces and layout of its figure in a page, as plain dicts that plotly takes as they are."""

from __future__ import annotations

from html import escape
from typing import Any

import numpy as np

from leakdown.report.chart_data import Chart, LimitLine, Series, Span, note_rows, unit_of
from leakdown.report.placing import Ground, Placed, placed_labels
from leakdown.report.theme import GRID, INK, LIMIT, LOOKS, PAGE_FONT, QUIET, SHADE, SHADE_STRONG, reading_grey
from leakdown.words.wrap import clean

GROUND = Ground(width=800.0, height=350.0, letter=6.9, line=25.0, least=215.0)
END_GROUND = Ground(width=800.0, height=350.0, letter=8.4, line=22.0)
"""What a page gives a plot, in px; on a phone the short form of a label takes as large a part of it."""


def decay_figure(chart: Chart) -> dict[str, Any]:
    """`{"data": ..., "layout": ...}`; points are float32 arrays, and every text of the user's is inert."""
    traces = [trace for series in chart.series for trace in _traces(series, chart)]
    _one_entry_a_test(traces, chart)
    traces += [_limit_trace(line) for line in chart.limits]
    return {"data": traces, "layout": _layout(chart)}


def inert(text: str) -> str:
    """The user's text as text: the chart would read tags in it as its own small markup."""
    return escape(clean(text))


def label(text: str, x: float, y: float, size: float = 13, colour: str = INK, **more: Any) -> dict[str, Any]:
    """Words at a place of a figure; `more` as plotly names it."""
    return {"showarrow": False, "text": text, "x": x, "y": y, "font": {"size": size, "color": colour}} | more


def canvas(**more: Any) -> dict[str, Any]:
    """The layout that all figures share, and `more`."""
    white = {"paper_bgcolor": "white", "plot_bgcolor": "white"}
    return {"font": dict(PAGE_FONT), **white, "hovermode": "closest", **more}


def _one_entry_a_test(traces: list[dict[str, Any]], chart: Chart) -> None:
    """With several tests the legend names each once, and a click there shows or hides all of it."""
    names = {inert(s.end_label) for s in chart.series if s.end_label}
    named: set[str] = set()
    for trace in reversed(traces) if names else ():
        own = trace.get("name") or trace.get("legendgroup", "")  # the lower edge of a band has only its group
        test = next((name for name in names if own.startswith(f"{name}: ")), "")
        trace.update(legendgroup=test, showlegend=test not in named)
        if test not in named:
            trace.update(name=test)
        named.add(test)


def _layout(chart: Chart) -> dict[str, Any]:
    ticks = {"ticks": "outside", "tickcolor": QUIET, "exponentformat": "none"}  # 0.0002, not 200 micro
    axis = ticks | {"gridcolor": GRID, "linecolor": QUIET, "zeroline": False, "automargin": True}
    x_title, y_title = {"text": chart.x_words, "standoff": 6}, {"text": chart.y_title, "standoff": 8}
    legend = {"orientation": "h", "x": 0, "yref": "container", "y": 0, "yanchor": "bottom"}
    return canvas(
        margin={"l": 64, "r": 12, "t": 26 if chart.spans else 10, "b": 76},
        xaxis=axis | {"range": list(chart.x_range), "title": x_title, "tick0": 0, "dtick": chart.steps[0]},
        yaxis=axis | {"range": list(chart.y_range), "title": y_title, "tick0": 0, "dtick": chart.steps[1]},
        legend=legend | {"font": {"size": 13}},
        dragmode="zoom",
        shapes=_shapes(chart),
        annotations=_annotations(chart),
    )


def _shapes(chart: Chart) -> list[dict[str, Any]]:
    zero: dict[str, Any] = {"type": "line", "xref": "paper", "x0": 0, "x1": 1, "y0": 0, "y1": 0}
    shapes = [zero | {"line": {"color": QUIET, "width": 1.4}, "layer": "below"}]
    upright: dict[str, Any] = {"yref": "paper", "y0": 0, "y1": 1}
    edge = {"layer": "below", "line": {"width": 1, "color": "white"}}
    for span in chart.spans:
        if span.name != "other":
            ends = {"type": "rect", "x0": span.start, "x1": span.end}
            shapes.append(upright | ends | edge | {"fillcolor": SHADE_STRONG if span.strong else SHADE})
    line = {"type": "line", "line": {"color": INK, "width": 1.2, "dash": "dot"}}
    return shapes + [upright | line | {"x0": note.x, "x1": note.x} for note in chart.notes]


def _annotations(chart: Chart) -> list[dict[str, Any]]:
    labels = [_span_label(span) for span in chart.spans if span.label]
    ring: dict[str, Any] = {"bgcolor": "white", "bordercolor": INK, "borderpad": 3, "yref": "paper", "yanchor": "top"}
    for note, row in zip(chart.notes, note_rows(chart), strict=True):
        at = 0.97 - 0.085 * row
        labels.append(label(f"<b>{note.number}</b>", note.x, at, hovertext=inert(note.text), **ring))
    placed = placed_labels(chart, GROUND, END_GROUND, END_GROUND)
    if chart.zero_label:
        labels.append(label(chart.zero_label, *placed.zero, 12, QUIET, name="zero"))
    named = (s for s in chart.series if s.end_label and s.x.size)
    labels += [_end_label(s, end) for s, end in zip(named, placed.ends, strict=True)]
    return labels + [_limit_label(limit) for limit in placed.limits]


def _span_label(span: Span) -> dict[str, Any]:
    look = ("hold", f"<b>{span.label}</b>", INK) if span.strong else ("part", span.label, QUIET)
    name, text, colour = look
    middle = 0.5 * (span.start + span.end)
    return label(text, middle, 1, colour=colour, name=name, yref="paper", yanchor="bottom")


def _end_label(series: Series, placed: Placed) -> dict[str, Any]:
    colour, text = LOOKS[series.tone].colour, f"<b>{inert(series.end_label)}</b>"
    if placed.leader:
        return label(text, placed.x, placed.y, 14, colour, name="end") | _leader(placed, colour)
    return label(text, placed.of_x, placed.y, 14, colour, name="end", xanchor="left", xshift=9)


def _leader(placed: Placed, colour: str) -> dict[str, Any]:
    """From a label to what it is of."""
    line = {"showarrow": True, "arrowhead": 0, "arrowwidth": 1, "arrowcolor": colour, "standoff": 7}
    tail = {"axref": "x", "ayref": "y", "ax": placed.x, "ay": placed.y}
    return line | tail | {"x": placed.of_x, "y": placed.of_y}


def _traces(series: Series, chart: Chart) -> list[dict[str, Any]]:
    look, name = LOOKS[series.tone], inert(series.label)
    base = {"type": "scatter", "x": _packed(series.x)}
    if series.role == "band" and series.y_low is not None and series.y_high is not None:
        line: dict[str, Any] = {"width": 0.6, "color": look.colour}
        edge = base | {"mode": "lines", "line": line, "hoverinfo": "skip", "legendgroup": name}
        fill: dict[str, Any] = {"fill": "tonexty", "fillcolor": look.band, "name": name}
        if series.dense:  # over the many readings, which would cover it
            edge, fill = edge | {"zorder": 1, "opacity": 0.8}, fill | {"zorder": 1, "opacity": 0.8}
        low, high = _packed(series.y_low), _packed(series.y_high)
        return [edge | {"y": low, "showlegend": False}, edge | {"y": high} | fill]
    hover = f"%{{x:.4~g}}, %{{y:.4~g}}<extra>{name}</extra>"
    shown = base | {"y": _packed(series.y), "name": name, "hovertemplate": hover}
    if series.role == "fit":
        line = {"color": look.colour, "width": 1.6 if series.dense else 2.6}
        line |= {"dash": "solid" if look.dash == "solid" else "10px,3px"}
        return [shown | {"zorder": 2, "mode": "lines", "line": line}]
    shown["text"] = _said(series, chart)
    shown["hovertemplate"] = f"%{{text}}<extra>{name}</extra>"
    marker = {
        "symbol": look.marker.removesuffix("-open") if series.dense else look.marker,
        "size": 4.5 if series.dense else 9,
        "color": reading_grey(series.tone) if series.dense else look.colour,
    }
    if series.y_low is not None and series.y_high is not None:
        half = {"type": "data", "array": _packed(0.5 * (series.y_high - series.y_low))}
        shown["error_y"] = half | {"color": reading_grey(series.tone), "thickness": 1, "width": 0}
    return [shown | {"mode": "markers", "marker": marker}]


def _said(series: Series, chart: Chart) -> list[str]:
    """What a point says: time, reading, what was lost since the hold began, and the fitted decay then."""
    x_unit, y_unit = (unit_of(title) for title in (chart.x_title, chart.y_title))
    words = [f"{x:.4g} {x_unit}: {y:.4g} {y_unit}" for x, y in zip(series.x, series.y, strict=True)]
    own = series.label.rpartition(": ")[0]
    fit = next((s for s in chart.series if s.role == "fit" and s.label.rpartition(": ")[0] == own and s.x.size), None)
    if fit is None:
        return words
    then = np.interp(series.x, fit.x, fit.y)
    inside = (series.x >= fit.x[0]) & (series.x <= fit.x[-1])
    lost = abs(float(fit.y[0])) - np.abs(series.y)
    return [
        f"{said}<br>lost since {fit.x[0]:.3g} {x_unit}: {gone:.3g} {y_unit}<br>fitted {at:.4g} {y_unit}"
        if known
        else said
        for said, gone, at, known in zip(words, lost, then, inside, strict=True)
    ]


def _packed(values: Any) -> Any:
    return np.asarray(values, dtype=np.float32)


def _limit_trace(line: LimitLine) -> dict[str, Any]:
    trace = {"type": "scatter", "zorder": 3, "name": "limit", "mode": "lines+markers", "showlegend": False}
    look = {
        "line": {"color": LIMIT, "width": 1.8, "dash": "dot"},
        "marker": {"symbol": "diamond", "size": [0, 11], "color": LIMIT, "opacity": 1},
    }
    return trace | look | {"x": list(line.x), "y": list(line.y), "hovertemplate": f"{inert(line.label)}<extra></extra>"}


def _limit_label(placed: Placed) -> dict[str, Any]:
    text = label(inert(placed.text), placed.x, placed.y, colour=LIMIT, name="limit")
    return text | _leader(placed, LIMIT) if placed.leader else text
