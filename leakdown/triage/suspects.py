"""Answers about an engine -> the ranked suspects with their reasons, and what to do next."""

from __future__ import annotations

from leakdown.triage.ask import next_check, two_minute_checks
from leakdown.triage.knowledge_files import Check, Knowledge, KnownSuspect, knowledge
from leakdown.triage.rank import Answers, probabilities
from leakdown.triage.result import Suspect, ToDo, Triage

CAVEAT = (
    "The odds are common practice from memory, not counted jobs. About three quarters of such complaints "
    "are not the crankcase."
)
_TELLING = 1.25  # a factor nearer to 1 than this (or its inverse) is no reason
_HARDLY = 0.25  # below this share a leak test will hardly tell


def suspects(answers: Answers, known: Knowledge | None = None, done: tuple[str, ...] = ()) -> Triage:
    """Rank the suspects. `done`: ids of checks already made. Raises UsageError for unknown ids."""
    known = known or knowledge()
    chance = probabilities(answers, known)
    ranked = sorted(known.suspects, key=lambda s: -chance[s.id])
    by_kind = {kind: sum(chance[s.id] for s in ranked if s.found == kind) for kind in ("leak", "fuel")}
    return Triage(
        suspects=tuple(
            Suspect(s.id, s.name, s.found != "none", chance[s.id], _reasons(s, answers, known))
            for s in ranked
        ),
        quick=tuple(_to_do(c) for c in two_minute_checks(answers, known, done)),
        next_test=_to_do(next_check(answers, known, done)),
        leak_test=by_kind["leak"],
        fuel_test=by_kind["fuel"],
        plain=_plain(by_kind["leak"], by_kind["fuel"], ranked),
        caveat=CAVEAT,
        understood=tuple(
            f"{'yes' if seen else 'no'}: {known.complaints[i].ask}" for i, seen in answers.all()
        ),
    )


def _to_do(check: Check) -> ToDo:
    return ToDo(check.do, check.why, check.minutes)


def _reasons(suspect: KnownSuspect, answers: Answers, known: Knowledge) -> tuple[str, ...]:
    """The answers that speak for the suspect, then those against it, then how common it is."""
    factors = [
        (known.factor(known.complaints[i], suspect, seen), known.complaints[i].ask, seen)
        for i, seen in answers.all()
    ]
    raised = sorted((f for f in factors if f[0] >= _TELLING), key=lambda f: -f[0])
    lowered = sorted((f for f in factors if f[0] <= 1.0 / _TELLING), key=lambda f: f[0])
    said = [f"{_answer(seen)} {ask!r}: odds times {_times(f)}" for f, ask, seen in (*raised, *lowered)]
    weight = 100.0 * suspect.weight / sum(s.weight for s in known.suspects)
    return (*said, f"the cause in about {weight:.2g} of 100 such engines")


def _answer(seen: bool) -> str:
    return "yes to" if seen else "no to"


def _times(factor: float) -> str:
    return f"{factor:.2g}"


def _plain(leak: float, fuel: float, ranked: list[KnownSuspect]) -> str:
    """What a leak test can and cannot tell here."""
    best = ranked[0]
    if best.found == "none" and leak + fuel < _HARDLY:
        return f"No leak test will tell you this: {best.name} is not a leak. Do the checks first."
    if leak < _HARDLY and fuel >= _HARDLY:
        return (
            "Test the fuel side (line, vent, inlet needle) first: a crankcase test will hardly tell you this."
        )
    if leak < _HARDLY:
        return "A leak test will hardly tell you this: most suspects are no leaks. Do the checks first."
    if best.found == "none":
        return "A leak test is worth it, after the quick checks: the likeliest suspect is no leak."
    return "A leak test is worth it, after the quick checks."
