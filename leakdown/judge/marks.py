"""What an action during a hold did to the leak: the part after a mark against the part before it.

The two parts are one circuit seconds apart, so they share the gauge's zero, the gas, the walls and the
flow law; the creep of the first goes on in the second. Each has its own starting pressure: a hand on the
hose moves the reading once, a change of the leak goes on.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

import numpy as np

from leakdown.analysis import Analysis, MarkEffect
from leakdown.errors import InputError
from leakdown.fit.inputs import ambient_pa, priors_of, temperature_corrected, zero_corrected
from leakdown.fit.model import DRIFT, LOG_TAU, ZERO, HoldModel
from leakdown.fit.ratio import JointHold, compared
from leakdown.fit.search import HoldFit, search
from leakdown.hold.parts import find
from leakdown.hold.readings import prepare, without_spikes
from leakdown.judge.judged import FittedTest
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval

_T = tuned("judge")
_HAND_S: float = _T.hand_s
_TOUCHED = (
    ("rig-blanks", r"blanks?|blanking|plates?|bungs?|reseat\w*|rubber plug"),
    ("plug-thread", r"spark[ -]?plugs?|plug (?:washer|thread|tight\w*)|tight\w* (?:the )?plug"),
    ("rig-blanks", r"plugs?"),
    ("rig-hose", r"hoses?|fittings?|pump|shut[ -]?off|gauge|tee"),
    ("decompression-valve", r"decomp\w*|compression release"),
    ("seal-flywheel-side", r"flywheel|ignition|magneto"),
    ("seal-drive-side", r"drive|clutch|output|pto"),
    ("shaft-seal", r"greas\w*|seals?|turn\w*|crank(?:shaft)?|angle"),
    ("impulse", r"impulse|pulse"),
    ("base-gasket", r"base|foot of the cylinder|cylinder foot"),
    ("crankcase-joint", r"(?:case|crankcase) (?:joint|seam|halves)|joint"),
    ("intake-boot", r"boots?|clamps?|flange|manifold|intake"),
    ("oil-pump", r"oil[ -]?pump|oiler"),
)
"""Words in a mark and the place or group that was touched, the first that says so (common practice): an intake blank
is a blank, a spark plug no rubber plug, oil on the magneto side meets the seal there."""


@dataclass(frozen=True)
class Moved:
    """A mark, the place or group it touches (None when its words name none), and whether the leak changed."""

    effect: MarkEffect
    place: str | None
    changed: bool
    steady: bool


def effects(whole: FittedTest) -> tuple[MarkEffect, ...]:
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
    return replace(analysis, marks=effects(FittedTest(analysis, fit)))


def moved(whole: FittedTest) -> tuple[Moved, ...]:
    """The same, with what each says about a place. Changed: the interval leaves 1 out by more than 15 %."""
    result = []
    for effect in effects(whole):
        ratio = effect.after_over_before
        changed = ratio.high < 1.0 / _T.changed or ratio.low > _T.changed
        steady = ratio.low > 1.0 / _T.steady and ratio.high < _T.steady
        result.append(Moved(effect, touched(effect.text), changed, steady))
    return tuple(result)


def touched(text: str) -> str | None:
    """The place or group that a mark's words name, whole words only."""
    words = text.lower()
    return next((place for place, names in _TOUCHED if re.search(rf"\b(?:{names})\b", words)), None)


def _change(whole: FittedTest, begin_s: float, mark_s: float, end_s: float) -> Interval | None:
    """After over before, when the holds on both sides reach up to the mark."""
    after_s = mark_s + _HAND_S
    first, second = _hold_within(whole, begin_s, mark_s), _hold_within(whole, after_s, end_s)
    if first is None or second is None:
        return None
    if first[1] < mark_s - _T.mark_gap_s or second[0] > after_s + _T.mark_gap_s:
        return None
    span = (first[0], second[1])
    before, after = _fit_of_part(whole, *first, span), _fit_of_part(whole, *second, span)
    if not (before.fit.converged and after.fit.converged):
        return None
    fading = HoldModel.creep(np.array([second[0] - first[0]]))[0]
    parts = [JointHold(before, False), JointHold(after, True, 1.0, (DRIFT, ZERO, LOG_TAU), fading)]
    found = compared(parts)
    return None if found is None else found.ratio


def _fit_of_part(whole: FittedTest, start_s: float, end_s: float, span_s: tuple[float, float]) -> HoldFit:
    """The plain fit of a part of a recording, with the whole test's priors.

    start_s, end_s, and the span over which a temperature column is smoothed: the recording's clock.
    """
    analysis, model = whole.analysis, whole.found.model
    recording, resolution = analysis.recording, analysis.used.resolution_pa.value or 0.0
    clean = zero_corrected(without_spikes(recording, resolution)[0], analysis.hold)
    corrected, _ = temperature_corrected(clean.between(*span_s), analysis.used)
    part = corrected.between(start_s, end_s)
    readings = prepare(part.time_s - start_s, part.pressure_pa, resolution, recording.by_hand)
    priors = priors_of(clean, analysis.hold, analysis.used, start_s)
    return search(HoldModel(readings, ambient_pa(analysis.used), whole.inward, model.quote_pa, priors))


def _hold_within(whole: FittedTest, start_s: float, end_s: float) -> tuple[float, float] | None:
    """Start and end of the hold in a stretch of the recording, or None when it is too short to tell."""
    resolution = whole.analysis.used.resolution_pa.value or 0.0
    clean, _ = without_spikes(whole.analysis.recording, resolution)
    part = clean.between(start_s, end_s)
    if part.time_s.size < _T.beside_mark_readings:
        return None
    try:
        window = find(part, resolution)
    except InputError:
        return None
    inside = int(np.sum((part.time_s >= window.closed_s) & (part.time_s <= window.end_s)))
    long_enough = window.end_s - window.closed_s >= _T.beside_mark_s and inside >= _T.beside_mark_readings
    return (window.closed_s, window.end_s) if long_enough else None
