"""Is the leak big enough to explain the complaint? Its share of the air that the engine breathes at idle.

Rough, good to a factor of three, and a different question from "over the limit": failing a limit is often
wear and not the cause. Every constant is common practice from memory, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from leakdown.physics.flow import DISCHARGE_COEFFICIENT, orifice_throughput
from leakdown.quantities import ATMOSPHERE_PA, REFERENCE_TEMPERATURE_K
from leakdown.uncertainty import Interval

IDLE_PER_MIN = 2800.0  # (practice)
_DELIVERY_RATIO = 0.2  # of the swept volume breathed each turn at idle (practice): 28 L/min at 50 cm3
_MEAN_VACUUM_PA = 6_000.0  # what draws on a leak on the average of a turn at idle (practice)
FACTOR = 3.0  # how rough the share is, either way
_MATTERS, _NO_MATTER = 0.05, 0.01  # shares of the idle air (practice)

_LEAST = 1e-4  # shares below this are not worth a figure

Word = Literal["too small", "may be", "big enough"]


@dataclass(frozen=True)
class IdleShare:
    """Leak over idle air, with a factor of three either way, and what that means for the complaint."""

    share: Interval
    leak_m3_s: float
    idle_m3_s: float
    word: Word
    sentence: str


def idle_air_m3_s(swept_m3: float, idle_per_min: float = IDLE_PER_MIN) -> float:
    """Ambient air breathed at idle: swept volume x turns x delivery ratio 0.2."""
    return swept_m3 * idle_per_min / 60.0 * _DELIVERY_RATIO


def idle_share(
    hole_m: float, swept_m3: float, idle_per_min: float = IDLE_PER_MIN, ambient_pa: float = ATMOSPHERE_PA
) -> IdleShare:
    """Share of the idle air that an equivalent hole of diameter `hole_m` lets in; not for the fuel side."""
    return share_of_hole(Interval(hole_m, hole_m, hole_m), swept_m3, idle_per_min, ambient_pa)


def share_of_hole(
    hole_m: Interval,
    swept_m3: float,
    idle_per_min: float = IDLE_PER_MIN,
    ambient_pa: float = ATMOSPHERE_PA,
    how: str = "",
) -> IdleShare:
    """The same for a hole with its interval; `value` None is a leak that was not seen. how: of the size."""
    idle = idle_air_m3_s(swept_m3, idle_per_min)
    low, high = (_drawn_m3_s(d, ambient_pa) / idle for d in (hole_m.low, hole_m.high))
    seen = hole_m.value is not None
    leak = _drawn_m3_s(hole_m.high if hole_m.value is None else hole_m.value, ambient_pa)
    share = leak / idle
    word: Word = "big enough" if share >= _MATTERS else "too small" if share < _NO_MATTER else "may be"
    if not seen and word != "too small":
        word = "may be"
    rough = f"rough, to a factor of {FACTOR:g}" + (f"; {how}" if how else "")
    about = "" if share < _LEAST else "about " if seen else "at most "
    sentence = f"{_MEANING[word]}: {about}{_percent(share)} of the idle air ({rough})."
    value = share if seen else None
    return IdleShare(
        Interval(value, low / FACTOR if seen else 0.0, high * FACTOR), leak, idle, word, sentence
    )


_MEANING = {
    "big enough": "Big enough to upset the mixture at idle",
    "may be": "It may explain the complaint, or be wear that does not matter",
    "too small": "Too small to explain a lean or high idle by itself",
}


def _drawn_m3_s(hole_m: float, ambient_pa: float) -> float:
    """Ambient air per second through a sharp-edged hole at the mean vacuum of idling."""
    area = DISCHARGE_COEFFICIENT * math.pi / 4.0 * hole_m**2
    inside = ambient_pa - _MEAN_VACUUM_PA
    return orifice_throughput(ambient_pa, inside, area, REFERENCE_TEMPERATURE_K) / ambient_pa


def _percent(share: float) -> str:
    return "less than 0.01 %" if share < _LEAST else f"{100.0 * share:.2g} %"
