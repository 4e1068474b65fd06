"""What an action during a hold did to the leak: the part after a mark against the part before it.

The two parts are one circuit seconds apart, so they share the gauge's zero, the gas, the walls and the
flow law; the creep of the first goes on in the second. Each has its own starting pressure: a hand on the
hose moves the reading once, a change of the leak goes on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from leakdown.diagnose.held import Held, held_of, part_of
from leakdown.diagnose.joint import Part
from leakdown.diagnose.ratio import compared
from leakdown.estimate.analysis import Settings
from leakdown.estimate.model import DRIFT, LOG_TAU, ZERO, HoldModel
from leakdown.estimate.result import Analysis, Interval, MarkEffect

_HAND_S = 1.5  # how long a push or a turn lasts; those readings are left out (common practice)
_SHORTEST_S = 5.0
_FEWEST = 4
_KINDS = {
    "intake-boot": ("boot", "clamp", "flange", "manifold", "intake"),
    "shaft-seal": ("grease", "seal", "turn", "crank"),
    "impulse": ("impulse", "pulse"),
    "rig-blanks": ("blank", "plate", "reseat", "plug", "bung"),
    "rig-hose": ("hose", "fitting", "pump"),
    "decompression-valve": ("decomp",),
}
"""Words in a mark and the place or group whose leak they touch (common practice)."""


@dataclass(frozen=True)
class Moved:
    """A mark, the place or group it touches (None when its words name none), and whether the leak changed."""

    effect: MarkEffect
    place: str | None
    changed: bool
    steady: bool


def effects(whole: Held) -> tuple[MarkEffect, ...]:
    """The change of the leak at each mark inside the hold that has readings enough on both sides."""
    hold = whole.analysis.hold
    marks = [m for m in whole.analysis.recording.marks if hold.closed_s < m.time_s < hold.end_s]
    found = []
    for k, mark in enumerate(marks):
        begin = marks[k - 1].time_s + _HAND_S if k else hold.closed_s
        end = marks[k + 1].time_s if k + 1 < len(marks) else hold.end_s
        change = _change(whole, begin, mark.time_s, end)
        if change is not None:
            found.append(MarkEffect(mark.time_s, mark.text, change))
    return tuple(found)


def with_marks(analysis: Analysis, settings: Settings | None = None) -> Analysis:
    """The analysis with the effect of its marks filled in; untouched when there are none."""
    if not analysis.recording.marks or analysis.leak is None:
        return analysis
    return replace(analysis, marks=effects(held_of(analysis, settings)))


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
    return next((place for place, names in _KINDS.items() if any(name in words for name in names)), None)


def _change(whole: Held, begin_s: float, mark_s: float, end_s: float) -> Interval | None:
    after_s = mark_s + _HAND_S
    if mark_s - begin_s < _SHORTEST_S or end_s - after_s < _SHORTEST_S:
        return None
    time = whole.analysis.recording.time_s
    counts = [int(np.sum((time >= a) & (time <= b))) for a, b in ((begin_s, mark_s), (after_s, end_s))]
    if min(counts) < _FEWEST:
        return None
    before, after = part_of(whole, begin_s, mark_s), part_of(whole, after_s, end_s)
    if not (before.fit.converged and after.fit.converged):
        return None
    fading = HoldModel.creep(np.array([after_s - begin_s]))[0]
    parts = [Part(before, False), Part(after, True, 1.0, (DRIFT, ZERO, LOG_TAU), fading)]
    found = compared(parts)
    return None if found is None else found.ratio
