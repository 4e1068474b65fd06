"""Short ways to analyse virtual holds."""

from __future__ import annotations

from typing import Any

import numpy as np

from leakdown.analysis import Analysis
from leakdown.judge.analyse import analyse
from leakdown.judge.limits import parse_limit
from leakdown.judge.settings import Settings
from leakdown.recording import Conditions, Mark, Recording
from tests.fit.truth import Case


def recording(time_s: Any, pressure_pa: Any, **said: Any) -> Recording:
    """A crankcase recording at sea level and 20 degC unless said otherwise."""
    extras = {key: said.pop(key) for key in ("by_hand", "temperature_k_column", "marks") if key in said}
    known = {"circuit": "crankcase", "volume_m3": 250e-6, "barometer_pa": 101_325.0, "temperature_k": 293.15} | said
    marks: tuple[Mark, ...] = extras.get("marks", ())
    return Recording(
        np.asarray(time_s, float),
        np.asarray(pressure_pa, float),
        extras.get("temperature_k_column"),
        marks=marks,
        conditions=Conditions(**known),
        source="virtual",
        by_hand=extras.get("by_hand", False),
    )


def analysed(time_s: Any, pressure_pa: Any, limit: str | None = None, hold_s: Any = None, **said: Any) -> Analysis:
    """The analysis of such a recording."""
    settings = Settings(limit=parse_limit(limit) if limit else None, hold_s=hold_s)
    return analyse(recording(time_s, pressure_pa, **said), settings)


def analysed_case(case: Case) -> Analysis:
    """The analysis of a virtual test with everything about it given."""
    return analysed(
        case.time_s,
        case.pressure_pa,
        volume_m3=case.volume_m3,
        barometer_pa=case.ambient_pa,
        resolution_pa=case.resolution_pa,
        by_hand=case.resolution_pa is not None,
        direction="vacuum" if case.vacuum else "pressure",
    )


def codes(analysis: Analysis) -> set[str]:
    """The codes of its flags."""
    return {flag.code for flag in analysis.flags}
