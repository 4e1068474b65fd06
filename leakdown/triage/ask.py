"""The next question and the next check: whichever tells most, checks per minute of work. Pure functions."""

from __future__ import annotations

import math
from collections.abc import Mapping

from leakdown.triage.knowledge_files import Check, Complaint, Knowledge
from leakdown.triage.rank import Answers, factor_of, probabilities

_TELLS_NOTHING = 0.005  # bit: below this a question is not worth asking
_TWO_MINUTES = 2.0


def next_question(
    answers: Answers, known: Knowledge, skipped: frozenset[str] = frozenset()
) -> Complaint | None:
    """The unanswered question with the most expected information, or None when none is worth asking.

    skipped: ids of questions that could not be answered.
    """
    asked = skipped | {identity for identity, _ in answers.all()}
    now = probabilities(answers, known)
    best, most = None, _TELLS_NOTHING
    for complaint in known.complaints.values():
        if complaint.id in asked:
            continue
        worth = _worth_of_question(complaint, answers, now, known)
        if worth > most:
            best, most = complaint, worth
    return best


def next_check(answers: Answers, known: Knowledge, done: tuple[str, ...] = ()) -> Check:
    """The check or test that tells most for its minutes."""
    return _by_worth(answers, known, done)[0]


def two_minute_checks(answers: Answers, known: Knowledge, done: tuple[str, ...] = ()) -> tuple[Check, ...]:
    """The quick checks that are still to be done, the most telling first."""
    return tuple(c for c in _by_worth(answers, known, done) if c.minutes <= _TWO_MINUTES)


def _by_worth(answers: Answers, known: Knowledge, done: tuple[str, ...]) -> list[Check]:
    answered = {identity for identity, _ in answers.all()}
    open_ = [c for c in known.checks if c.id not in done and not answered & set(c.done_by)]
    now = probabilities(answers, known)
    ranked = sorted(open_ or known.checks, key=lambda c: -information(now, _chances(c, known)) / c.minutes)
    return list(ranked)


def _chances(check: Check, known: Knowledge) -> dict[str, float]:
    """How likely the check speaks out, by suspect."""
    return {s.id: s.named_in(check.finds) or 0.0 for s in known.suspects}


def _worth_of_question(
    complaint: Complaint, answers: Answers, now: Mapping[str, float], known: Knowledge
) -> float:
    """Expected information of the answer; what the cluster's cap takes away is no information."""
    chance = {s.id: known.chance_of_yes(complaint, s) for s in known.suspects}
    if not any(known.complaints[i].cluster == complaint.cluster for i, _ in answers.all()):
        return information(now, chance)
    worth = 0.0
    for seen in (True, False):
        share = sum(now[i] * (chance[i] if seen else 1.0 - chance[i]) for i in now)
        more = (complaint.id,)
        then = (
            Answers(answers.seen + more, answers.not_seen)
            if seen
            else Answers(answers.seen, answers.not_seen + more)
        )
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
