"""What to do after one test, in one sentence: the first thing that is missing before the answer can be trusted.

The rows of `[next]` in `texts.toml`, in the order of the questions below.
"""

from __future__ import annotations

from leakdown.analysis import Analysis
from leakdown.circuits import circuit
from leakdown.words.flags import LAX, has_flag, may_be_vapour
from leakdown.words.wrap import texts

_NOTHING_SEEN = ("frozen", "saturated", "pressure-rises", "temperature-drift")
"""Flags after which this very test is repeated, the first that applies."""


def what_next(analysis: Analysis) -> str:
    """The next step after this test."""
    other = "vacuum" if analysis.direction == "pressure" else "pressure"
    return texts("next")[_row(analysis)].format(other=other, direction=analysis.direction)


def _row(analysis: Analysis) -> str:
    known, verdict = circuit(analysis.circuit), analysis.verdict
    instead = next((finding.name for finding in analysis.findings if finding.instead), "")
    spoilt = next((code for code in _NOTHING_SEEN if has_flag(analysis, code)), "")
    word = verdict.word if verdict is not None else "none"
    if spoilt and word != "fail":
        return spoilt
    if instead == "would-not-build":
        return instead
    if known.needle or known.id in ("rig", "tank"):
        return f"{known.id if known.id in ('rig', 'tank') else 'needle'}/{word}"
    if word == "fail" and may_be_vapour(analysis):
        return "vapour"
    if word == "pass" and has_flag(analysis, LAX):
        word = "fail"
    return f"{known.both}/{word}"
