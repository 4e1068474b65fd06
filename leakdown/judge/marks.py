"""What an action during a hold did to the leak: the part after a mark against the part before it.

The two parts are one circuit seconds apart, so they share the gauge's zero, the gas, the walls and the
flow law; the creep of the first goes on in the second. Each has its own starting pressure: a hand on the
hose moves the reading once, a change of the leak goes on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from leakdown.analysis import Analysis, MarkEffect
from leakdown.errors import InputError
from leakdown.fit.model import DRIFT, LOG_TAU, ZERO, HoldModel
from leakdown.fit.ratio import JointHold as Part
from leakdown.fit.ratio import compared
from leakdown.fit.search import HoldFit
from leakdown.hold.parts import find
from leakdown.hold.readings import without_spikes
from leakdown.judge.held import Held, part_of
from leakdown.uncertainty import Interval

_HAND_S = 1.5  # how long a push or a turn lasts; those readings are left out (common practice)
_SHORTEST_S = 5.0
_FEWEST = 4
_GAP_S = 5.0
_KINDS = {
    "intake-boot": ("boot", "clamp", "flange", "manifold", "intake"),
    "shaft-seal": ("grease", "seal", "turn", "crank"),
    "impulse": ("impulse", "pulse"),
    "rig-blanks": ("blank", "plate", "reseat", "plug", "bung"),
    "rig-hose": ("hose", "fitting", "pump"),
    "decompression-valve": ("decomp",),
}
"""Words in a mark and the place or group whose leak they touch (common practice)."""
_SIDES = {
    "seal-flywheel-side": ("flywheel", "ignition", "magneto"),
    "seal-drive-side": ("drive", "clutch", "output", "pto"),
}
"""Words that tell which of the shaft seals (common practice)."""


@dataclass(frozen=True)
class Moved:
    """A mark, the place or group it touches (None when its words name none), and whether the leak changed."""

    effect: MarkEffect
    place: str | None
    changed: bool
    steady: bool


def effects(whole: Held) -> tuple[MarkEffect, ...]:
    """The change of the leak at each mark that has readings enough on both sides."""
    marks = whole.analysis.recording.marks
    found = []
    for k, mark in enumerate(marks):
        begin = marks[k - 1].time_s + _HAND_S if k else -math.inf
        end = marks[k + 1].time_s if k + 1 < len(marks) else math.inf
        change = _change(whole, begin, mark.time_s, end)
        if change is not None:
            found.append(MarkEffect(mark.time_s, mark.text, change))
    return tuple(found)


def with_marks(analysis: Analysis, fit: HoldFit | None) -> Analysis:
    """The analysis with the effect of its marks filled in; untouched when there are none."""
    if not analysis.recording.marks or analysis.leak is None or fit is None:
        return analysis
    return replace(analysis, marks=effects(Held(analysis, fit)))


def moved(whole: Held) -> tuple[Moved, ...]:
    """The same, with what each says about a place. Changed: the interval leaves 1 out by more than 15 %."""
    result = []
    for effect in effects(whole):
        ratio = effect.after_over_before
        changed = ratio.high < 1.0 / 1.15 or ratio.low > 1.15
        result.append(Moved(effect, touched(effect.text), changed, ratio.low > 0.8 and ratio.high < 1.25))
    return tuple(result)


def touched(text: str) -> str | None:
    """The place or group that a mark's words name."""
    words = text.lower()
    found = next((place for place, names in _KINDS.items() if any(name in words for name in names)), None)
    sides = (side for side, names in _SIDES.items() if any(name in words for name in names))
    return next(sides, found) if found == "shaft-seal" else found


def _change(whole: Held, begin_s: float, mark_s: float, end_s: float) -> Interval | None:
    """After over before, when the holds on both sides reach up to the mark."""
    after_s = mark_s + _HAND_S
    first, second = _hold_within(whole, begin_s, mark_s), _hold_within(whole, after_s, end_s)
    if first is None or second is None or first[1] < mark_s - _GAP_S or second[0] > after_s + _GAP_S:
        return None
    span = (first[0], second[1])
    before, after = part_of(whole, *first, span), part_of(whole, *second, span)
    if not (before.fit.converged and after.fit.converged):
        return None
    fading = HoldModel.creep(np.array([second[0] - first[0]]))[0]
    parts = [Part(before, False), Part(after, True, 1.0, (DRIFT, ZERO, LOG_TAU), fading)]
    found = compared(parts)
    return None if found is None else found.ratio


def _hold_within(whole: Held, start_s: float, end_s: float) -> tuple[float, float] | None:
    """Start and end of the hold in a stretch of the recording, or None when it is too short to tell."""
    resolution = whole.analysis.used.resolution_pa.value or 0.0
    clean, _ = without_spikes(whole.analysis.recording, resolution)
    part = clean.between(start_s, end_s)
    if part.time_s.size < _FEWEST:
        return None
    try:
        window = find(part, resolution)
    except InputError:
        return None
    inside = int(np.sum((part.time_s >= window.closed_s) & (part.time_s <= window.end_s)))
    long_enough = window.end_s - window.closed_s >= _SHORTEST_S and inside >= _FEWEST
    return (window.closed_s, window.end_s) if long_enough else None
