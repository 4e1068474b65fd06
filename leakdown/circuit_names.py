"""Names of the circuits under test, trade synonyms included. A leaf: a name alone loads no arrays."""

from __future__ import annotations

import re

from leakdown.errors import UsageError

CIRCUITS = ("crankcase", "intake", "impulse", "fuel-line", "carburettor-inlet", "float-inlet", "tank", "rig")
_SYNONYMS = {
    "case": "crankcase",
    "manifold": "intake",
    "boot": "intake",
    "intake-tract": "intake",
    "pulse-line": "impulse",
    "impulse-line": "impulse",
    "pulse": "impulse",
    "fuel": "fuel-line",
    "pickup-line": "fuel-line",
    "fuel-pickup-line": "fuel-line",
    "inlet": "carburettor-inlet",
    "carburetor-inlet": "carburettor-inlet",
    "carb-inlet": "carburettor-inlet",
    "float-bowl": "float-inlet",
    "vent": "tank",
    "tank-vent": "tank",
    "hose": "rig",
}


def circuit_named(text: str) -> str:
    """The circuit that `text` names, trade synonyms included. Raises UsageError with the known names."""
    plain = re.sub(r"[\s_]+", "-", text.strip().lower())
    name = _SYNONYMS.get(plain, plain)
    if name not in CIRCUITS:
        raise UsageError(f"unknown circuit {text!r}", remedy=f"Known circuits: {', '.join(CIRCUITS)}.")
    return name
