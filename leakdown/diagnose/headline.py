"""The first sentence of an answer: what it comes to, in words that claim no more than the numbers do."""

from __future__ import annotations

from collections.abc import Sequence

from leakdown.diagnose.evidence import Evidence
from leakdown.diagnose.expected import NO_LEAK
from leakdown.diagnose.result import Group
from leakdown.diagnose.text import percent_words

_LIKELY, _CLEAR = 0.5, 0.85


def headline(groups: Sequence[Group], evidence: Evidence) -> str:
    """One sentence."""
    first = groups[0]
    if first.group == NO_LEAK:
        return _nothing_found(first, evidence)
    found = _ranked(groups, ", this complaint" if evidence.complaint else "")
    split = _split(evidence)
    return f"{found} {split}" if split else found


def _ranked(groups: Sequence[Group], besides: str) -> str:
    first = groups[0]
    percent = percent_words(first.probability)
    if first.probability >= _CLEAR:
        return f"Consistent with the {first.name}: {percent} by common practice{besides} and these tests."
    if first.probability >= _LIKELY:
        return f"Most consistent with the {first.name} ({percent}); the others are not ruled out."
    second = groups[1]
    return (
        f"Cannot tell yet: {first.name} ({percent}) or {second.name} "
        f"({percent_words(second.probability)}); see the next test."
    )


def _split(evidence: Evidence) -> str:
    """The measured sections that carry a sixth of the leak or more, when more than one does."""
    told: dict[tuple[str, ...], float] = {}
    for share in evidence.shares:
        values = [
            interval.value for _, interval in share.together or share.shares if interval.value is not None
        ]
        if values:
            told[tuple(sorted((share.section, *share.with_)))] = max(values)
    large = {names: value for names, value in told.items() if value > 1.0 / 6.0}
    if len(large) < 2:
        return ""
    return (
        "More than one section leaks: "
        + "; ".join(f"{' and '.join(n)} up to {100 * v:.0f} %" for n, v in large.items())
        + "."
    )


def _nothing_found(first: Group, evidence: Evidence) -> str:
    if evidence.circuit == "tank" and evidence.pressure is not None and not evidence.pressure.tight:
        return (
            "The vent breathes in more easily than out, but the tank loses pressure: look at the pressure "
            "test's own verdict (vent stuck open, cap or seam)."
        )
    if evidence.circuit == "tank":
        return f"The vent breathes in and holds pressure, as it should ({percent_words(first.probability)})."
    tested = [n for n, seen in (("pressure", evidence.pressure), ("vacuum", evidence.vacuum)) if seen]
    if any(seen and not seen.tight for seen in (evidence.pressure, evidence.vacuum)):
        return "Vapour or temperature would explain what was seen: repeat before taking anything apart."
    return f"No leak found under {' and '.join(tested)}, cold, at this crank position."
