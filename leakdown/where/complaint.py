"""A complaint's answers -> what they do to the odds of the places of a circuit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from leakdown.errors import UsageError
from leakdown.where.answers import Answers
from leakdown.where.complaint_knowledge import ComplaintKnowledge, KnownSuspect, complaint_knowledge
from leakdown.where.knowledge import NO_LEAK, Knowledge, KnownPlace, capped, knowledge
from leakdown.where.located import Answer, Complaint
from leakdown.where.suspects import factor_of


def complaint_on(
    circuit: str, answers: Answers, known: ComplaintKnowledge | None = None, places: Knowledge | None = None
) -> Complaint | None:
    """The complaint as `locate` weighs it in a test of `circuit`; None without an answer.

    Factors are 1 in the mean of the circuit's weights and within its cluster cap: a complaint is one story.
    Raises UsageError for unknown ids, and for answers that rule everything out.
    """
    known, places = known or complaint_knowledge(), places or knowledge()
    answers.check(known.complaints, "suspects")
    if not answers.all():
        return None
    single = tuple(
        Answer(i, seen, known.complaints[i].says, _factors(circuit, Answers().and_(i, seen), known, places))
        for i, seen in answers.all()
    )
    return Complaint(_factors(circuit, answers, known, places), single)


def _factors(circuit: str, answers: Answers, known: ComplaintKnowledge, places: Knowledge) -> Mapping[str, float]:
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
    return {p: capped([f / mean], cap) for p, f in raw.items()}


def _of_place(
    place: KnownPlace, found: Mapping[str, float], known: ComplaintKnowledge, anybody: float, elsewhere: float
) -> float:
    own = [s for s in known.suspects if place.place in s.places]
    if own:
        factor = _mean(own, found)
        return (1.0 - known.incidental) * factor + known.incidental * anybody if factor > 0.0 else 0.0
    return elsewhere if place.group == NO_LEAK else anybody


def _mean(suspects: Sequence[KnownSuspect], found: Mapping[str, float]) -> float:
    return sum(s.weight * found[s.id] for s in suspects) / sum(s.weight for s in suspects)
