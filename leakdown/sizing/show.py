"""SizedVolume -> the JSON object and the lines for a screen."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from leakdown.sizing.volume import SizedVolume

Wrap = Callable[[str, int, str, str], list[str]]


def volume_object(sized: SizedVolume) -> dict[str, Any]:
    """Plain dicts, text and finite numbers, in cm3."""
    v = sized.volume_m3
    value = 0.0 if v.value is None else v.value
    return {
        "method": sized.method,
        "volume_cm3": {"value": value * 1e6, "low": v.low * 1e6, "high": v.high * 1e6},
        "standard_uncertainty_cm3": sized.u_m3 * 1e6,
        "rig": sized.rig,
        "formula": sized.formula,
        "used": [
            {"name": x.name, "doubt": x.source, "text": x.note, "adds_cm3": abs(part) * 1e6}
            for x, (_, part) in zip(sized.inputs, sized.parts, strict=False)
        ],
        "notes": list(sized.warnings),
    }


def volume_lines(sized: SizedVolume, width: int, wrap: Wrap) -> list[str]:
    """The answer, what to type next, the sum, and what was assumed."""
    v = sized.volume_m3
    value = 0.0 if v.value is None else v.value
    doubt = max(v.high / value - 1.0, 1.0 - v.low / value) * 100.0
    lines = [
        f"Volume {value * 1e6:.1f} cm3, between {v.low * 1e6:.1f} and {v.high * 1e6:.1f} cm3 (95 %).",
        *wrap(sized.rig, width, "", "  "),
        f'Use it as: --volume "{value * 1e6:.1f} cm3" --volume-uncertainty "{doubt:.2g} %"',
        "",
        *wrap(sized.formula, width, "", "  "),
        *(line for x in sized.inputs for line in wrap(x.note, width, "  - ", "    ")),
    ]
    return [*lines, *(line for text in sized.warnings for line in wrap(text, width, "", "  "))]
