"""What pumping will be like, said before it begins. Pure."""

from __future__ import annotations

from leakdown.gauges.live.lead import Aim
from leakdown.gauges.live.strokes import STROKE_M3, fill_warning, strokes_to
from leakdown.physics.volume import stroke_rise_pa
from leakdown.quantities import PRESSURE_PA, significant


def before_pumping(aim: Aim, volume_m3: float | None, ambient_pa: float) -> list[str]:
    """One line on strokes, and a warning where a single stroke is much; nothing without a volume."""
    if volume_m3 is None or aim.pressure_pa is None and aim.vacuum_pa is None:
        return []
    rise = stroke_rise_pa(STROKE_M3, volume_m3, ambient_pa)
    parts = [
        f"{_strokes(strokes_to(target_pa, volume_m3, ambient_pa))} to {_target(target_pa, aim.unit)}"
        for target_pa in (aim.pressure_pa, -aim.vacuum_pa if aim.vacuum_pa else None)
        if target_pa
    ]
    line = (
        f"One full stroke of a {STROKE_M3 * 1e6:g} cm3 pump moves {volume_m3 * 1e6:g} cm3 by about "
        f"{_shown(rise, aim.unit)}: {', '.join(parts)}."
    )
    warning = fill_warning(aim.pressure_pa or 0.0, volume_m3, ambient_pa)
    return [line, f"Careful: {warning}."] if warning else [line]


def _strokes(count: float) -> str:
    return f"{count:.1f} strokes" if count < 10 else f"{count:.0f} strokes"


def _target(pressure_pa: float, unit: str) -> str:
    return f"{_shown(abs(pressure_pa), unit)}{' of vacuum' if pressure_pa < 0 else ''}"


def _shown(pressure_pa: float, unit: str) -> str:
    return f"{significant(pressure_pa / PRESSURE_PA[unit], 2)} {unit}"
