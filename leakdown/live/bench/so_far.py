"""The verdict while the test runs: what it is so far, against which limit, and how much longer would decide. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.analysis import Analysis, Limit, Verdict, VerdictWord
from leakdown.live.texts import text
from leakdown.quantities import show_pressure, significant, standard_cm3_per_min
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval

_T = tuned("live.bench")
LAX = "lax-limit"
"""The flag of a verdict by a default limit that strict practice does not share: said here too, as analyse does."""


@dataclass(frozen=True)
class SoFar:
    """What is known by now: the word, and two short lines ("" where there is nothing to say)."""

    word: VerdictWord | None = None
    verdict: str = ""
    more: str = ""


def so_far(result: Analysis | None, unit: str) -> SoFar:
    """The verdict of an analysis of the readings up to now."""
    if result is None or result.verdict is None:
        return SoFar()
    verdict = result.verdict
    told = {"pass": text("so far passes"), "fail": text("so far fails")}.get(verdict.word, text("so far open"))
    if verdict.word == "pass" and any(flag.code == LAX for flag in result.flags):
        told = text("so far lax")
    words = f"{told}: {_limit(verdict.limit, unit)}"
    if verdict.measured is not None and verdict.measured.value is not None:
        words += f"; {_measured(verdict, verdict.measured.value, unit)}"
    return SoFar(verdict.word, words, _more(verdict, result.hold.end_s - result.hold.closed_s))


def _limit(limit: Limit, unit: str) -> str:
    """As it was given; what is common practice, in the unit shown."""
    if limit.kind != "drop" or limit.source != "practice" or unit == "kPa":
        return limit.text
    start = f" from {show_pressure(limit.start_pa, unit, 2)}" if limit.start_pa else ""
    return f"{show_pressure(limit.drop_pa, unit, 2)} in {limit.time_s:g} s{start}"


def _measured(verdict: Verdict, value: float, unit: str) -> str:
    if verdict.limit.kind == "drop":
        return f"about {show_pressure(value, unit, 2)} in {verdict.limit.time_s:g} s"
    return f"about {significant(standard_cm3_per_min(value), 2)} cm3/min"


def _more(verdict: Verdict, held_s: float) -> str:
    if verdict.word != "undecided" or verdict.measured is None:
        return ""
    more_s = seconds_more(verdict.measured, allowed(verdict.limit), held_s)
    if more_s is None:
        return text("too close")
    return text("more decides", more=f"{more_s:.0f}") if more_s >= 1.0 else ""


def allowed(limit: Limit) -> float:
    """What a limit allows: Pa for a drop, else Pa m3/s."""
    return limit.drop_pa if limit.kind == "drop" else limit.rate_pa_m3_s


def seconds_more(measured: Interval, most: float, held_s: float) -> float | None:
    """About how much longer the hold must be for the interval to leave the limit; None: too close to say.

    The slope of a straight line through readings evenly spaced in time is known to within time to the power of
    -3/2 (least squares with white noise; common textbook result): half-width h at t becomes the distance to the
    limit d at t (h/d)^(2/3).
    """
    value = measured.low if measured.value is None else measured.value
    half = measured.high - value if value < most else value - measured.low
    distance = abs(most - value)
    if not half > 0.0 or held_s <= 0.0:
        return 0.0
    times = (half / distance) ** (2.0 / 3.0) if distance > 0.0 else float("inf")
    return None if times > _T.most_times_longer else max(times - 1.0, 0.0) * held_s
