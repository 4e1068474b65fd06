"""What a report must not be read without: cautions of the work, and what one test leaves open.

All figures are common practice, no source; the engine maker's own come first.
"""

from __future__ import annotations

from leakdown.analysis import Analysis
from leakdown.circuits import circuit
from leakdown.quantities import PRESSURE_PA
from leakdown.words.numbers import kpa_words
from leakdown.words.sizes import circuit_words
from leakdown.words.wrap import texts

_LIMITS = texts("limits")
CONNECTION = _LIMITS["connection"]
AUTHORITY = texts("cautions")["authority"]


def limits_of_test(analysis: Analysis) -> tuple[str, ...]:
    """What this one test does not say."""
    other = "vacuum" if analysis.direction == "pressure" else "pressure"
    lines = []
    verdict = analysis.verdict
    judged_as_leak = not any(finding.instead for finding in analysis.findings)
    if verdict and verdict.word == "pass" and analysis.leak is not None and judged_as_leak:
        size = "leak within the limit" if analysis.leak.detected else "no leak that this test could show"
        where = ", cold, at this crank position" if circuit(analysis.circuit).engine else ", as tested"
        lines.append(f"Read a pass as: {size}{where}, in this direction.")
    known = circuit(analysis.circuit)
    if known.breathed:
        lines.append(_LIMITS["both-needed"].format(other=other))
    if known.both == "useful":
        lines.append(_LIMITS["both-useful"].format(other=other))
    left_out = _LIMITS["engine" if known.engine else "rig" if known.id == "rig" else "other"]
    return (*lines, CONNECTION, left_out.format(circuit=circuit_words(known.id)))


def work_cautions(analysis: Analysis) -> tuple[str, ...]:
    """Cautions of the work that apply to this circuit."""
    known, unit = circuit(analysis.circuit), analysis.recording.conditions.show_unit
    caution = known.caution_pa(analysis.direction)
    highest = f"{kpa_words(caution)} ({caution / PRESSURE_PA['psi']:.2g} psi)"
    if unit not in ("kPa", "psi"):
        highest = f"{caution / PRESSURE_PA[unit]:.3g} {unit}, {highest}"
    said = texts("cautions")
    lines = [f"Low pressure only: stay below about {highest} here (common practice)."]
    if known.engine:
        lines[0] = f"Low pressure only: above about {highest} seals can be pushed out (common practice)."
        lines.append(said["turning"])
    if known.id in ("tank", "float-inlet"):
        lines.append(said[known.id])
    lines += [said["air"], said["eyes"]]
    vapour = "Fuel vapour: drain, ventilate, no sparks, ground the plug lead"
    lines.append(f"{vapour}; use a trap so that no fuel reaches the gauge." if known.fuel else f"{vapour}.")
    return (*lines, said["hot"])
