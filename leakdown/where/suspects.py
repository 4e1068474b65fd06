"""From a complaint and what was seen to ranked suspects, leak or not, and the next question and check."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from leakdown.errors import UsageError
from leakdown.tuned import tuned
from leakdown.where.answers import Answers
from leakdown.where.complaint_knowledge import (
    Check,
    ComplaintKnowledge,
    KnownComplaint,
    KnownSuspect,
    complaint_knowledge,
)
from leakdown.where.heard import MOST_ASKED
from leakdown.where.knowledge import capped

_T = tuned("where")


@dataclass(frozen=True)
class Suspect:
    """One suspect. leak: True when a pressure, vacuum or flow test can find it. reasons: strongest first."""

    place: str
    name: str
    leak: bool
    probability: float
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Triage:
    """Ranked suspects (none before anything was said), the quick checks first, the one next step, and what a leak
    test can tell.

    leak_test: probability that the cause is one a crankcase test finds; fuel_test: one that a test of the
    fuel side finds. plain: that in words. caveat: what the odds are worth.
    """

    suspects: tuple[Suspect, ...]
    quick: tuple[Check, ...]
    next_test: Check
    leak_test: float
    fuel_test: float
    plain: str
    caveat: str
    answers: tuple[str, ...]


def factor_of(suspect: KnownSuspect, answers: Answers, known: ComplaintKnowledge) -> float:
    """What all answers together do to the odds of one suspect."""
    clusters: dict[str, float] = {}
    for identity, seen in answers.all():
        complaint = known.complaints[identity]
        factor = known.factor(complaint, suspect, seen)
        clusters[complaint.cluster] = clusters.get(complaint.cluster, 1.0) * factor
    return capped(clusters.values(), known.cluster_cap)


def probabilities(answers: Answers, known: ComplaintKnowledge) -> dict[str, float]:
    """Probability of each suspect, by id; sums to 1. Raises UsageError (see `Answers.check`)."""
    answers.check(known.complaints, "suspects")
    odds = {s.id: s.weight * factor_of(s, answers, known) for s in known.suspects}
    whole = sum(odds.values())
    if not whole > 0.0:
        raise UsageError("these observations rule every suspect out", remedy="Look at them again.")
    return {identity: value / whole for identity, value in odds.items()}


def next_question(
    answers: Answers, known: ComplaintKnowledge, skipped: frozenset[str] = frozenset()
) -> KnownComplaint | None:
    """The unanswered question with the most expected information, or None when none is worth asking.

    skipped: ids of questions that could not be answered.
    """
    asked = skipped | {identity for identity, _ in answers.all()}
    now = probabilities(answers, known)
    worth = {i: _worth_of_question(c, answers, now, known) for i, c in known.complaints.items() if i not in asked}
    best = max(worth, key=lambda i: worth[i], default=None)
    return None if best is None or worth[best] <= _T.question_least_bits else known.complaints[best]


def questions(heard_ask: Sequence[str], answers: Answers, known: ComplaintKnowledge | None = None) -> tuple[str, ...]:
    """At most three ids worth a yes or no: what was half said, or the most telling ones where nothing was."""
    known = known or complaint_knowledge()
    answered = {identity for identity, _ in answers.all()}
    found = [i for i in heard_ask if i not in answered][:MOST_ASKED]
    while not answered and len(found) < MOST_ASKED:
        question = next_question(answers, known, frozenset(found))
        if question is None:
            break
        found.append(question.id)
    return tuple(found)


def _by_worth(answers: Answers, known: ComplaintKnowledge, done: tuple[str, ...]) -> list[Check]:
    """The checks and tests still to be done, the one first that tells most for its minutes."""
    answered = {identity for identity, _ in answers.all()}
    still = any(known.complaints[i].never_run for i in answers.seen)
    made = {c.id for c in known.checks if c.id in done or answered & set(c.done_by)}
    possible = [c for c in known.checks if not c.when and not (still and c.runs) and (not c.after or c.after in made)]
    open_ = [c for c in possible if c.id not in made]
    now = probabilities(answers, known)

    def worth(check: Check) -> float:
        speaks_out = {s.id: s.named_in(check.finds) or 0.0 for s in known.suspects}
        return information(now, speaks_out) / check.minutes

    return sorted(open_ or possible, key=worth, reverse=True)


def _before_all(answers: Answers, known: ComplaintKnowledge, done: tuple[str, ...]) -> Check | None:
    """What comes before any question of likelihood: an engine that must not run, or a finding with a plain cure."""
    seen = [known.complaints[i] for i in answers.seen]
    if any(c.never_run for c in seen):
        first = next((c for c in known.checks if c.when == "never-run" and c.id not in done), None)
        if first is not None:
            return first
    cure = next((c for c in seen if c.cure and f"cure-{c.id}" not in done), None)
    if cure is None:
        return None
    why = f"{cure.says}: that is put right before anything is tested"
    return Check(f"cure-{cure.id}", cure.cure, why, "check", _T.cure_min, {})


def _worth_of_question(
    complaint: KnownComplaint, answers: Answers, now: Mapping[str, float], known: ComplaintKnowledge
) -> float:
    """Expected information of the answer; what the cluster's cap takes away is no information."""
    chance = {s.id: known.chance_of_yes(complaint, s) for s in known.suspects}
    if not any(known.complaints[i].cluster == complaint.cluster for i, _ in answers.all()):
        return information(now, chance)
    worth = 0.0
    for seen in (True, False):
        share = sum(now[i] * (chance[i] if seen else 1.0 - chance[i]) for i in now)
        then = answers.and_(complaint.id, seen)
        odds = {s.id: s.weight * factor_of(s, then, known) for s in known.suspects}
        whole = sum(odds.values()) or 1.0
        worth += share * _gain({i: v / whole for i, v in odds.items()}, now)
    return worth


def _gain(then: Mapping[str, float], now: Mapping[str, float]) -> float:
    """Relative entropy in bits."""
    return sum(p * math.log2(p / now[i]) for i, p in then.items() if p > 0.0 and now[i] > 0.0)


def information(now: Mapping[str, float], chance: Mapping[str, float]) -> float:
    """Mutual information, in bits, between the suspect and a yes/no with these chances of a yes.

    H(yes) - sum p_s H(yes | s): C. E. Shannon, Bell Syst. Tech. J. 27 (1948) 379.
    """
    yes = sum(now[i] * chance[i] for i in now)
    return _entropy(yes) - sum(now[i] * _entropy(chance[i]) for i in now)


def _entropy(p: float) -> float:
    if not 0.0 < p < 1.0:
        return 0.0
    return -p * math.log2(p) - (1.0 - p) * math.log2(1.0 - p)


NOTHING_SAID = "Nothing that is known was said yet, so nobody is suspected: answer a question, or do the first check."
CAVEAT = (
    "The odds are common practice from memory, not counted jobs. About three quarters of such complaints "
    "are not the crankcase."
)


def suspects(answers: Answers, known: ComplaintKnowledge | None = None, done: tuple[str, ...] = ()) -> Triage:
    """Rank the suspects. `done`: ids of checks already made. Raises UsageError for unknown ids."""
    known = known or complaint_knowledge()
    chance = probabilities(answers, known)
    ranked = sorted(known.suspects, key=lambda s: -chance[s.id])
    by_kind = {kind: sum(chance[s.id] for s in ranked if s.found == kind) for kind in ("leak", "fuel")}
    checks = _by_worth(answers, known, done)
    first = _before_all(answers, known, done)
    said = ranked if answers.all() else []
    return Triage(
        suspects=tuple(
            Suspect(s.id, s.name, s.found != "none", chance[s.id], _reasons(s, answers, known)) for s in said
        ),
        quick=tuple(check for check in checks if check.minutes <= _T.quick_check_min),
        next_test=first or checks[0],
        leak_test=by_kind["leak"],
        fuel_test=by_kind["fuel"],
        plain=_plain(by_kind["leak"], by_kind["fuel"], ranked) if said else NOTHING_SAID,
        caveat=CAVEAT,
        answers=tuple(f"{'yes' if seen else 'no'}: {known.complaints[i].ask}" for i, seen in answers.all()),
    )


def _reasons(suspect: KnownSuspect, answers: Answers, known: ComplaintKnowledge) -> tuple[str, ...]:
    """The answers that speak for the suspect, then those against it, then how common it is."""
    factors = [
        (known.factor(known.complaints[i], suspect, seen), known.complaints[i].ask, seen) for i, seen in answers.all()
    ]
    raised = sorted((f for f in factors if f[0] >= _T.telling_factor), key=lambda f: -f[0])
    lowered = sorted((f for f in factors if f[0] <= 1.0 / _T.telling_factor), key=lambda f: f[0])
    said = [f"{'yes' if seen else 'no'} to {ask!r}: {_speaks(f)} it" for f, ask, seen in (*raised, *lowered)]
    weight = 100.0 * suspect.weight / sum(s.weight for s in known.suspects)
    return (*said, f"the cause in about {weight:.2g} of 100 such engines")


def _speaks(factor: float) -> str:
    strongly = "strongly " if max(factor, 1.0 / max(factor, 1e-9)) >= _T.strong_factor else ""
    return f"speaks {strongly}{'for' if factor > 1.0 else 'against'}"


def _plain(leak: float, fuel: float, ranked: list[KnownSuspect]) -> str:
    """What a leak test can and cannot tell here."""
    best, hardly = ranked[0], _T.leak_test_hardly
    if best.found == "none" and leak + fuel < hardly:
        return f"No leak test will tell you this: {best.name} is not a leak. Do the checks first."
    if leak < hardly and fuel >= hardly:
        return "Test the fuel side (line, vent, inlet needle) first: a crankcase test will hardly tell you this."
    if leak < hardly:
        return "A leak test will hardly tell you this: most suspects are no leaks. Do the checks first."
    if best.found == "none":
        return "A leak test is worth it, after the quick checks: the likeliest suspect is no leak."
    return "A leak test is worth it, after the quick checks."
