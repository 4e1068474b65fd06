"""Analysis -> the report page: what was found first, then the chart, then all that stands behind it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from hashlib import sha256

from leakdown.analysis import Analysis, Verdict
from leakdown.quantities import PRESSURE_PA, REFERENCE_TEMPERATURE_K, standard_cm3_per_min
from leakdown.report.chart_data import in_words, spread_words
from leakdown.report.decay_chart import decay_chart, ends_of, residual_chart
from leakdown.report.page import Drawn, page, render
from leakdown.report.tables import readings_table
from leakdown.words.cautions import limits_of_test, work_cautions
from leakdown.words.facts import Fact, finding_facts, hold_facts, judgement_facts, size_facts, used_facts
from leakdown.words.flags import grave_sentences, minded_flags, shown_findings, shown_flags
from leakdown.words.known_leak import rig_facts
from leakdown.words.numbers import ends, number, short
from leakdown.words.signs import own_texts
from leakdown.words.sizes import (
    circuit_words,
    file_name,
    size_sentence,
    size_title,
    verdict_role,
    verdict_sentence,
    verdict_word,
)
from leakdown.words.terminal import caution_line, open_line
from leakdown.words.what_next import what_next
from leakdown.words.wrap import capital, moment, texts


def residual_caption(*analyses: Analysis) -> str:
    """What the points of the residuals are, and how to read them; of several tests whichever is averaged."""
    said, ranges = texts("captions"), [a.averaged for a in analyses]
    known = [r for r in ranges if r]
    if not known:
        return said["residuals"].format(points=said["each-reading"])
    of = ends_of(min(r[0] for r in known), max(r[1] for r in known))
    points = said["averages"].format(of=of)
    if len(known) < len(ranges):
        points = f"{said['each-reading']}, on dense logs {points}"
    return said["residuals"].format(points=points)


def analysis_page(analysis: Analysis) -> str:
    """One self-contained HTML file of one test."""
    return page(
        "analysis.html",
        own_texts(analysis.recording),
        drawings(analysis),
        "",
        (),
        **_answer(analysis),
        **_behind(analysis),
    )


def html_card(analysis: Analysis) -> str:
    """A short piece of HTML, as a notebook shows a result: verdict, size, still picture; no script."""
    decay = drawings(analysis)[0]
    answer = _answer(analysis)
    name = f"card-{sha256(repr(answer).encode('utf-8', 'replace')).hexdigest()[:8]}"  # ids of several apart
    return str(render("card.html", own_texts(analysis.recording), drawn=replace(decay, name=name), **answer))


def drawings(analysis: Analysis) -> tuple[Drawn, ...]:
    """The charts of the page in their order: the decay, and what the fitted curve leaves over."""
    chart = decay_chart(analysis)
    said = f"Decay chart. {chart.title}; {size_sentence(analysis)} {in_words(chart)}"
    points = "Points: readings."
    fitted = f"{points} Line: fitted decay, with its 95 % band." if analysis.curve else points
    caption = f"{fitted} Darker ground: the hold that was used."
    done = tuple(note.text for note in chart.notes)
    decay = Drawn("decay", "Decay", chart, said, caption, done, numbered=True)
    if not analysis.residual_time_s.size:
        return (decay,)
    residuals = residual_chart(analysis)
    said = f"Residuals of the fit. {spread_words(residuals)}"
    return decay, Drawn("leftover", residuals.title, residuals, said, residual_caption(analysis), low=True)


def _answer(analysis: Analysis) -> dict[str, object]:
    """What the page's template needs down to the size."""
    c = analysis.recording.conditions
    test = f"{circuit_words(analysis.circuit).capitalize()}, {analysis.direction} test"
    gauge = f"gauge {c.gauge}" if c.gauge else ""
    found, reason = size_sentence(analysis), verdict_sentence(analysis)
    if any(finding.instead for finding in analysis.findings):  # there the reason carries the figure
        found, reason = reason, found
    return {
        "file": file_name(analysis),
        "details": (test, file_name(analysis), moment(c.started or ""), gauge),
        "note": c.note,
        "role": verdict_role(analysis),
        "word": verdict_word(analysis),
        "found": found,
        "reason": reason,
        "doubts": grave_sentences(analysis),
        "next": capital(what_next(analysis)),
        "scale": limit_scale(analysis.verdict, c.show_unit),
        "size_title": size_title(analysis),
        "sizes": size_facts(analysis),
        "judged": judgement_facts(analysis),
    }


def _behind(analysis: Analysis) -> dict[str, object]:
    """The rest of it."""
    minded = minded_flags(analysis)
    return {
        "findings": [(f, finding_facts(f)) for f in shown_findings(analysis) if not f.instead],
        "minded": [flag.text for flag in minded],
        "assumed": [flag.text for flag in shown_flags(analysis) if flag not in minded],
        "hold": hold_facts(analysis),
        "used": (*used_facts(analysis), *rig_facts(analysis), *_sections(analysis)),
        "remarks": analysis.recording.remarks,
        "readings": readings_table(analysis.recording),
        "on_paper": _on_paper(analysis),
        "open": limits_of_test(analysis),
        "cautions": work_cautions(analysis),
    }


def _on_paper(analysis: Analysis) -> tuple[tuple[str, str], ...]:
    """What stands in tables and lists on a screen, run together for one sheet of paper."""
    rows = (
        ("Judged", _run_in(judgement_facts(analysis))),
        ("Which readings", _run_in(hold_facts(analysis))),
        ("Given and assumed", _run_in((*used_facts(analysis), *rig_facts(analysis), *_sections(analysis)))),
        ("Readings", _readings_run_in(analysis)),
        ("Left open", open_line(analysis)),
        ("Cautions", caution_line(analysis)),
    )
    return tuple(row for row in rows if row[1])


def _readings_run_in(analysis: Analysis) -> str:
    """A hand sheet's readings in a few lines; "" for a log, whose curve shows them."""
    table = readings_table(analysis.recording)
    if not table.short:
        return ""
    rows = [
        ": ".join(cell for cell in row[:2]) + (f" ({row[-1]})" if len(row) > 2 and row[-1] else "")
        for row in table.rows
    ]
    return f"{table.heads[0]}: {table.heads[1]}. {'; '.join(rows)}."


def _run_in(facts: Iterable[Fact]) -> str:
    parts = []
    for fact in facts:
        beside = ", ".join(part for part in (fact.span, fact.note) if part)
        what = fact.what[:1].lower() + fact.what[1:]
        parts.append(f"{what}: {fact.value}{f' ({beside})' if beside else ''}")
    return f"{'; '.join(parts)}." if parts else ""


def _sections(analysis: Analysis) -> tuple[Fact, ...]:
    c = analysis.recording.conditions
    rows = (Fact("In this test", ", ".join(c.includes)), Fact("Blanked off", ", ".join(c.blocked)))
    return tuple(fact for fact in rows if fact.value)


@dataclass(frozen=True)
class LimitScale:
    """An estimated interval beside its limit. left, width, at: % of the scale; good, side: as CSS."""

    left: float
    width: float
    at: float
    good: str
    side: str
    line: str
    seen: str
    end: str
    unit: str


def limit_scale(verdict: Verdict | None, unit: str) -> LimitScale | None:
    """The scale; None when nothing was estimated. `unit`: the user's pressure unit."""
    if verdict is None or verdict.measured is None or verdict.limit.kind == "words":
        return None
    limit = verdict.limit
    # a rate in a verdict is already that at 20 degC
    factor, per, what = standard_cm3_per_min(1.0, REFERENCE_TEMPERATURE_K), "cm3/min", ""
    if limit.kind == "drop":
        factor, per, what = 1.0 / PRESSURE_PA[unit], unit, f" lost in {limit.time_s:g} s"
    allowed = factor * (limit.drop_pa if limit.kind == "drop" else limit.rate_pa_m3_s)
    low, high = verdict.measured.low * factor, verdict.measured.high * factor
    end = max(1.35 * allowed, 1.1 * high)
    at = 100.0 * allowed / end
    inward = limit.kind == "inflow"
    seen = f"estimated, {ends(low, high)} {per}{what}"
    if verdict.measured.value is None or low <= 0.0:
        seen = f"up to {number(high)} {per}{what}"
        if verdict.word == "pass":  # how much would have shown is said once, with the size
            seen = "no loss for certain, only the room that the readings leave"
    good = f"left:{at:.2f}%;right:0" if inward else f"width:{at:.2f}%"
    side = f"left:{at:.2f}%" if at < 60 else f"right:{100 - at:.2f}%"
    line = f"{'needed' if inward else 'limit'} {short(number(allowed))} {per}"
    left, width = 100 * low / end, 100 * (high - low) / end
    return LimitScale(left, width, at, good, side, line, seen, short(number(end, 2)), per)
