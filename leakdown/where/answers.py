"""What was said of an engine, in ids and in words: each fact once, under the name that its reader knows."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from leakdown.errors import UsageError
from leakdown.where.complaint_knowledge import complaint_knowledge
from leakdown.where.heard import heard
from leakdown.where.knowledge import INTAKES, LIPS, knowledge


@dataclass(frozen=True)
class Answers:
    """Observations that were seen, and that were looked for and not seen, by id."""

    seen: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()

    def all(self) -> tuple[tuple[str, bool], ...]:
        """(id, seen) of every answer."""
        return (*((i, True) for i in self.seen), *((i, False) for i in self.not_seen))

    def and_(self, identity: str, seen: bool) -> Answers:
        """These and one more."""
        return Answers(self.seen + (identity,) * seen, self.not_seen + (identity,) * (not seen))

    def check(self, known: Collection[str], command: str) -> None:
        """Raises UsageError for ids that `command` does not know, or that are both seen and not seen."""
        for identity, _ in self.all():
            if identity not in known:
                parts = set(identity.split("-"))
                near = [name for name in known if parts & set(name.split("-"))]
                hint = f"Perhaps {', '.join(near[:6])}. " if near else ""
                remedy = f"{hint}leakdown {command} --observations lists them."
                raise UsageError(f"unknown observation {identity!r}", remedy=remedy)
        both = sorted(set(self.seen) & set(self.not_seen))
        if both:
            raise UsageError(f"{both[0]!r} is both seen and not seen", remedy="Give it once.")


@dataclass(frozen=True)
class EngineFacts:
    """What is said of one engine: ids of either kind, the kind of intake, which way the seal lips face."""

    seen: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()
    intake: str = "unknown"
    seal_lips: str = "unknown"


def check_engine(intake: str, seal_lips: str) -> None:
    """Raises UsageError for words that do not exist."""
    for what, word, words in (("--intake", intake, INTAKES), ("--seal-lips", seal_lips, LIPS)):
        if word not in words:
            raise UsageError(f"{what} {word!r} is not known", remedy=f"Say one of {', '.join(words)}.")


def answers_with_words(complaint: str, seen: Sequence[str], not_seen: Sequence[str]) -> Answers:
    """The ids given and those that a complaint's words say, where nobody says that they are not so."""
    words = [i for i in heard(complaint).seen if i not in not_seen]
    return Answers((*words, *seen), tuple(not_seen))


def sorted_answers(seen: Sequence[str], not_seen: Sequence[str]) -> tuple[Answers, Answers]:
    """Ids of either kind -> what `locate` weighs itself, and the rest, whose odds the complaint brings in.

    Raises UsageError for unknown ids and for what is said both ways.
    """
    complaints, bench = complaint_knowledge().complaints, knowledge().observations
    said = Answers(_named(map(fact_name, seen)), _named(map(fact_name, not_seen)))
    said.check((*bench, *complaints), "locate")
    at_bench = {i: was for i, was in said.all() if i in bench}
    heard = [(i, was) for i, was in said.all() if i not in bench]
    return _parted(at_bench.items()), _parted(
        (i, was) for i, was in heard if not set(complaints[i].same_as) & set(at_bench)
    )


def fact_name(identity: str) -> str:
    """One name for a fact that has two: that of `locate` where both know it."""
    complaint = complaint_knowledge().complaints.get(identity)
    bench = knowledge().observations
    if identity in bench or complaint is None:
        return identity
    same = [name for name in complaint.same_as if name in bench]
    return same[0] if len(same) == 1 else identity


def complaint_name(identity: str) -> str:
    """The name of a fact among complaints; an id that has none there is given back."""
    complaints = complaint_knowledge().complaints
    if identity in complaints:
        return identity
    fact = fact_name(identity)
    return next((c for c in complaints if fact_name(c) == fact), identity)


def for_suspects(said: Iterable[tuple[str, bool]]) -> Answers:
    """Of (id, seen) of either kind, what `suspects` takes in, under its own names; the last word counts."""
    last = {complaint_name(i): was for i, was in said}
    return _parted((i, was) for i, was in last.items() if i in complaint_knowledge().complaints)


def checked_for_suspects(said: Answers) -> Answers:
    """The same for answers that are all meant for `suspects`. Raises UsageError for others."""
    named = Answers(_named(map(complaint_name, said.seen)), _named(map(complaint_name, said.not_seen)))
    named.check(complaint_knowledge().complaints, "suspects")
    return named


def _named(ids: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(ids))


def _parted(said: Iterable[tuple[str, bool]]) -> Answers:
    pairs = list(said)
    return Answers(tuple(i for i, was in pairs if was), tuple(i for i, was in pairs if not was))


@dataclass(frozen=True)
class KnownObservation:
    """An observation that can be given. kind: "bench" or "complaint"."""

    id: str
    text: str
    kind: str


def all_observations() -> tuple[KnownObservation, ...]:
    """Everything that may be said, the bench's first; a fact that both know is listed once."""
    bench, complaints = knowledge().observations, complaint_knowledge().complaints.values()
    return (
        *(KnownObservation(o.id, o.ask, "bench") for o in bench.values()),
        *(KnownObservation(c.id, c.says, "complaint") for c in complaints if fact_name(c.id) not in bench),
    )
