"""What runs show of the cause: only where like runs differ by more than chance, and never from runs at half."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from leakdown.runs.durations import duration_words
from leakdown.runs.logrank import chance_in_blocks
from leakdown.runs.looks import ALPHA
from leakdown.runs.run import Run

Kind = Literal["fuel", "warmth"]
BELOW_HALF, FULL_SOONER, HOT_SOONER = "below-half-tank", "dies-sooner-full", "dies-sooner-warm"


@dataclass(frozen=True)
class Contrast:
    """Runs of two sorts against each other, with no change between them.

    id: the observation that they show, "" where chance may be all. p: of the shorter sort, one-sided. first, second:
    how many of each. least: the smallest p that so many can give.
    """

    kind: Kind
    id: str
    reason: str
    first: int
    second: int
    p: float
    least: float


def contrasts(runs: Sequence[Run]) -> tuple[Contrast, ...]:
    """Below half against fuller, warm against cold: those of which there are both."""
    fuel = _contrast(runs, "fuel", lambda r: {"below-half": True, "above-half": False}.get(r.level))
    warm = _contrast(runs, "warmth", lambda r: r.warm)
    return tuple(c for c in (fuel, warm) if c is not None)


def shown(runs: Sequence[Run]) -> tuple[Contrast, ...]:
    """Those that show something."""
    return tuple(c for c in contrasts(runs) if c.id)


_WORDS: dict[Kind, tuple[str, str]] = {"fuel": ("below half a tank", "on a full tank"), "warmth": ("warm", "cold")}
_IDS: dict[Kind, tuple[str, str]] = {"fuel": (BELOW_HALF, FULL_SOONER), "warmth": (HOT_SOONER, "")}


def _contrast(runs: Sequence[Run], kind: Kind, first: Callable[[Run], bool | None]) -> Contrast | None:
    """Labels change within one state of the engine and, for the fuel, within one warmth (or the other way)."""
    other: Callable[[Run], object] = (lambda r: r.warm) if kind == "fuel" else (lambda r: r.level)
    known = [r for r in runs if first(r) is not None]
    blocks: dict[object, list[Run]] = {}
    for run in known:
        blocks.setdefault((run.period, run.fitted, other(run)), []).append(run)
    mixed = [b for b in blocks.values() if len({first(r) for r in b}) == 2]
    if not mixed:
        return None
    columns = [([r.ran_s for r in b], [r.event for r in b], [not first(r) for r in b]) for b in mixed]
    found = chance_in_blocks(columns)
    sorts = tuple([r for b in mixed for r in b if first(r) is want] for want in (True, False))
    p = min(found.longer, found.shorter)  # longer: the second sort (full, cold) lasts longer
    identity = _IDS[kind][found.longer > found.shorter] if p <= ALPHA + 1e-12 else ""
    said = "; ".join(f"{words}: {lengths(sort)}" for words, sort in zip(_WORDS[kind], sorts, strict=True))
    return Contrast(kind, identity, f"{said} (p {p:.2g})", len(sorts[0]), len(sorts[1]), p, found.least)


def lengths(runs: Sequence[Run]) -> str:
    """ "28, 33 and over 240 s" in words; five or more: from the shortest to the longest."""
    each = [f"{'over ' if not r.event else ''}{duration_words(r.ran_s)}" for r in sorted(runs, key=lambda r: r.ran_s)]
    return f"{each[0]} to {each[-1]}, {len(each)} runs" if len(each) > 4 else ", ".join(each)
