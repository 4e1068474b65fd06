"""What runs show of the cause: only where like runs differ by more than chance, and never from runs at half."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from leakdown.runs.durations import duration_words
from leakdown.runs.logrank import chance_in_blocks
from leakdown.runs.looks import ALPHA
from leakdown.runs.run import Run
from leakdown.tuned import tuned

Kind = Literal["fuel", "warmth", "throttle"]
BELOW_HALF, FULL_SOONER, HOT_SOONER = "below-half-tank", "dies-sooner-full", "dies-sooner-warm"
OPEN_ONLY, IDLE_ONLY, SAME_TIME = "full-throttle-only", "idle-only", "same-time-restarts"
_T = tuned("runs")
_FEWEST_ALIKE = 3


@dataclass(frozen=True)
class Sign:
    """An observation that runs show, and by which figures."""

    id: str
    reason: str


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
    """Below half against fuller, warm against cold, throttle against idle: those of which there are both."""
    found = (_contrast(runs, kind) for kind in _SORTS)
    return tuple(c for c in found if c is not None)


def shown(runs: Sequence[Run]) -> tuple[Sign, ...]:
    """What they show, by like runs that differ or by runs that are alike."""
    return (*(Sign(c.id, c.reason) for c in contrasts(runs) if c.id), *_same_time(runs))


@dataclass(frozen=True)
class _Sorts:
    """first: whether a run is of the first sort (None: of neither); words and ids of both, when sooner."""

    first: Callable[[Run], bool | None]
    words: tuple[str, str]
    ids: tuple[str, str]


_SORTS: dict[Kind, _Sorts] = {
    "fuel": _Sorts(
        lambda r: {"below-half": True, "above-half": False}.get(r.level),
        ("below half a tank", "on a full tank"),
        (BELOW_HALF, FULL_SOONER),
    ),
    "warmth": _Sorts(lambda r: r.warm, ("warm", "cold"), (HOT_SOONER, "")),
    "throttle": _Sorts(
        lambda r: {"open": True, "idle": False}.get(r.throttle), ("on throttle", "at idle"), (OPEN_ONLY, IDLE_ONLY)
    ),
}


def _contrast(runs: Sequence[Run], kind: Kind) -> Contrast | None:
    """Labels change within one state of the engine in which the other kinds are alike."""
    sort, others = _SORTS[kind], [_SORTS[k].first for k in _SORTS if k != kind]
    known = [r for r in runs if sort.first(r) is not None]
    blocks: dict[object, list[Run]] = {}
    for run in known:
        blocks.setdefault((run.period, run.fitted, *(other(run) for other in others)), []).append(run)
    mixed = [b for b in blocks.values() if len({sort.first(r) for r in b}) == 2]
    if not mixed:
        return None
    columns = [([r.ran_s for r in b], [r.event for r in b], [not sort.first(r) for r in b]) for b in mixed]
    found = chance_in_blocks(columns)
    sorts = tuple([r for b in mixed for r in b if sort.first(r) is want] for want in (True, False))
    p = min(found.longer, found.shorter)  # longer: the second sort (full, cold, at idle) lasts longer
    identity = sort.ids[found.longer > found.shorter] if p <= ALPHA + 1e-12 else ""
    said = "; ".join(f"{words}: {lengths(each)}" for words, each in zip(sort.words, sorts, strict=True))
    return Contrast(kind, identity, f"{said} (p {p:.2g})", len(sorts[0]), len(sorts[1]), p, found.least)


def _same_time(runs: Sequence[Run]) -> tuple[Sign, ...]:
    """Died after the same time each run and started again at once: in the latest state of the engine that shows it.

    A run that was stopped by hand speaks against it only where it had outlasted them.
    """
    states: dict[object, list[Run]] = {}
    for run in runs:
        states.setdefault((run.period, run.fitted, run.throttle), []).append(run)
    for state in reversed(states.values()):
        died = [r for r in state if r.ended == "died"]
        if len(died) < _FEWEST_ALIKE or sum(r.restarts for r in died) < 2:
            continue
        most = _T.same_time_ratio * min(r.ran_s for r in died)
        if all(r.ran_s <= most and r.ended in ("died", "stopped") for r in state):
            return (Sign(SAME_TIME, f"died after {lengths(died)}; started again at once"),)
    return ()


def lengths(runs: Sequence[Run]) -> str:
    """ "28, 33 and over 240 s" in words; five or more: from the shortest to the longest."""
    each = [f"{'over ' if not r.event else ''}{duration_words(r.ran_s)}" for r in sorted(runs, key=lambda r: r.ran_s)]
    return f"{each[0]} to {each[-1]}, {len(each)} runs" if len(each) > 4 else ", ".join(each)
