"""SetUp -> JSON object and lines for a screen."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from leakdown.circuits.set_up import SetUp, Target

Wrap = Callable[[str, int, str, str], list[str]]


def set_up_object(found: SetUp) -> dict[str, Any]:
    """Plain dicts, text and finite numbers."""
    return {
        "circuit": found.circuit,
        "name": found.name,
        "four_stroke": found.four_stroke,
        "volume_cm3": list(found.volume_cm3),
        "targets": [
            {
                "direction": t.direction,
                "fill_kpa": t.fill_kpa,
                "limit": t.limit or None,
                "caution_kpa": t.caution_kpa,
            }
            for t in found.targets
        ],
        "set_up": list(found.steps),
        "healthy": found.healthy,
        "mind": list(found.mind),
    }


def set_up_lines(found: SetUp, width: int, wrap: Wrap) -> list[str]:
    """A page to have on the bench."""
    low, high = found.volume_cm3
    lines = [
        f"{found.circuit}: {found.name}",
        *wrap(f"Usual volume {low:g} to {high:g} cm3.", width, "  ", "  "),
    ]
    lines += [line for t in found.targets for line in wrap(_words(t), width, "  ", "    ")]
    lines += ["Set up"]
    lines += [
        line for k, step in enumerate(found.steps, 1) for line in wrap(step, width, f"  {k}. ", "     ")
    ]
    lines += [*wrap(f"Healthy: {found.healthy}", width, "", "  "), "Mind"]
    lines += [line for text in found.mind for line in wrap(text, width, "  ! ", "    ")]
    return [*lines, "All common practice: the maker's service manual comes first."]


def _words(target: Target) -> str:
    sign = "-" if target.direction == "vacuum" else "+"
    limit = f"; limit {target.limit}" if target.limit else ""
    beyond = f"never beyond {sign}{target.caution_kpa:g} kPa"
    return f"{target.direction}: fill to {sign}{target.fill_kpa:g} kPa{limit}; {beyond}."
