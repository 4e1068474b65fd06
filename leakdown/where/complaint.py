"""A complaint in words -> observations, sorted into what `locate` and what `suspects` makes of them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from leakdown.errors import UsageError
from leakdown.where.complaint_knowledge import (
    ComplaintKnowledge,
    KnownComplaint,
    KnownSuspect,
    complaint_knowledge,
)
from leakdown.where.knowledge import NO_LEAK, Knowledge, KnownPlace, knowledge
from leakdown.where.located import Answer, Complaint
from leakdown.where.suspects import Answers, check_answers, factor_of

_PARTS = re.compile(r"[,;.!?\n]+|\s+but\s+|\s+and\s+|\s+then\s+")
_NOT = re.compile(r"\b(?:not|no|never|without|neither|nor)\b|n't\b")


@dataclass(frozen=True)
class Understood:
    """Ids that the text speaks of, and the parts that say nothing known."""

    seen: tuple[str, ...]
    left_over: tuple[str, ...]


def understood(text: str, known: ComplaintKnowledge) -> Understood:
    """Observations found in a complaint's own words."""
    seen: list[str] = []
    left: list[str] = []
    for part in (p.strip() for p in _PARTS.split(" ".join(text.lower().split()))):
        if not part:
            continue
        found = [c.id for c in known.complaints.values() if _says(part, c)]
        seen += [i for i in found if i not in seen]
        if not found:
            left.append(part)
    return Understood(tuple(seen), tuple(left))


def _says(part: str, complaint: KnownComplaint) -> bool:
    return any(w in part and not _NOT.search(part.replace(w, " ")) for w in complaint.words)


@dataclass(frozen=True)
class Facts:
    """seen, not_seen: observations of `locate`. answers: the rest, which the complaint's odds take in."""

    seen: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()
    answers: Answers = Answers()


@dataclass(frozen=True)
class Listed:
    """An observation that can be given. kind: "bench" or "complaint"."""

    id: str
    text: str
    kind: str


def facts_of(seen: Sequence[str], not_seen: Sequence[str]) -> Facts:
    """Sort ids of both kinds. Raises UsageError for unknown ids and for what is said both ways."""
    known, bench = complaint_knowledge(), knowledge().observations
    for identity in (*seen, *not_seen):
        if identity not in bench and identity not in known.complaints:
            raise _unknown(identity, (*bench, *known.complaints))
    said = {fact_name(i): True for i in seen}
    for identity in not_seen:
        if said.get(fact_name(identity)):
            raise UsageError(f"{identity!r} is both seen and not seen", remedy="Give it once.")
        said[fact_name(identity)] = False
    at_bench = {i: was for i, was in said.items() if i in bench}
    heard = {
        i: was
        for i, was in said.items()
        if i not in bench and not set(known.complaints[i].same_as) & set(at_bench)
    }
    return Facts(*_parted(at_bench), Answers(*_parted(heard)))


def fact_name(identity: str) -> str:
    """One name for a fact that has two: that of `locate` where both know it."""
    complaint = complaint_knowledge().complaints.get(identity)
    bench = knowledge().observations
    if identity in bench or complaint is None:
        return identity
    same = [name for name in complaint.same_as if name in bench]
    return same[0] if len(same) == 1 else identity


def for_suspects(said: Iterable[tuple[str, bool]], known: ComplaintKnowledge) -> Answers:
    """Of (id, seen) of either kind, what `suspects` takes in, under its own names; the last word counts."""
    last = {complaint_name(i, known): was for i, was in said}
    return Answers(*_parted({i: was for i, was in last.items() if i in known.complaints}))


def complaint_name(identity: str, known: ComplaintKnowledge) -> str:
    """The name of a fact among complaints; an id that has none there is given back."""
    if identity in known.complaints:
        return identity
    fact = fact_name(identity)
    return next((c for c in known.complaints if fact_name(c) == fact), identity)


def all_observations() -> tuple[Listed, ...]:
    """Everything that may be said, the bench's first; a fact that both know is listed once."""
    bench = knowledge().observations
    rows = [Listed(o.id, o.ask, "bench") for o in bench.values()]
    rows += [
        Listed(c.id, c.says, "complaint")
        for c in complaint_knowledge().complaints.values()
        if fact_name(c.id) not in bench
    ]
    return tuple(rows)


def _parted(said: dict[str, bool]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return tuple(i for i, was in said.items() if was), tuple(i for i, was in said.items() if not was)


def _unknown(identity: str, names: Iterable[str]) -> UsageError:
    parts = set(identity.split("-"))
    near = [name for name in dict.fromkeys(names) if parts & set(name.split("-"))]
    hint = f"Perhaps {', '.join(near[:6])}. " if near else ""
    return UsageError(
        f"unknown observation {identity!r}", remedy=f"{hint}leakdown locate --observations lists them."
    )


def complaint_on(
    circuit: str,
    answers: Answers,
    known: ComplaintKnowledge | None = None,
    places: Knowledge | None = None,
) -> Complaint | None:
    """The complaint as `locate` weighs it in a test of `circuit`; None without an answer.

    Factors are 1 in the mean of the circuit's weights and within its cluster cap: a complaint is one story.
    Raises UsageError for unknown ids, and for answers that rule everything out.
    """
    known, places = known or complaint_knowledge(), places or knowledge()
    check_answers(answers, known)
    if not answers.all():
        return None
    single = tuple(
        Answer(i, seen, known.complaints[i].says, _factors(circuit, _only(i, seen), known, places))
        for i, seen in answers.all()
    )
    return Complaint(_factors(circuit, answers, known, places), single)


def _only(identity: str, seen: bool) -> Answers:
    return Answers((identity,)) if seen else Answers((), (identity,))


def _factors(
    circuit: str, answers: Answers, known: ComplaintKnowledge, places: Knowledge
) -> Mapping[str, float]:
    rows = places.of_circuit(circuit)
    found = {s.id: factor_of(s, answers, known) for s in known.suspects}
    anybody = _mean(known.suspects, found)
    inside = {p.place for p in rows}
    outside = [s for s in known.suspects if not inside & set(s.places)]
    elsewhere = _mean(outside, found) if outside else anybody
    raw = {p.place: _of_place(p, found, known, anybody, elsewhere) for p in rows}
    weight = sum(p.weight[circuit] for p in rows)
    mean = sum(p.weight[circuit] * raw[p.place] for p in rows) / max(weight, 1e-12)
    if rows and not mean > 0.0:
        raise UsageError("these observations rule every place out", remedy="Look at them again.")
    cap = places.numbers["cluster_cap"]
    return {p: 0.0 if f == 0.0 else min(max(f / mean, 1.0 / cap), cap) for p, f in raw.items()}


def _of_place(
    place: KnownPlace, found: Mapping[str, float], known: ComplaintKnowledge, anybody: float, elsewhere: float
) -> float:
    own = [s for s in known.suspects if place.place in s.places]
    if own:
        factor = _mean(own, found)
        return (1.0 - known.incidental) * factor + known.incidental * anybody if factor > 0.0 else 0.0
    return elsewhere if place.group == NO_LEAK else anybody


def _mean(suspects: tuple[KnownSuspect, ...] | list[KnownSuspect], found: Mapping[str, float]) -> float:
    return sum(s.weight * found[s.id] for s in suspects) / sum(s.weight for s in suspects)
