"""Inlet needle: does it open where it should, the same each time, close again and stay closed?"""

from __future__ import annotations

from typing import Literal

import numpy as np

from leakdown.analysis import Flag
from leakdown.estimate.limits import caution_pa
from leakdown.oneway.pops import pop_offs
from leakdown.oneway.result import NeedleResult, PopOff, Word
from leakdown.recording import Recording
from leakdown.uncertainty import Interval, student_95

Kind = Literal["carburettor-inlet", "float-inlet"]

# Common practice, no source.
REPEATS = 5
SPREAD = 0.15
_DRIBBLES_PER_S = 0.01  # relative loss per second after reseating
_SLOWEST_S = 0.15  # between readings: a pop-off is over in a few tenths
_STUCK_ABOVE_PA = 250e3  # a needle that holds this does not open at all


def needle(
    recording: Recording, kind: Kind = "carburettor-inlet", range_pa: float | None = None
) -> NeedleResult:
    """Judge a log of pop-offs. range_pa: the end of the gauge's scale, beyond which nothing was measured."""
    p, t = recording.pressure_pa, recording.time_s
    pops = pop_offs(t, p, range_pa)
    measured = [pop for pop in pops if not pop.clipped]
    openings = np.array([pop.opening_pa for pop in measured])
    spread = float(np.ptp(openings) / openings.mean()) if openings.size > 1 else None
    highest = float(p.max(initial=0.0))
    word, reason = _judged(pops, measured, spread, highest, kind, range_pa)
    return NeedleResult(
        pops=pops,
        opening_pa=_mean(openings),
        reseat_pa=_mean(np.array([x.reseat_pa for x in measured if x.reseat_pa is not None])),
        spread=spread,
        highest_pa=highest,
        word=word,
        reason=reason,
        flags=_flags(recording, pops, highest, kind, range_pa),
    )


def _mean(values: np.ndarray) -> Interval | None:
    """Mean of repeats with its 95 % interval (Student); one value alone has no interval of its own."""
    if values.size == 0:
        return None
    mean = float(values.mean())
    if values.size == 1:
        return Interval(mean, mean * (1.0 - SPREAD), mean * (1.0 + SPREAD))
    half = student_95(values.size - 1) * float(values.std(ddof=1)) / values.size**0.5
    return Interval(mean, max(mean - half, 0.0), mean + half)


def _judged(
    pops: tuple[PopOff, ...],
    measured: list[PopOff],
    spread: float | None,
    highest_pa: float,
    kind: Kind,
    range_pa: float | None,
) -> tuple[Word, str]:
    if not pops:
        return _without_pop(highest_pa, kind, range_pa)
    open_ = sum(pop.reseat_pa is None for pop in pops)
    if open_:
        ran = f"{open_} of {len(pops)} openings ran empty"
        return "fail", f"It does not close again ({ran}): seat, needle or dirt."
    dribbling = sum(pop.fall_per_s > _DRIBBLES_PER_S for pop in pops)
    if dribbling:
        return (
            "fail",
            f"It dribbles: after {dribbling} of {len(pops)} openings the pressure fell on by more than "
            "1 % a second below the reseat pressure.",
        )
    if len(measured) < len(pops):
        return "undecided", "It opened at the end of the gauge's range: use a gauge that reaches further."
    if spread is not None and spread > SPREAD:
        return (
            "fail",
            f"The openings differ by {100 * spread:.0f} % (more than {100 * SPREAD:.0f} %): dirt, a dry or "
            "worn needle. Wet it and repeat before changing it.",
        )
    if len(pops) < REPEATS:
        return "undecided", f"Only {len(pops)} of {REPEATS} openings: repeat, wet."
    return "pass", f"{len(pops)} openings agree within {100 * (spread or 0.0):.0f} %; each closes."


def _without_pop(highest_pa: float, kind: Kind, range_pa: float | None) -> tuple[Word, str]:
    top = f"{highest_pa / 1e3:.3g} kPa"
    if kind == "float-inlet":
        return "undecided", f"A float needle need not open: it held up to {top}; judge it by its hold."
    if range_pa is not None and highest_pa >= 0.985 * range_pa:
        return "undecided", f"It did not open up to the gauge's end ({top}): use one that reaches further."
    if highest_pa >= _STUCK_ABOVE_PA:
        return "fail", f"It does not open up to {top}: needle stuck, lever or spring wrong, passage blocked."
    return "undecided", f"It did not open up to {top}; pump on, slowly, within the gauge's range."


def _flags(
    recording: Recording, pops: tuple[PopOff, ...], highest_pa: float, kind: Kind, range_pa: float | None
) -> tuple[Flag, ...]:
    flags = []
    if recording.time_s.size > 1 and float(np.median(np.diff(recording.time_s))) > _SLOWEST_S:
        flags.append(
            Flag("slow-log", "A pop-off takes tenths of a second: log 10 readings a second or more.")
        )
    if range_pa is None:
        flags.append(
            Flag(
                "range-unknown",
                'Say the end of the gauge\'s scale (popoff --range, or "range: 100 kPa" in the file): '
                "nothing beyond it counts.",
            )
        )
    if any(pop.clipped for pop in pops):
        flags.append(Flag("over-range", "Some openings were at the end of the gauge's scale and are higher."))
    caution = caution_pa(kind, "pressure")
    if kind == "float-inlet" and highest_pa > 1.02 * caution:
        flags.append(
            Flag(
                "over-caution-pressure",
                f"{highest_pa / 1e3:.3g} kPa on a float bowl: above {caution / 1e3:g} kPa one is forced.",
            )
        )
    return tuple(flags)
