"""Beside a verdict by a lax default limit: what the strict practice of the same circuit says of the same test."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from leakdown.analysis import Analysis, Flag, Limit, Verdict
from leakdown.judge.limits import strict_practice


def with_strict(result: Analysis, judged_by: Callable[[Limit], Analysis]) -> Analysis:
    """The result with the strict verdict said in its reason, and flagged where it is no pass.

    judged_by: the same test by another limit. What fails a lax limit needs no second look, nor does a test
    that no limit can judge.
    """
    verdict = result.verdict
    strict = strict_practice(verdict.limit if verdict else None, result.circuit, result.direction)
    if verdict is None or strict is None or verdict.measured is None:
        return result
    if verdict.word == "fail":
        return replace(result, verdict=_said(verdict, Flag.of("judge", "lax-limit/failed")))
    found = judged_by(strict).verdict
    if found is None or found.reason == verdict.reason:  # what bars a pass bars it by any limit
        return result
    other = "vacuum" if result.direction == "pressure" else "pressure"
    flag = Flag.of("judge", f"lax-limit/{found.word}", other=other, reason=f"{found.reason} {found.remedy}".strip())
    flags = result.flags if found.word == "pass" else (*result.flags, flag)
    return replace(result, verdict=_said(verdict, flag), flags=flags)


def _said(verdict: Verdict, flag: Flag) -> Verdict:
    return replace(verdict, reason=f"{verdict.reason} {flag.text}")
