"""Inlet needle: does it open where it should, the same each time, close again and stay closed?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from leakdown.analysis import Figure, Finding, Flag, Limit, Verdict, VerdictWord
from leakdown.circuits import circuit
from leakdown.hold.parts import Parts
from leakdown.judge.judged import Judged, without_size
from leakdown.judge.pop_offs import PopOff, pop_offs
from leakdown.judge.settings import Settings
from leakdown.quantities import parse_pressure
from leakdown.recording import Recording
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval, student_95

Kind = Literal["carburettor-inlet", "float-inlet"]

_T = tuned("judge")
REPEATS: int = _T.openings_wanted
SPREAD: float = _T.openings_spread


@dataclass(frozen=True)
class NeedleResult:
    """Openings of one recording. spread: (highest - lowest) / mean of the openings, None below two."""

    pops: tuple[PopOff, ...]
    opening_pa: Interval | None
    reseat_pa: Interval | None
    spread: float | None
    highest_pa: float
    word: VerdictWord
    reason: str
    flags: tuple[Flag, ...]

    @property
    def hold_at_pa(self) -> float | None:
        """Where to hold a minute next: 70 % of the reseat pressure (common practice)."""
        if self.reseat_pa is None or self.reseat_pa.value is None:
            return None
        return float(_T.hold_at * self.reseat_pa.value)


def needle(recording: Recording, kind: Kind = "carburettor-inlet", range_pa: float | None = None) -> NeedleResult:
    """Judge a log of pop-offs. range_pa: the end of the gauge's scale, beyond which nothing was measured."""
    p, t = recording.pressure_pa, recording.time_s
    pops = pop_offs(t, p, range_pa)
    measured = [pop for pop in pops if not pop.clipped]
    openings = np.array([pop.opening_pa for pop in measured])
    spread = float(np.ptp(openings) / openings.mean()) if openings.size > 1 else None
    highest = float(p.max(initial=0.0))
    word, reason = _judged(pops, spread) if pops else _without_pop(highest, kind, range_pa)
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


def _judged(pops: tuple[PopOff, ...], spread: float | None) -> tuple[VerdictWord, str]:
    open_ = sum(pop.reseat_pa is None for pop in pops)
    if open_:
        ran = f"{open_} of {len(pops)} openings ran empty"
        return "fail", f"It does not close again ({ran}): seat, needle or dirt."
    dribbling = sum(pop.fall_per_s > _T.dribbles_per_s for pop in pops)
    if dribbling:
        return (
            "fail",
            f"It dribbles: after {dribbling} of {len(pops)} openings the pressure fell on by more than "
            "1 % a second below the reseat pressure.",
        )
    if any(pop.clipped for pop in pops):
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


def _without_pop(highest_pa: float, kind: Kind, range_pa: float | None) -> tuple[VerdictWord, str]:
    top = f"{highest_pa / 1e3:.3g} kPa"
    if kind == "float-inlet":
        return "undecided", f"A float needle need not open: it held up to {top}; judge it by its hold."
    if range_pa is not None and highest_pa >= _T.full_scale * range_pa:
        return "undecided", f"It did not open up to the gauge's end ({top}): use one that reaches further."
    if highest_pa >= _T.stuck_above_pa:
        return "fail", f"It does not open up to {top}: needle stuck, lever or spring wrong, passage blocked."
    return "undecided", f"It did not open up to {top}; pump on, slowly, within the gauge's range."


def _flags(
    recording: Recording, pops: tuple[PopOff, ...], highest_pa: float, kind: Kind, range_pa: float | None
) -> tuple[Flag, ...]:
    caution = circuit(kind).caution_pa("pressure")
    slow = recording.time_s.size > 1 and float(np.median(np.diff(recording.time_s))) > _T.slow_log_s
    holds = {
        "slow-log": slow,
        "range-unknown": range_pa is None,
        "over-range": any(pop.clipped for pop in pops),
        "over-caution-pressure/float": kind == "float-inlet" and highest_pa > _T.over_caution * caution,
    }
    figures = {"kpa": highest_pa / 1e3, "caution_kpa": caution / 1e3}
    return tuple(Flag.of("judge", code, **figures) for code, so in holds.items() if so)


def judged_openings(recording: Recording, parts: Parts, limit: Limit | None, settings: Settings) -> Judged | None:
    """A log in which an inlet needle was pumped open, judged by its openings; None when it was not.

    A limit of its own, or a hold chosen by hand, asks for the hold instead.
    """
    own = limit is not None and limit.source != "practice"
    if own or settings.hold_s is not None or recording.direction != "pressure":
        return None
    found = needle(recording, recording.circuit, _range_pa(recording, settings))  # type: ignore[arg-type]
    if not found.pops:
        return None
    words = Limit(f"{REPEATS} openings within {100 * SPREAD:.0f} %, each closing again", "words", "practice")
    verdict = Verdict(found.word, words, None, "reading", found.reason)
    span = float(recording.time_s[0]), float(recording.time_s[-1])
    return Judged(without_size(recording, span, verdict, (_opened(found),), found.flags), None)


def _range_pa(recording: Recording, settings: Settings) -> float | None:
    """The end of the gauge's scale: as given, else as the file's head says it ("range: 100 kPa")."""
    said = recording.conditions.other("range")
    if settings.gauge_range_pa is not None or not said:
        return settings.gauge_range_pa
    return abs(parse_pressure(said, "range").value_pa)


def _opened(found: NeedleResult) -> Finding:
    rows = [
        Figure(key, label, "kPa", interval.scaled(1e-3))
        for key, label, interval in (
            ("opening_kpa", "Opens at", found.opening_pa),
            ("reseat_kpa", "Closes at", found.reseat_pa),
        )
        if interval is not None
    ]
    if found.spread is not None:
        percent = 100.0 * found.spread
        rows.append(Figure("spread_percent", "Openings differ by", "%", Interval(percent, percent, percent)))
    sentence = f"Opened and closed at, kPa: {', '.join(map(_opening_words, found.pops))}."
    if found.hold_at_pa is not None:
        sentence += f" Next: hold {found.hold_at_pa / 1e3:.3g} kPa (70 % of where it closes) for a minute."
    return Finding("openings", "Openings of the needle", sentence, tuple(rows), instead=True)


def _opening_words(pop: PopOff) -> str:
    opened = f"{'over ' if pop.clipped else ''}{pop.opening_pa / 1e3:.3g}"
    return f"{opened}, not closed" if pop.reseat_pa is None else f"{opened} to {pop.reseat_pa / 1e3:.3g}"
