"""Is the leak big enough to explain the complaint? Its share of the air that the engine breathes at idle.

Rough, good to a factor of three, and a different question from "over the limit": failing a limit is often
wear and not the cause. Every constant is common practice from memory, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from leakdown.estimate.result import Interval
from leakdown.physics.flow import DISCHARGE_COEFFICIENT, orifice_throughput
from leakdown.quantities import ATMOSPHERE_PA, REFERENCE_TEMPERATURE_K

IDLE_PER_MIN = 2800.0  # (practice)
_DELIVERY_RATIO = 0.2  # of the swept volume breathed each turn at idle (practice): 28 L/min at 50 cm3
_MEAN_VACUUM_PA = 6_000.0  # what draws on a leak on the average of a turn at idle (practice)
FACTOR = 3.0  # how rough the share is, either way
_MATTERS, _NO_MATTER = 0.05, 0.01  # shares of the idle air (practice)

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
    area = DISCHARGE_COEFFICIENT * math.pi / 4.0 * hole_m**2
    inside = ambient_pa - _MEAN_VACUUM_PA
    leak = orifice_throughput(ambient_pa, inside, area, REFERENCE_TEMPERATURE_K) / ambient_pa
    idle = idle_air_m3_s(swept_m3, idle_per_min)
    share = leak / idle
    word: Word = "big enough" if share >= _MATTERS else "too small" if share < _NO_MATTER else "may be"
    meaning = {
        "big enough": "big enough to upset the mixture at idle",
        "may be": "it may explain the complaint, or be wear that does not matter",
        "too small": "too small to explain a lean or high idle by itself; look on",
    }[word]
    sentence = (
        f"The leak is about {_percent(share)} of the air breathed at idle "
        f"(rough, a factor of {FACTOR:g} either way): {meaning}."
    )
    return IdleShare(Interval(share, share / FACTOR, share * FACTOR), leak, idle, word, sentence)


def _percent(share: float) -> str:
    return f"{100.0 * share:.2g} %"
