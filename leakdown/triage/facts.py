"""Answers of both kinds, sorted: what `locate` knows from the bench, and what only a complaint says.

A fact that both know counts once. It goes to the bench side, whose factors speak of single places.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from leakdown.diagnose import expected
from leakdown.errors import UsageError
from leakdown.triage.knowledge_files import Knowledge, knowledge
from leakdown.triage.rank import Answers


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
    known, bench = knowledge(), expected.knowledge().observations
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
    complaint = knowledge().complaints.get(identity)
    bench = expected.knowledge().observations
    if identity in bench or complaint is None:
        return identity
    same = [name for name in complaint.same_as if name in bench]
    return same[0] if len(same) == 1 else identity


def for_suspects(said: Iterable[tuple[str, bool]], known: Knowledge) -> Answers:
    """Of (id, seen) of either kind, what `suspects` takes in, under its own names; the last word counts."""
    last = {complaint_name(i, known): was for i, was in said}
    return Answers(*_parted({i: was for i, was in last.items() if i in known.complaints}))


def complaint_name(identity: str, known: Knowledge) -> str:
    """The name of a fact among complaints; an id that has none there is given back."""
    if identity in known.complaints:
        return identity
    fact = fact_name(identity)
    return next((c for c in known.complaints if fact_name(c) == fact), identity)


def all_observations() -> tuple[Listed, ...]:
    """Everything that may be said, the bench's first; a fact that both know is listed once."""
    bench = expected.knowledge().observations
    rows = [Listed(o.id, o.ask, "bench") for o in bench.values()]
    rows += [
        Listed(c.id, c.says, "complaint")
        for c in knowledge().complaints.values()
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
