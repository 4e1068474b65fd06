"""What a report must not be read without: cautions of the work, and what one test leaves open.

All figures are common practice, no source; the engine maker's own come first.
"""

from __future__ import annotations

from leakdown.analysis import Analysis
from leakdown.circuits import circuit
from leakdown.quantities import PRESSURE_PA
from leakdown.words.numbers import kpa_words
from leakdown.words.sizes import circuit_words

CONNECTION = (
    "Count a result only with the connection proven (the reading falls when a blank is cracked open at "
    "the end) and the blanks and plugs checked: they are part of every test."
)


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
    if circuit(analysis.circuit).breathed:
        lines.append(
            f"An engine passes only with pressure AND vacuum. The {other} test is a test of its own: "
            "a seal lip can hold one way and leak the other."
        )
    if circuit(analysis.circuit).both == "useful":
        lines.append(
            f"The {other} test is a test of its own: a vent that lets air in may spill outward when hot, and "
            "one that holds may let none in."
        )
    lines.append(CONNECTION)
    lines.append(_not_tested(analysis.circuit))
    return tuple(lines)


def _not_tested(name: str) -> str:
    if circuit(name).engine:
        return "Not tested: a hot or running engine, other crank positions, and whatever was blanked off."
    if name == "rig":
        return "Not tested: the engine's own blanks and plugs; the rig alone never covers them."
    return f"Not tested: anything outside the {circuit_words(name)}, and the parts warm or moving."


def work_cautions(analysis: Analysis) -> tuple[str, ...]:
    """Cautions of the work that apply to this circuit."""
    known, unit = circuit(analysis.circuit), analysis.recording.conditions.show_unit
    caution = known.caution_pa(analysis.direction)
    highest = f"{kpa_words(caution)} ({caution / PRESSURE_PA['psi']:.2g} psi)"
    if unit not in ("kPa", "psi"):
        highest = f"{caution / PRESSURE_PA[unit]:.3g} {unit}, {highest}"
    lines = [f"Low pressure only: stay below about {highest} here (common practice)."]
    if known.engine:
        lines[0] = f"Low pressure only: above about {highest} seals can be pushed out (common practice)."
        lines.append(
            "Never turn the crankshaft with the ports closed under pressure: a plug can be thrown out. Vent first."
        )
    if known.id == "tank":
        lines.append("Thin plastic tanks: +20 kPa or -10 kPa at most (common practice); a full tank can spray.")
    if known.id == "float-inlet":
        lines.append("Float bowls: 15 to 30 kPa at most (common practice); more forces a good needle.")
    lines.append("No shop air without a regulator and a relief valve.")
    lines.append("Wear eye protection and keep out of line with plugs and plates.")
    vapour = "Fuel vapour: drain, ventilate, no sparks, ground the plug lead"
    lines.append(f"{vapour}; use a trap so that no fuel reaches the gauge." if known.fuel else f"{vapour}.")
    lines.append("Let a hot engine cool before testing.")
    return tuple(lines)


AUTHORITY = (
    "The maker's service manual, local codes and licensed practice come first. "
    "This result is an aid to a competent person, not a substitute for one."
)
