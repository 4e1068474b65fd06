"""From what was said of an engine to the odds of each suspect. Pure: knowledge and answers in, odds out.

Posterior odds = prior weight x product over clusters of the observations' factors, each cluster held
within the cap because its observations are one fact seen several times.
"""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.errors import UsageError
from leakdown.triage.knowledge_files import Knowledge, KnownSuspect


@dataclass(frozen=True)
class Answers:
    """Observations that were seen, and that were looked for and not seen, by id."""

    seen: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()

    def all(self) -> tuple[tuple[str, bool], ...]:
        """(id, seen) of every answer."""
        return (*((i, True) for i in self.seen), *((i, False) for i in self.not_seen))


def check_answers(answers: Answers, known: Knowledge) -> None:
    """Raises UsageError for ids that do not exist or contradict each other."""
    for identity, _ in answers.all():
        if identity not in known.complaints:
            near = [o for o in known.complaints if set(identity.split("-")) & set(o.split("-"))]
            hint = f"Perhaps {', '.join(near[:4])}. " if near else ""
            raise UsageError(
                f"unknown observation {identity!r}",
                remedy=f"{hint}leakdown suspects --observations lists them.",
            )
    both = sorted(set(answers.seen) & set(answers.not_seen))
    if both:
        raise UsageError(f"{both[0]!r} is both seen and not seen", remedy="Give it once.")


def factor_of(suspect: KnownSuspect, answers: Answers, known: Knowledge) -> float:
    """What all answers together do to the odds of one suspect."""
    clusters: dict[str, float] = {}
    for identity, seen in answers.all():
        complaint = known.complaints[identity]
        factor = known.factor(complaint, suspect, seen)
        clusters[complaint.cluster] = clusters.get(complaint.cluster, 1.0) * factor
    product, cap = 1.0, known.cluster_cap
    for value in clusters.values():
        product *= 0.0 if value == 0.0 else min(max(value, 1.0 / cap), cap)
    return product


def probabilities(answers: Answers, known: Knowledge) -> dict[str, float]:
    """Probability of each suspect, by id; sums to 1. Raises UsageError (see `check_answers`)."""
    check_answers(answers, known)
    odds = {s.id: s.weight * factor_of(s, answers, known) for s in known.suspects}
    whole = sum(odds.values())
    if not whole > 0.0:
        raise UsageError("these observations rule every suspect out", remedy="Look at them again.")
    return {identity: value / whole for identity, value in odds.items()}
