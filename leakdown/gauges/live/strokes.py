"""Hand-pump arithmetic by Boyle's law: what one stroke adds, how many are needed, what the count proves.

Isothermal ideal gas; the pump takes ambient air in and pushes all of it out (a vacuum pump takes the
same volume out at the vessel's pressure). Real pumps manage less near their end pressure.
"""

from __future__ import annotations

import math

from leakdown.errors import UsageError
from leakdown.physics.volume import stroke_rise_pa

STROKE_M3 = 15e-6
"""A common hand pump moves about 15 cm3 a stroke (common practice, no source)."""


def strokes_to(target_pa: float, volume_m3: float, ambient_pa: float, stroke_m3: float = STROKE_M3) -> float:
    """Strokes from ambient to a gauge pressure, fractions included.

    Pressure: n = V p / (p_a v). Vacuum: each stroke multiplies the absolute pressure by V / (V + v), so
    n = ln(p_a / (p_a + p)) / ln(1 + v/V). Raises UsageError for a target below a perfect vacuum.
    """
    if target_pa <= -ambient_pa:
        raise UsageError(f"{target_pa / 1e3:g} kPa is below a perfect vacuum")
    if target_pa >= 0:
        return target_pa / stroke_rise_pa(stroke_m3, volume_m3, ambient_pa)
    return math.log(ambient_pa / (ambient_pa + target_pa)) / math.log1p(stroke_m3 / volume_m3)


def volume_by_strokes_m3(
    strokes: float, reached_pa: float, ambient_pa: float, stroke_m3: float = STROKE_M3
) -> float:
    """The volume that a counted number of strokes filled (Boyle): proof that the gauge sees the engine."""
    if strokes <= 0 or reached_pa == 0 or reached_pa <= -ambient_pa:
        raise UsageError("a stroke count above zero and a pressure other than zero are needed")
    if reached_pa > 0:
        return strokes * stroke_m3 * ambient_pa / reached_pa
    return stroke_m3 / math.expm1(math.log(ambient_pa / (ambient_pa + reached_pa)) / strokes)


def fill_warning(target_pa: float, volume_m3: float, ambient_pa: float, stroke_m3: float = STROKE_M3) -> str:
    """A warning when a single stroke adds more than half the target, else ""."""
    rise_pa = stroke_rise_pa(stroke_m3, volume_m3, ambient_pa)
    if target_pa <= 0 or rise_pa <= 0.5 * target_pa:
        return ""
    return (
        f"one full stroke of {stroke_m3 * 1e6:g} cm3 adds {rise_pa / 1e3:.0f} kPa in "
        f"{volume_m3 * 1e6:g} cm3: pump in small parts of a stroke"
    )
