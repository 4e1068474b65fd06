"""How right, how sure, and whether as right as sure: scores of probabilities given to groups."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

_EDGES = (0.0, 0.3, 0.45, 0.6, 0.8, 1.01)


@dataclass(frozen=True)
class Given:
    """What was given to the groups of one engine, and which one it was."""

    truth: str
    groups: dict[str, float]

    @property
    def first(self) -> str:
        return max(self.groups, key=lambda g: self.groups[g])

    @property
    def claimed(self) -> float:
        return self.groups[self.first]

    @property
    def right(self) -> bool:
        return self.first == self.truth


def brier(rows: Sequence[Given]) -> float:
    """Brier's score over the groups (Brier 1950: mean over cases of the summed squared differences; 0 to 2)."""
    return float(np.mean([
        sum((p - (g == row.truth)) ** 2 for g, p in row.groups.items()) + (row.truth not in row.groups) for row in rows
    ]))  # fmt: skip


def bins(rows: Sequence[Given]) -> list[tuple[float, float, int]]:
    """(claimed, right, engines) of each class of the first group's probability: a reliability diagram."""
    found = []
    for low, high in zip(_EDGES, _EDGES[1:], strict=False):
        inside = [row for row in rows if low <= row.claimed < high]
        if inside:
            claimed, right = (float(np.mean([getattr(r, name) for r in inside])) for name in ("claimed", "right"))
            found.append((claimed, right, len(inside)))
    return found


def told(name: str, rows: Sequence[Given]) -> str:
    """One row of the table."""
    right, claimed = (100 * float(np.mean([getattr(r, n) for r in rows])) for n in ("right", "claimed"))
    se = 100 * (right / 100 * (1 - right / 100) / len(rows)) ** 0.5
    return f"| {name} | {right:.0f} +/- {se:.0f} % | {claimed:.0f} % | {brier(rows):.2f} |"
