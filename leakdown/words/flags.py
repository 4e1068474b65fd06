"""Flags sorted for a reader: what belongs beside the verdict, what to mind, and what was merely assumed."""

from __future__ import annotations

from leakdown.analysis import Analysis, Finding, Flag
from leakdown.quantities import show_pressure
from leakdown.words.wrap import capital, texts

_VAPOUR = ("levels-off", "creep", "leak-shrinks")
_ASSUMED = (
    "ambient-assumed",
    "temperature-assumed",
    "volume-uncertainty-unknown",
    "volume-uncertainty-assumed",
    "circuit-assumed",
    "resolution-assumed",
    "not-used",
    "second-test",
)
_SAID_BY_VERDICT = ("pressure-rises", "frozen", "fell-before-hold")
_UNKNOWN = ("pressure-rises", "frozen", "saturated", "fell-before-hold")
LAX = "lax-limit"  # raised where the strict practice gives no pass
NOTHING_PA = 0.1  # a gauge step below this is none


def may_be_vapour(analysis: Analysis) -> bool:
    """Whether the loss under vacuum has the shape that fuel vapour in a wet case gives it."""
    return analysis.direction == "vacuum" and any(
        flag.code in _VAPOUR and "vapour" in flag.text for flag in analysis.flags
    )


def has_flag(analysis: Analysis, *codes: str) -> bool:
    """Whether one of these flags was raised."""
    return any(flag.code in codes for flag in analysis.flags)


def shown_flags(analysis: Analysis) -> tuple[Flag, ...]:
    """The flags without those that say nothing here."""
    return tuple(flag for flag in analysis.flags if not _says_nothing(flag, analysis))


def minded_flags(analysis: Analysis) -> tuple[Flag, ...]:
    """Flags to read in full: neither said beside the verdict nor a mere assumption."""
    short = {code for code, _ in _grave(analysis)}
    folded = (*_ASSUMED, "connection-not-proven", "pump-off-unsaid", *short)  # asked for with what is still open
    return tuple(flag for flag in shown_flags(analysis) if flag.code not in folded)


def shown_findings(analysis: Analysis) -> tuple[Finding, ...]:
    """The findings without the share of the idle air where nothing is known of the leak."""
    leak = analysis.leak
    unknown = leak is not None and not leak.detected and has_flag(analysis, *_UNKNOWN)
    return tuple(f for f in analysis.findings if not (unknown and f.name == "idle-air"))


def grave_sentences(analysis: Analysis) -> tuple[str, ...]:
    """What puts the result itself in doubt, short, for the place beside the verdict."""
    verdict = analysis.verdict
    told = _SAID_BY_VERDICT if verdict is not None and verdict.basis == "none" else ()
    return tuple(dict.fromkeys(text for code, text in _grave(analysis) if code not in told))


def _grave(analysis: Analysis) -> list[tuple[str, str]]:
    vapour, unit = may_be_vapour(analysis), analysis.recording.conditions.show_unit
    reason = analysis.verdict.reason.rstrip(".").lower() if analysis.verdict else ""
    barring = {"far-above-caution"} | {doubt.code for doubt in analysis.recording.doubts if doubt.bars_pass}
    found = []
    for flag in analysis.flags:
        if flag.code in _VAPOUR and vapour:
            text = "This may be fuel vapour from a wet case, not a leak: dry it, wait, repeat."
        elif flag.code == "levels-off":
            closes = analysis.leak.opening_pa if analysis.leak else None
            where = f"near {show_pressure(abs(closes), unit)}" if closes is not None else "before zero"
            text = f"The decay levels off {where}: something closes there. The size holds above that only."
        elif flag.code == "fell-before-hold":
            level = show_pressure(abs(analysis.hold.start_pa), unit)
            text = f"The reading fell to {level} before the hold: nothing is known of what leaks above that."
        elif flag.code in barring:
            text = "" if reason.startswith(flag.text.rstrip(".").lower()) else capital(flag.text)
        else:
            text = texts("grave").get(flag.code, "")
        if text:
            found.append((flag.code, text))
    return found


def _says_nothing(flag: Flag, analysis: Analysis) -> bool:
    if flag.code == LAX:  # the verdict's own sentence says it
        return True
    if flag.code == "resolution-assumed":
        return (analysis.used.resolution_pa.value or 0.0) < NOTHING_PA
    if flag.code == "too-short":  # the size says so itself, where it can name a bound at all
        return not has_flag(analysis, "quoted-outside", "fell-before-hold")
    inflow = analysis.verdict is not None and analysis.verdict.limit.kind == "inflow"
    return flag.code == "connection-not-proven" and inflow and analysis.verdict.word == "pass"  # type: ignore[union-attr]
