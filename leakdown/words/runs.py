"""Runs of the engine in sentences and as a JSON object."""

from __future__ import annotations

from typing import Any

from leakdown.quantities import significant
from leakdown.runs.compare import RunComparison
from leakdown.runs.durations import duration_words
from leakdown.runs.looks import ALPHA
from leakdown.runs.median import MedianTime
from leakdown.tuned import text, texts, tuned


def safety_lines() -> tuple[str, ...]:
    """The cautions before a run."""
    return tuple(texts("runs", "texts")["safety"].values())


def comparison_object(found: RunComparison) -> dict[str, Any]:
    """Plain figures; an unknown one is None."""
    return {
        "verdict": found.verdict,
        "p_value": found.p_value,
        "p_value_shorter": found.p_shorter,
        "least_p": found.least_p,
        "sampled": found.sampled,
        "bars": list(found.bars),
        "more_runs": found.more_runs,
        "before": _median_object(found.before),
        "after": _median_object(found.after),
    }


def _median_object(median: MedianTime | None) -> dict[str, Any] | None:
    if median is None:
        return None
    figures = {"median_s": median.value_s, "low_s": median.low_s, "high_s": median.high_s}
    return figures | {"coverage": median.coverage, "runs": median.runs}


def comparison_lines(found: RunComparison, changed: bool, propose: bool = True, tried: int = 1) -> list[str]:
    """What before against after comes to. changed: a change stands in the record. propose: further runs too.

    tried: changes that were run so far, of which each had its own 5 % of luck.
    """
    lines = [said for said in (_verdict(found, changed, propose),) if said]
    if found.sampled:
        lines.append(text("runs", "sampled", draws=tuned("runs").label_draws))
    if found.before and found.after:
        lines += [_median(side, m) for side, m in (("Before", found.before), ("After", found.after))]
    if found.verdict == "better" and tried > 1:
        lines.append(text("runs", "tried", tried=tried, luck=f"{100.0 * (1.0 - (1.0 - ALPHA) ** tried):.0f}"))
    if found.verdict == "better" and propose:
        lines.append(text("runs", "aba"))
    return lines


def _verdict(found: RunComparison, changed: bool, propose: bool) -> str:
    if found.p_value is None or found.p_shorter is None or found.before is None or found.after is None:
        return _one_side(found, changed) if propose else ""
    p, shorter = significant(found.p_value, 2), significant(found.p_shorter, 2)
    if found.verdict != "cannot-say":
        return text("runs", found.verdict, p=p if found.verdict == "better" else shorter)
    numbers = {"before": found.before.runs, "after": found.after.runs, "least": significant(found.least_p or 0.0, 2)}
    nearer = p if found.p_value <= found.p_shorter else shorter
    bars = "; ".join(texts("runs", "texts")["bar"][bar].format(p=nearer, **numbers) for bar in found.bars)
    said = text("runs", "cannot-say", bars=bars)
    more = found.more_runs
    if not propose:
        return said
    if more is None:
        return f"{said} {text('runs', 'never')}"
    return f"{said} {text('runs', 'more', more=more, runs='run' if more == 1 else 'runs')}"


def _one_side(found: RunComparison, changed: bool) -> str:
    if not changed:
        return text("runs", "no-change")
    if found.before is None or found.more_runs is None:
        return text("runs", "no-before")
    plan = text("runs", "plan", before=found.before.runs, more=found.more_runs)
    return text("runs", "no-after", plan=plan)


def _median(side: str, median: MedianTime) -> str:
    low, high = duration_words(median.low_s), median.high_s
    told = {"side": side, "coverage": f"{100.0 * median.coverage:.0f}", "runs": _runs(median.runs)}
    if median.value_s is None:
        return text("runs", "median-open", value=f"over {low}", **told)
    interval = f"over {low}" if high is None else f"{low} to {duration_words(high)}"
    return text("runs", "median", value=duration_words(median.value_s), interval=interval, **told)


def _runs(count: int) -> str:
    return f"{count} run" if count == 1 else f"{count} runs"
