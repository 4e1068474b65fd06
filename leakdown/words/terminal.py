"""Analysis -> the terminal report: the verdict first, then the size, then what must not be missed."""

from __future__ import annotations

from collections.abc import Iterable

from leakdown.analysis import Analysis, LeakEstimate
from leakdown.circuits import circuit
from leakdown.quantities import PRESSURE_PA, show_pressure, significant
from leakdown.tuned import tuned
from leakdown.words.facts import Fact, changes, finding_facts
from leakdown.words.flags import NOTHING_PA, grave_sentences, has_flag, may_be_vapour, minded_flags, shown_findings
from leakdown.words.known_leak import rig_line
from leakdown.words.numbers import STANDARD_AIR, alike, kpa_words, pressure_words
from leakdown.words.sizes import (
    circuit_words,
    file_name,
    in_brackets,
    kind_words,
    size_sentence,
    sure_words,
    verdict_role,
    verdict_sentence,
    verdict_word,
)
from leakdown.words.what_next import what_next
from leakdown.words.wrap import Style, capital, clean, wrapped

_T = tuned("words")
AUTHORITY = "Maker's manual, local codes and licensed practice come first; an aid to a competent person."


def kind_line(analysis: Analysis) -> str:
    """Kind of leak and how well its size is known; "" where no leak was sized."""
    leak = analysis.leak
    if leak is None or not leak.detected or any(finding.instead for finding in analysis.findings):
        return ""
    sure = sure_words(leak.throughput_pa_m3_s or leak.rate_pa_s)
    if may_be_vapour(analysis):
        return f"Size {sure}, kind unknown."
    return f"{capital(kind_words(leak))}; size {sure}."


def figure_line(facts: tuple[Fact, ...]) -> str:
    """Figures in one sentence: "Opens at 94.0 kPa (92.0 to 96.0); closes at 56.4 kPa"."""
    parts = [f"{fact.what} {in_brackets(fact.value, fact.span)}" for fact in facts]
    return "; ".join(part if k == 0 else part[:1].lower() + part[1:] for k, part in enumerate(parts))


def change_lines(analysis: Analysis) -> tuple[str, ...]:
    """What became of the leak during the hold."""
    leak: LeakEstimate | None = analysis.leak
    facts = changes(analysis, leak) if leak is not None else ()
    levels_off = has_flag(analysis, "levels-off")
    return tuple(
        f"{f.what}: {in_brackets(f.value, f.span)}" + (f", {f.note}" if f.note else "")
        for f in facts
        if f.what != "Closes at" or not levels_off  # said beside the verdict
    )


def assumed_line(analysis: Analysis) -> str:
    """Everything that nobody gave."""
    used, unit = analysis.used, analysis.recording.conditions.show_unit
    parts = []
    if used.barometer_pa.source == "assumed" and used.barometer_pa.value is not None:
        parts.append(f"barometer {used.barometer_pa.value / 1e3:.1f} kPa")
    if used.temperature_k.source == "assumed" and used.temperature_k.value is not None:
        parts.append(f"{used.temperature_k.value - 273.15:.0f} degC and steady")
    if used.volume_m3.value is not None and used.volume_u_m3.value is None:
        parts.append("volume to 10 %" if has_flag(analysis, "volume-uncertainty-assumed") else "volume exact")
    if has_flag(analysis, "circuit-assumed"):
        parts.append("a crankcase test")
    if analysis.hold.zero.source == "assumed":
        parts.append("gauge zero right")
    step = pressure_words(used.resolution_pa.value or 0.0, unit)
    if has_flag(analysis, "resolution-assumed") and (used.resolution_pa.value or 0.0) >= NOTHING_PA:
        parts.append(f"readings rounded to {step}")
    return f"{', '.join(parts)} (see analyse --help)." if parts else ""


def used_line(analysis: Analysis) -> str:
    """The hold, what it was read with, and what the figures mean."""
    hold, used, unit = analysis.hold, analysis.used, analysis.recording.conditions.show_unit
    start, end = alike(hold.start_pa / PRESSURE_PA[unit], hold.end_pa / PRESSURE_PA[unit])
    chosen = ", chosen by hand" if hold.given else ""
    parts = [
        f"hold {significant(hold.start_s)} to {significant(hold.end_s)} s ({hold.readings} readings{chosen})",
        f"{start} to {end} {unit}",
    ]
    if used.volume_m3.value is None:
        parts.append("no volume")
    else:
        doubt = f" +/- {used.volume_u_m3.value * 1e6:.3g}" if used.volume_u_m3.value is not None else ""
        parts.append(f"{used.volume_m3.value * 1e6:.4g}{doubt} cm3")
    flow = "" if used.volume_m3.value is None else f" cm3/min of {STANDARD_AIR}."
    return f"{', '.join(parts)}.{flow} Ranges hold 95 times in 100."


def open_line(analysis: Analysis) -> str:
    """What this one test leaves open."""
    known = circuit(analysis.circuit)
    parts = []
    other = f"the {'vacuum' if analysis.direction == 'pressure' else 'pressure'} test"
    if known.breathed and other not in what_next(analysis):
        parts.append(f"{other} (only both pass an engine)")
    if has_flag(analysis, "pump-off-unsaid"):
        parts.append("pump off the circuit: not said (one that feeds it hides a leak)")
    parts.append("connection and blanks (crack one open: it must fall)")
    if known.engine:
        parts.append("a hot or running engine, other crank positions, what was blanked off")
    elif known.id == "rig":
        parts.append("the engine's own blanks and plugs")
    else:
        parts.append(f"all outside the {known.words}, and its parts warm or moving")
    return f"{'; '.join(parts)}."


def caution_line(analysis: Analysis) -> str:
    """The cautions of the work that apply to this circuit, in short."""
    known, unit = circuit(analysis.circuit), analysis.recording.conditions.show_unit
    most_pa = known.caution_pa(analysis.direction)
    psi = f"{most_pa / PRESSURE_PA['psi']:.2g} psi"
    most = f"{kpa_words(most_pa)}, {psi}" if unit in ("kPa", "psi") else show_pressure(most_pa, unit)
    parts = [f"below {most} (practice)", "no shop air without regulator and relief", "eyes protected, clear of plugs"]
    if known.engine:
        parts.append("vent before turning the crank")
    if known.id == "tank":
        parts.append("a full tank can spray")
    trap = ", a trap before the gauge" if known.fuel else ""
    parts.append(f"cold, drained, no sparks{trap}")
    return f"{'; '.join(parts)}. {AUTHORITY}"


_MOST_FLAGS = 3  # more stand on the page
_FIGURE_IN_REASON = ("air-in",)  # its verdict says the figure
_WORKINGS = ("would-not-build",)  # how it was reckoned is for the page
_INDENT = 12  # the column in which the lines beside a name start


def plain(text: str, role: str) -> str:
    """The style of a stream that takes no colour."""
    return text


def terminal_report(analysis: Analysis, width: int = 88, style: Style = plain) -> str:
    """The report as lines no wider than `width` (>= 30); ASCII but for the user's own texts.

    style(text, role) may add colour; roles: pass, fail, undecided, strong, dim.
    """
    named = (
        ("Next", capital(what_next(analysis))),
        ("Still open", open_line(analysis)),
        ("Assumed", assumed_line(analysis)),
        ("Used", used_line(analysis)),
        ("Rig", rig_line(analysis)),
        ("Cautions", caution_line(analysis)),
    )
    blocks = [
        summary(analysis, width, style),
        _bullets("Mind", _minded(analysis), width, style),
        "\n".join(line for name, words in named if words for line in _named(name, words, width, style)),
    ]
    return "\n\n".join(block for block in blocks if block)


def summary(analysis: Analysis, width: int = 88, style: Style = plain) -> str:
    """Verdict, size and kind in a few sentences: all of it for whoever wants only the result."""
    role = verdict_role(analysis)
    word = verdict_word(analysis)
    test = f"{circuit_words(analysis.circuit)}, {analysis.direction} test"
    source = clean(file_name(analysis))
    told = f"{word}  {_too_much(analysis)}{test}" + (f", {source}" if source else "")
    lines = wrapped(told, width, rest="  ")
    lines[0] = lines[0].replace(word, style(word, role), 1)
    for sentence in (verdict_sentence(analysis), *grave_sentences(analysis), *_sizes(analysis)):
        lines += wrapped(clean(sentence), width, "  ", "  ") if sentence else []
    return "\n".join(lines)


def _too_much(analysis: Analysis) -> str:
    """What the first line says of a test that started far above what its circuit may be given; else ""."""
    known, unit = circuit(analysis.circuit), analysis.recording.conditions.show_unit
    start, most = abs(analysis.hold.start_pa), known.caution_pa(analysis.direction)
    if known.needle or start < _T.far_above_usual * most:
        return ""
    return f"{show_pressure(start, unit)}, far above the usual {show_pressure(most, unit)}: "


def _sizes(analysis: Analysis) -> tuple[str, ...]:
    """Size, kind, what became of the leak, and the findings."""
    told = [finding for finding in shown_findings(analysis) if finding.name not in _WORKINGS]
    instead = [finding for finding in analysis.findings if finding.instead]
    figures = (figure_line(finding_facts(f)) for f in instead if f.name not in _FIGURE_IN_REASON)
    beside = (finding.sentence for finding in told if not finding.instead)
    if instead:
        return (*(finding.sentence for finding in told if finding.instead), *figures, *beside)
    return (size_sentence(analysis), kind_line(analysis), *change_lines(analysis), *beside)


def _minded(analysis: Analysis) -> tuple[str, ...]:
    flags = [flag.text for flag in minded_flags(analysis)]
    more = len(flags) - _MOST_FLAGS
    return (*flags[:_MOST_FLAGS], *([f"{more} more on the page (--report)."] if more > 0 else []))


def _bullets(title: str, sentences: Iterable[str], width: int, style: Style) -> str:
    body = [line for s in sentences for line in wrapped(clean(s), width, "  - ", "    ")]
    return "\n".join([style(title, "strong"), *body]) if body else ""


def _named(name: str, words: str, width: int, style: Style) -> list[str]:
    """A name and what stands beside it, the rest of it indented."""
    lines = wrapped(clean(words), width, f"{name:<{_INDENT}}", " " * _INDENT)
    lines[0] = lines[0].replace(name, style(name, "strong"), 1)
    return lines
