"""Which section of the tests holds which place, and how well a story fits the measured shares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Array
from leakdown.tuned import tuned
from leakdown.uncertainty import Z_95, Interval
from leakdown.where.knowledge import KnownPlace
from leakdown.where.located import SectionShare

_T = tuned("where")


@dataclass(frozen=True)
class MeasuredSections:
    """The measured shares of groups of sections, and where each place sits among them.

    shares: per group (pressure, vacuum), None where not measured. weight: place -> (groups,) sums to 1,
    or to 0 when the place is in none of them.
    """

    shares: tuple[tuple[Interval | None, Interval | None], ...]
    weight: dict[str, Array]

    def likelihood(self, places: list[KnownPlace], first: Array, first_under_vacuum: Array) -> Array:
        """Of the measured shares (n,) when `places` (one or two) leak in these proportions."""
        value = np.ones_like(first)
        for k, measured in enumerate(self.shares):
            for interval, part in zip(measured, (first, first_under_vacuum), strict=True):
                if interval is None or interval.value is None:
                    continue
                expected = part * self.weight[places[0].place][k]
                expected = expected + (1.0 - part) * self.weight[places[-1].place][k]
                sd = np.hypot((interval.high - interval.low) / (2.0 * Z_95), _T.section_tolerance)
                value = value * (_T.section_surprise + np.exp(-0.5 * np.square((expected - interval.value) / sd)))
        return value


def measured_sections(places: Sequence[KnownPlace], shares: Sequence[SectionShare]) -> MeasuredSections:
    """Sort places into the measured sections by the words of their names.

    A place that no section's name mentions may be in any section whose name mentions no place.
    """
    groups: list[tuple[str, ...]] = []
    measured: list[tuple[Interval | None, Interval | None]] = []
    for share in shares:
        if share.names not in groups:
            groups.append(share.names)
            found = dict(share.told)
            measured.append((found.get("pressure"), found.get("vacuum")))
    holds = {p.place: np.array([any(_names(p, s) for s in g) for g in groups], dtype=float) for p in places}
    nameless = np.array([any(not any(_names(p, s) for p in places) for s in group) for group in groups], dtype=float)
    weight = {}
    for place, inside in holds.items():
        chosen = inside if inside.any() else nameless
        weight[place] = chosen / chosen.sum() if chosen.any() else chosen
    return MeasuredSections(tuple(measured), weight)


def section_of(place: KnownPlace, names: Sequence[str]) -> str | None:
    """The section whose name mentions this place, or None."""
    return next((name for name in names if _names(place, name)), None)


def _names(place: KnownPlace, section: str) -> bool:
    words = section.lower()
    return any(word in words for word in place.sections)
