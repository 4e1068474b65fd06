"""How long to hold so that this limit is decided with this gauge, found before the test is run.

"Decided" means: a tight circuit passes and a leak of twice the limit fails, each at least 95 times in 100
rehearsed tests. A leak right at the limit stays undecided however long the hold is; that is no fault.

Next to the shortest hold the verdict does not improve evenly: four readings may leave more doubt than three,
because the fourth can show that the first three did not fit. The hold found is one beyond which it is sure.

The search asks one rehearsal of each kind for its interval: with standard deviation s, a tight circuit
passes 95 times in 100 when (1.96 + 1.645) s fits below the limit, and twice the limit fails as often when
it fits between one and two limits. The hold found is then confirmed by whole rehearsals.
"""

from __future__ import annotations

import math

from leakdown.errors import InputError, UsageError
from leakdown.estimate.statistics import DETECTION_SIGMAS, Z_95
from leakdown.planning.rehearsal import Bench, limit_leak, rate_pa_s, rehearsed
from leakdown.planning.result import Plan

LONGEST_S = 1800.0
TWICE = 2.0
_TRIALS = 16  # of each kind, to confirm
_MISSES = 1  # of them that may stay undecided
_PROVED = 0.95  # of the rehearsals decided rightly
_SHORTEST_S = 2.0
_STEP = 1.12  # from one hold that is tried to the next
_NEEDLE_FROM_PA = 500.0
_LONG_S = 600.0
_SETTLING_S = 30.0  # no pass before this (common practice, no source)


def plan(bench: Bench, longest_s: float = LONGEST_S) -> Plan:
    """The shortest hold that decides the bench's limit. Raises UsageError for a test that cannot be."""
    _check(bench)
    allowed = rate_pa_s(bench, limit_leak(bench))
    ladder = _ladder(bench, longest_s)
    hold, decided, tried = _proved(bench, ladder, _shortest(bench, ladder, allowed))
    detection = _detection_pa_s(bench, hold or ladder[-1])
    drift = 0.5 * allowed * bench.temperature_k / (bench.barometer_pa + bench.sign * bench.quote_pa)
    return Plan(
        bench=bench,
        hold_s=hold,
        longest_s=longest_s,
        detection_pa_m3_s=detection * bench.volume_m3,
        loss_pa_s=detection,
        allowed_pa_s=allowed,
        decided=decided,
        tried=tried,
        drift_k_s=drift,
        notes=_notes(bench, hold, longest_s, allowed, detection),
    )


def _proved(bench: Bench, ladder: list[float], found: int | None) -> tuple[float | None, int, int]:
    """The hold, rehearsed once more with fresh scatter (the search chose it for its luck too)."""
    for at in range(len(ladder) if found is None else found, len(ladder)):
        decided, tried = count_decided(bench, ladder[at], _TRIALS, seed=7)
        if decided >= _PROVED * tried:
            return ladder[at], decided, tried
    return None, 0, 0


def count_decided(bench: Bench, hold_s: float, trials: int, seed: int) -> tuple[int, int]:
    """(rightly decided, tried) among `trials` tight circuits and as many leaks of twice the limit."""
    right = 0
    for k in range(trials):
        right += _word(bench, 0.0, hold_s, 2000 * seed + k) == "pass"
        right += _word(bench, TWICE, hold_s, 2000 * seed + 1000 + k) == "fail"
    return right, 2 * trials


def _check(bench: Bench) -> None:
    if bench.inward and bench.start_pa >= bench.barometer_pa:
        raise UsageError(
            f"a vacuum of {bench.start_pa / 1e3:g} kPa is more than the air's {bench.barometer_pa / 1e3:g}",
            remedy="Check the limit's start pressure and the barometer.",
        )
    if bench.resolution_pa >= bench.start_pa:
        raise UsageError("the gauge's step is as large as the test pressure", remedy="Check --resolution.")


def _ladder(bench: Bench, longest_s: float) -> list[float]:
    """Holds worth trying, each a whole number of readings, two at least."""
    step = bench.every_s if bench.every_s >= 1.0 else math.ceil(1.0 / bench.every_s) * bench.every_s
    holds, at = [], max(bench.every_s, _SHORTEST_S)
    while at <= longest_s:
        whole = math.ceil(at / step - 1e-9) * step
        holds.append(whole)
        at = max(whole * _STEP, whole + step)
    return holds or [2.0 * bench.every_s]


def _shortest(bench: Bench, ladder: list[float], allowed: float) -> int | None:
    """Index of the shortest hold that decides, by halving, then step by step with whole rehearsals."""
    low, high = -1, len(ladder)
    while high - low > 1:
        middle = (low + high) // 2
        if _promising(bench, ladder[middle], allowed):
            high = middle
        else:
            low = middle
    read_off = _read_off(bench, ladder)
    at = min(high, read_off)
    while at < len(ladder) and not _confirmed(bench, ladder[at]):
        at += 1
    if at == len(ladder):
        return None
    while at > 1 and _confirmed(bench, ladder[at - 2]):
        at -= 2
    return at


def _read_off(bench: Bench, ladder: list[float]) -> int:
    """Index from which the limit's own time is covered, so that its drop is read off the gauge."""
    if bench.limit.kind != "drop" or bench.limit.start_pa is not None:
        return len(ladder)
    return next((k for k, hold in enumerate(ladder) if hold >= bench.limit.time_s), len(ladder))


def _promising(bench: Bench, hold_s: float, allowed: float) -> bool:
    """Whether the intervals of a tight circuit and of twice the limit keep off the limit."""
    if _detection_pa_s(bench, hold_s) > allowed:
        return False
    leak = rehearsed(bench, TWICE, hold_s, seed=3).leak
    if leak is None or leak.rate_pa_s.value is None:
        return False
    return (leak.rate_pa_s.value - leak.rate_pa_s.low) * DETECTION_SIGMAS / Z_95 <= allowed


def _detection_pa_s(bench: Bench, hold_s: float) -> float:
    leak = rehearsed(bench, 0.0, hold_s, seed=3).leak
    return math.inf if leak is None else leak.detection_rate_pa_s


def _confirmed(bench: Bench, hold_s: float) -> bool:
    """Whole rehearsals; ends at the first miss too many."""
    for size, wanted, seed in ((0.0, "pass", 0), (TWICE, "fail", 500)):
        misses = 0
        for k in range(_TRIALS):
            misses += _word(bench, size, hold_s, seed + k) != wanted
            if misses > _MISSES:
                return False
    return True


def _word(bench: Bench, size: float, hold_s: float, seed: int) -> str:
    try:
        result = rehearsed(bench, size, hold_s, seed)
    except InputError:  # a single reading, or a pressure that is gone at once, decides nothing
        return "undecided"
    return result.verdict.word if result.verdict else "undecided"


def _notes(
    bench: Bench, hold: float | None, longest_s: float, allowed: float, detection: float
) -> tuple[str, ...]:
    gauge = "needle gauge" if bench.resolution_pa >= _NEEDLE_FROM_PA else "gauge"
    lines = []
    if hold is None:
        lines.append(
            f"This {gauge} cannot decide the limit within {longest_s / 60:.0f} min: it sees "
            f"{60e-3 * detection:.2g} kPa/min at best, the limit allows {60e-3 * allowed:.2g}. "
            "Take a finer gauge or less dead volume."
        )
    elif hold > _LONG_S:
        lines.append(f"A {gauge} can do it, but the hold is long and drift counts: a finer gauge is better.")
    else:
        lines.append(f"A {gauge} read to {bench.resolution_pa / 1e3:.3g} kPa can do it.")
    if hold is not None and hold < _SETTLING_S:
        lines.append(
            f"Hold {_SETTLING_S:g} s all the same before you believe a pass: rubber creeps and gas settles."
        )
    if bench.resolution_pa >= _NEEDLE_FROM_PA:
        lines.append(
            "Note the time at which the needle crosses a mark: that tells more than the mark at a time."
        )
    return tuple(lines)
