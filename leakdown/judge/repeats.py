"""Several holds of the same test: do they agree, how well do they repeat, and what do they say together?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from leakdown.analysis import Analysis, Used
from leakdown.errors import UsageError
from leakdown.hold.parts import every_hold, parts_of
from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.recording import Recording
from leakdown.tuned import tuned
from leakdown.uncertainty import Z_95, Interval, student_95


def analysed_holds(recording: Recording, settings: Settings | None = None) -> list[Analysis]:
    """One analysis a hold, in order; of the whole recording when it has one. Raises what `analyse` does."""
    settings = Settings.of_shop() if settings is None else settings
    parts = parts_of(recording)
    spans = every_hold(parts.recording, parts.resolution.value or 0.0)
    if len(spans) < 2:
        return [analyse(recording, settings)]
    return [analyse(recording, replace(settings, hold_s=span)) for span in spans]


_T = tuned("judge")
REPEATABILITY = 2.8
"""Limit of two results over their standard deviation: 1.96 sqrt 2 (ISO 5725-6)."""


@dataclass(frozen=True)
class Pooled:
    """n holds together; Pa/s of pressure loss, or Pa m3/s (`what`), at `at_pa` (signed gauge).

    pooled: mean with 95 % interval, widened by `birge` when that is above 1. chi2_chance: of a worse chi2
    if all holds saw one leak. repeatability: s_r between holds; limit: r = 2.8 s_r. detected: the pooled
    interval is above zero (else `pooled.value` is None and `low` 0). throughput_pa_m3_s: the mean as a leak
    rate, the volume's doubt in it once: repeats do not make a volume better known. None without a volume.
    """

    what: str
    at_pa: float
    direction: str
    values: tuple[Interval, ...]
    pooled: Interval
    birge: float
    chi2: float
    chi2_chance: float
    agree: bool
    repeatability: float
    limit: float
    sentence: str
    throughput_pa_m3_s: Interval | None = None


def pooled(analyses: Sequence[Analysis]) -> Pooled:
    """Pool repeats of one test. Raises UsageError for fewer than two, or tests that are not the same."""
    if len(analyses) < 2:
        raise UsageError("one hold has nothing to be compared with", remedy="Give two or more holds.")
    leaks = []
    for analysis in analyses:
        if analysis.leak is None:
            raise UsageError(
                "no leak model fits this hold", where=analysis.recording.source, remedy="Leave it out or repeat it."
            )
        leaks.append(analysis.leak)
    _check_same(analyses)
    sized = all(leak.throughput_pa_m3_s is not None for leak in leaks)
    volumes = {a.used.volume_m3.value for a in analyses}
    what = "Pa m3/s" if sized and len(volumes) > 1 else "Pa/s"
    values = [leak.rate_pa_s if what == "Pa/s" else leak.throughput_pa_m3_s for leak in leaks]
    found = pool_values([v for v in values if v is not None], what, leaks[0].at_pa, analyses[0].direction)
    if not sized:
        return found
    return replace(found, throughput_pa_m3_s=_throughput(found, analyses[0].used))


def _throughput(found: Pooled, used: Used) -> Interval:
    if found.what != "Pa/s":
        return found.pooled
    volume, doubt = used.volume_m3.value, used.volume_u_m3.value or 0.0
    assert volume is not None
    rate = found.pooled.scaled(volume)
    if rate.value is None:
        return Interval(None, 0.0, rate.high * (1.0 + doubt / volume))
    share = rate.value * doubt / volume
    low, high = math.hypot(rate.value - rate.low, share), math.hypot(rate.high - rate.value, share)
    return Interval(rate.value, max(rate.value - low, 0.0), rate.value + high)


def pool_values(values: Sequence[Interval], what: str, at_pa: float, direction: str) -> Pooled:
    """Pool 95 % intervals of one quantity. An undetected one counts as zero with its upper limit as doubt."""
    centre = [0.0 if v.value is None else v.value for v in values]
    sd = [_sd(v) for v in values]
    weight = [1.0 / s**2 for s in sd]
    mean = sum(w * x for w, x in zip(weight, centre, strict=True)) / sum(weight)
    chi2 = sum(w * (x - mean) ** 2 for w, x in zip(weight, centre, strict=True))
    spare = len(values) - 1
    birge = math.sqrt(chi2 / spare)
    chance = chi2_chance(chi2, spare)
    agree = bool(chance >= _T.agree_chance)
    half = _half_width(sum(weight), birge, spare, agree)
    plain = sum(centre) / len(centre)
    s_r = math.sqrt(sum((x - plain) ** 2 for x in centre) / spare)
    whole = _whole(mean, half, all(v.value is not None for v in values))
    return Pooled(
        what, at_pa, direction, tuple(values), whole, birge, chi2, chance, agree, s_r, REPEATABILITY * s_r,
        _sentence(len(values), agree, chance, s_r, plain),
    )  # fmt: skip


def _whole(mean: float, half: float, all_seen: bool) -> Interval:
    """Mean and half-width as an interval; a leak that every hold saw is one, however much they scatter."""
    low, high = mean - half, mean + half
    if all_seen and mean > 0.0:
        return Interval(mean, max(low, mean * math.exp(-half / mean)), high)
    return Interval(mean, low, high) if low > 0.0 else Interval(None, 0.0, max(high, 0.0))


def chi2_chance(chi2: float, dof: int) -> float:
    """Probability that chi-squared with `dof` degrees of freedom exceeds `chi2` (scipy)."""
    from scipy.special import chdtrc  # 0.2 s of import that only repeats need

    return float(chdtrc(dof, chi2))


def _sd(value: Interval) -> float:
    if value.value is None:
        return max(value.high, 1e-15) / Z_95
    return max(value.high - value.low, 1e-15) / (2.0 * Z_95)


def _half_width(weight: float, birge: float, spare: int, agree: bool) -> float:
    """95 %: the holds' own doubt, widened by their scatter; with Student's factor when only that counts."""
    factor = Z_95 * max(birge, 1.0) if agree else student_95(spare) * birge
    return factor / math.sqrt(weight)


def _check_same(analyses: Sequence[Analysis]) -> None:
    first = analyses[0]
    assert first.leak is not None
    for other in analyses[1:]:
        assert other.leak is not None
        if (other.circuit, other.direction) != (first.circuit, first.direction):
            raise UsageError(
                f"{other.circuit}, {other.direction}, is no repeat of {first.circuit}, {first.direction}",
                where=other.recording.source,
                remedy="Pool holds of one circuit and direction; compare and locate take different ones.",
            )
        if abs(other.leak.at_pa - first.leak.at_pa) > _T.same_pressure * abs(first.leak.at_pa):
            raise UsageError("the holds are quoted at different pressures", remedy="Use one --quote-at for all.")


def _sentence(n: int, agree: bool, chance: float, s_r: float, mean: float) -> str:
    spread = f", repeatability {100 * s_r / mean:.2g} %" if mean > 0.0 else ""
    if agree:
        return f"The {n} holds agree{spread}."
    odds = f"by chance once in {min(1.0 / max(chance, 1e-9), 1e6):.0f}"
    return (
        f"The {n} holds do NOT agree ({odds}){spread}: the leak changed "
        "between them, or the circuit had not settled, or was warm or wet. The interval is widened."
    )
