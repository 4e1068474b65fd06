"""Analysis -> the report page: what was found first, then the chart, then all that stands behind it."""

from __future__ import annotations

from html import escape

from leakdown import __version__
from leakdown.analysis import Analysis, Verdict
from leakdown.quantities import PRESSURE_PA, REFERENCE_TEMPERATURE_K, standard_cm3_per_min
from leakdown.report.decay_chart import decay_chart, residual_chart
from leakdown.report.html import Drawn, fact_list, fact_table, figure, items, number_cards, page, symbol, text
from leakdown.report.tables import readings_table
from leakdown.words.cautions import AUTHORITY, limits_of_test, work_cautions
from leakdown.words.facts import Fact, finding_facts, hold_facts, judgement_facts, size_facts, used_facts
from leakdown.words.flags import grave_sentences, shown_findings, shown_flags
from leakdown.words.numbers import ends, number, short
from leakdown.words.sizes import (
    circuit_words,
    file_name,
    size_sentence,
    size_title,
    verdict_sentence,
    verdict_word,
)
from leakdown.words.wrap import moment


def limit_scale(verdict: Verdict | None, unit: str) -> str:
    """HTML of the scale; "" when nothing was measured. `unit`: the user's pressure unit."""
    if verdict is None or verdict.measured is None or verdict.limit.kind == "words":
        return ""
    limit = verdict.limit
    if limit.kind == "drop":
        factor, per, what = 1.0 / PRESSURE_PA[unit], unit, f"lost in {limit.time_s:g} s"
        allowed = limit.drop_pa * factor
    else:
        # a rate in a verdict is already that at 20 degC
        factor, per, what = standard_cm3_per_min(1.0, REFERENCE_TEMPERATURE_K), "cm3/min", ""
        allowed = limit.rate_pa_m3_s * factor
    low, high = verdict.measured.low * factor, verdict.measured.high * factor
    end = max(1.35 * allowed, 1.1 * high)
    at = 100.0 * allowed / end
    side = f"left:{at:.2f}%" if at < 60 else f"right:{100 - at:.2f}%"
    inward = limit.kind == "inflow"
    name = "needed" if inward else "limit"
    good = f"left:{at:.2f}%;right:0" if inward else f"width:{at:.2f}%"
    line = f"{name} {short(number(allowed))} {per}"
    seen = f"measured, {ends(low, high)} {per} {what}".strip()
    if verdict.measured.value is None or low <= 0.0:
        seen = f"up to {number(high)} {per} {what}".strip()
        if verdict.word == "pass":  # how much would have shown is said once, with the size
            seen = "no loss for certain, only the room that the readings leave"
    words = f"{seen[:1].upper()}{seen[1:]}, {line}"
    return (
        f'<div class="scale" role="img" aria-label="{escape(words, quote=True)}"><div class="track">'
        f'<div class="allowed" style="{good}"></div>'
        f'<div class="seen" style="left:{100 * low / end:.2f}%;width:{100 * (high - low) / end:.2f}%"></div>'
        f'<div class="mark" style="left:{at:.2f}%"></div>'
        f'<div class="at" style="{side}">{escape(line)}</div></div>'
        f'<div class="ends"><span>0</span><span>bar: {escape(seen)}</span>'
        f"<span>{short(number(end, 2))}&nbsp;{escape(per)}</span></div></div>"
    )


TITLE = "Crankcase and fuel-system pressure/vacuum test"


def analysis_page(analysis: Analysis) -> str:
    """One self-contained HTML file of one test."""
    drawings = chart_drawings(analysis)
    parts = [
        header(analysis),
        verdict_block(analysis),
        _numbers(analysis),
        _findings(analysis),
        _flags(analysis),
        "<h2>Decay</h2>" + figure(drawings[0]),
        *("<h2>How well the curve fits</h2>" + figure(d) for d in drawings[1:]),
        _inputs(analysis),
        readings_table(analysis.recording),
        closing(analysis),
    ]
    source = file_name(analysis)
    return page(f"{TITLE}: {source}" if source else TITLE, "\n".join(p for p in parts if p), drawings)


def header(analysis: Analysis) -> str:
    """Title and what was tested."""
    c = analysis.recording.conditions
    what = f"{circuit_words(analysis.circuit).capitalize()}, {analysis.direction} test"
    details = [
        what,
        file_name(analysis),
        moment(c.started or ""),
        f"gauge {c.gauge}" if c.gauge else "",
    ]
    line = " &middot; ".join(text(d) for d in details if d)
    note = f"<p>{text(c.note)}</p>" if c.note else ""
    return f"<header><h1>{TITLE}</h1><p>{line}</p></header>{note}"


def verdict_block(analysis: Analysis) -> str:
    """The word, the size, the reason, and the measured interval beside the limit."""
    verdict = analysis.verdict
    role = verdict.word if verdict else "undecided"
    unit = analysis.recording.conditions.unit
    doubts = "".join(f'<p class="doubt">{text(sentence)}</p>' for sentence in grave_sentences(analysis))
    found, reason = size_sentence(analysis), verdict_sentence(analysis)
    if any(finding.instead for finding in analysis.findings):  # there the reason carries the figure
        found, reason = reason, found
    why = f"<p>{text(reason)}</p>{doubts}{limit_scale(verdict, unit)}"
    return (
        f'<section class="verdict {role}" aria-label="Verdict">'
        f'<div class="word">{symbol(role)}<span>{verdict_word(analysis)}</span></div>'
        f'<p class="found">{text(found)}</p>'
        f'<div class="why">{why}</div></section>'
    )


def _numbers(analysis: Analysis) -> str:
    cards = number_cards(size_facts(analysis))
    more = fact_list(judgement_facts(analysis))
    if not cards and not more:
        return ""
    return f"<section><h2>{text(size_title(analysis))}</h2>{cards}{more}</section>"


def _findings(analysis: Analysis) -> str:
    """What the test says besides the size of a leak."""
    beside = [finding for finding in shown_findings(analysis) if not finding.instead]
    sections = "".join(
        f"<section><h2>{text(f.title)}</h2><p>{text(f.sentence)}</p>{fact_list(finding_facts(f))}</section>"
        for f in beside
    )
    return f'<div class="findings">{sections}</div>' if sections else ""


def _flags(analysis: Analysis) -> str:
    listed = items((flag.text for flag in shown_flags(analysis)), css="flags")
    return f"<section><h2>Mind before you rely on it</h2>{listed}</section>" if listed else ""


def chart_drawings(analysis: Analysis) -> tuple[Drawn, ...]:
    """The decay chart, and what the fitted curve leaves over where there is one."""
    chart = decay_chart(analysis)
    said = f"Decay chart. {chart.title}; {size_sentence(analysis)}"
    key = items((f"{note.text}" for note in chart.notes), "ol")
    caption = (
        "Points: readings. Line: fitted decay, with its 95 % band." if analysis.curve else "Points: readings."
    )
    caption += " Darker ground: the hold that was used."
    done = f"<br>Done during the test:{key}" if key else ""
    drawings = [Drawn("decay", chart, said, caption + done)]
    if analysis.residual_time_s.size:
        caption = (
            "Readings minus the fitted decay. Scattered evenly about zero, the curve fits; "
            "a wave or a trend means something else happened."
        )
        drawings.append(
            Drawn("leftover", residual_chart(analysis), "Residuals of the fit", caption, low=True)
        )
    return tuple(drawings)


def _inputs(analysis: Analysis) -> str:
    c = analysis.recording.conditions
    extra = [
        Fact("In this test", ", ".join(c.includes)) if c.includes else None,
        Fact("Blanked off", ", ".join(c.blocked)) if c.blocked else None,
    ]
    used = (*used_facts(analysis), *(f for f in extra if f))
    readings = fact_table(hold_facts(analysis), ("What", "Value", "How"))
    inputs = fact_table(used, ("What", "Value", "Source"))
    return (
        f'<section><div class="two"><div class="block"><h2>Which readings</h2>{readings}</div>'
        f'<div class="block"><h2>Given and assumed</h2>{inputs}</div></div>'
        f"{items(analysis.recording.remarks)}</section>"
    )


def closing(analysis: Analysis) -> str:
    """What the test leaves open, the cautions, and whose word comes first."""
    return (
        '<div class="two"><section class="block"><h2>What this test leaves open</h2>'
        f"{items(limits_of_test(analysis))}</section>"
        f'<section class="block"><h2>Cautions</h2>{items(work_cautions(analysis))}</section></div>'
    ) + sign_off()


def sign_off() -> str:
    """Whose word comes first, and what made the page."""
    made_by = f"leakdown {text(__version__)}. This page holds all it shows and asks no network."
    return f'<p class="authority">{text(AUTHORITY)}</p><footer>{made_by}</footer>'
