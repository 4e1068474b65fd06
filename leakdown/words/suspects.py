"""Triage -> the JSON object of `suspects --json` and the lines for a screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from leakdown.where.complaint_knowledge import Check
from leakdown.where.heard import Heard
from leakdown.where.suspects import Triage
from leakdown.words.numbers import percent_words
from leakdown.words.wrap import Style, Wrap

_SHOWN = 8
_WITH_REASONS = 3


def triage_object(found: Triage) -> dict[str, Any]:
    """Plain dicts, text and finite numbers."""
    return {
        "suspects": [asdict(s) | {"reasons": list(s.reasons)} for s in found.suspects],
        "next_test": _check(found.next_test),
        "quick_checks": [_check(check) for check in found.quick],
        "leak_test": {"crankcase": found.leak_test, "fuel_side": found.fuel_test, "text": found.plain},
        "answers": list(found.answers),
        "note": found.caveat,
    }


def heard_object(found: Heard, ask: Sequence[str]) -> dict[str, Any]:
    """What of a complaint's words was understood, with the words; what was not; what is worth asking."""
    return {
        "understood": [{"id": one.id, "from": one.words} for one in found.taken],
        "not_understood": list(found.left_over),
        "ask": list(ask),
    }


def _check(check: Check) -> dict[str, Any]:
    return {"do": check.do, "why": check.why, "minutes": check.minutes}


def triage_lines(found: Triage, width: int, wrap: Wrap, style: Style) -> list[str]:
    """What to do first, who is suspected and why, and what no test will tell."""
    lines = []
    if found.suspects:
        first = found.suspects[0]
        head = f"Most likely: {first.name} ({percent_words(first.probability)}, the trade's judgement)."
        lines = [style(line, "strong") for line in wrap(head, width, "", "")]
    lines += wrap(f"Next: {found.next_test.do} Why: {found.next_test.why}.", width, "", "      ")
    lines += [*wrap(found.plain, width, "", "  "), ""]
    for rank, suspect in enumerate(found.suspects[:_SHOWN]):
        kind = "" if suspect.leak else " (no leak test finds it)"
        lines += wrap(f"{percent_words(suspect.probability):>5}  {suspect.name}{kind}", width, "", "       ")
        for reason in suspect.reasons if rank < _WITH_REASONS else ():
            lines += wrap(reason, width, "         - ", "           ")
    rest = sum(s.probability for s in found.suspects[_SHOWN:])
    lines += [f"{percent_words(rest):>5}  everything else"] if found.suspects else []
    quick = [check for check in found.quick if check != found.next_test]
    if quick:
        lines += ["", "Two-minute checks first:"]
        lines += [line for check in quick for line in wrap(check.do, width, "  - ", "    ")]
    return [*lines, "", *wrap(found.caveat, width, "", "  ")]
