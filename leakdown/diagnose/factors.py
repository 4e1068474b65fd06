"""Factors that observations and marks put on the odds of a place, with the cap on what is one fact."""

from __future__ import annotations

from collections.abc import Mapping

from leakdown.diagnose.evidence import Evidence
from leakdown.diagnose.expected import INTAKES, LIPS, Knowledge, KnownPlace
from leakdown.errors import UsageError

_MARK_CHANGED = 10.0  # (practice) as an observation that the leak changed when the place was touched
_MARK_STOPPED = 25.0  # (practice) the leak fell to less than half: most of it goes through there
_MARK_STEADY = 0.35  # (practice)


def factor_of_finding(place: KnownPlace, evidence: Evidence, known: Knowledge) -> float:
    """Product over clusters of the factors for one place, each cluster within the cap."""
    clusters: dict[str, float] = {}
    for identity, wanted in [*((i, True) for i in evidence.seen), *((i, False) for i in evidence.not_seen)]:
        observation = known.observations[identity]
        factor = _of(observation.seen if wanted else observation.not_seen, place)
        clusters[observation.cluster] = clusters.get(observation.cluster, 1.0) * factor
    for mark in evidence.marks:
        if mark.place in (place.place, place.group):
            stopped = mark.changed and mark.effect.after_over_before.high < 0.5
            changed = _MARK_STOPPED if stopped else _MARK_CHANGED
            factor = changed if mark.changed else _MARK_STEADY if mark.steady else 1.0
            clusters[f"mark {mark.place}"] = factor
    cap = known.numbers["cluster_cap"]
    product = 1.0
    for value in clusters.values():
        product *= min(value, cap) if value == 0.0 else min(max(value, 1.0 / cap), cap)
    return product


def factor_of(identity: str, seen: bool, place: KnownPlace, known: Knowledge) -> float:
    """What one observation alone does to the odds of a place."""
    observation = known.observations[identity]
    return _of(observation.seen if seen else observation.not_seen, place)


def _of(table: Mapping[str, float], place: KnownPlace) -> float:
    for key in (place.place, place.group, "others"):
        if key in table:
            return float(table[key])
    return 1.0


def check_said(
    seen: tuple[str, ...], not_seen: tuple[str, ...], intake: str, lips: str, known: Knowledge
) -> None:
    """Raises UsageError for ids and words that do not exist or contradict each other."""
    for identity in (*seen, *not_seen):
        if identity not in known.observations:
            near = [o for o in known.observations if identity.split("-")[0] in o]
            hint = f"Perhaps {', '.join(near[:4])}. " if near else ""
            raise UsageError(
                f"unknown observation {identity!r}",
                remedy=f"{hint}leakdown locate --observations lists them.",
            )
    both = set(seen) & set(not_seen)
    if both:
        raise UsageError(f"{sorted(both)[0]!r} is both seen and not seen", remedy="Give it once.")
    for what, word, words in (("--intake", intake, INTAKES), ("--seal-lips", lips, LIPS)):
        if word not in words:
            raise UsageError(f"{what} {word!r} is not known", remedy=f"Say one of {', '.join(words)}.")
