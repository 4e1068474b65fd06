"""What the trade knows of complaints, read from the editable files in `knowledge/`. All of it is practice."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Literal

from leakdown.knowledge import check_keys, knowledge_table, misstated, own_folder, read_rows
from leakdown.where.knowledge import OTHERS

FoundBy = Literal["leak", "fuel", "none"]


@dataclass(frozen=True)
class KnownSuspect:
    """A suspect; fields as in suspects.toml. `places`: its names among the places that tests find."""

    id: str
    name: str
    weight: float
    found: FoundBy
    groups: tuple[str, ...] = ()
    places: tuple[str, ...] = ()

    def named_in(self, table: Mapping[str, float]) -> float | None:
        """The entry that speaks of this suspect: its own, its group's, `others`, or None."""
        return next((table[key] for key in (self.id, *self.groups, OTHERS) if key in table), None)


@dataclass(frozen=True)
class KnownComplaint:
    """Something that can be said of the engine; fields as in complaints.toml."""

    id: str
    ask: str
    cluster: str
    usual: float
    seen: Mapping[str, float]
    says: str = ""
    not_seen: Mapping[str, float] = field(default_factory=dict)
    words: tuple[str, ...] = ()
    same_as: tuple[str, ...] = ()
    past: bool = False
    unmoved: bool = False
    cure: str = ""
    never_run: bool = False


@dataclass(frozen=True)
class Check:
    """A check or test that could come next; fields as in checks.toml."""

    id: str
    do: str
    why: str
    kind: Literal["check", "test"]
    minutes: float
    finds: Mapping[str, float]
    done_by: tuple[str, ...] = ()
    runs: bool = False
    after: str = ""
    when: str = ""


@dataclass(frozen=True)
class ComplaintKnowledge:
    """All three files."""

    suspects: tuple[KnownSuspect, ...]
    complaints: Mapping[str, KnownComplaint]
    checks: tuple[Check, ...]
    cluster_cap: float
    most_sure: float
    incidental: float

    def chance_of_yes(self, complaint: KnownComplaint, suspect: KnownSuspect) -> float:
        """How often this complaint goes with this suspect."""
        factor = suspect.named_in(complaint.seen)
        return min(self.most_sure, complaint.usual * (1.0 if factor is None else factor))

    def factor(self, complaint: KnownComplaint, suspect: KnownSuspect, seen: bool) -> float:
        """What a yes or a no does to the odds of a suspect."""
        if seen:
            factor = suspect.named_in(complaint.seen)
            return 1.0 if factor is None else factor
        said = suspect.named_in(complaint.not_seen)
        if said is not None:
            return said
        return (1.0 - self.chance_of_yes(complaint, suspect)) / (1.0 - complaint.usual)


def complaint_knowledge() -> ComplaintKnowledge:
    """The knowledge in force. Raises InputError for a shop's file that does not say what it must."""
    return _load(own_folder())


@lru_cache(maxsize=4)
def _load(_folder: Path) -> ComplaintKnowledge:
    room = "leakdown.where"
    table = knowledge_table(room, "suspects.toml", closed=("", "numbers"))
    suspects = read_rows(KnownSuspect, "suspects.toml", table["suspect"], "suspect.")
    complaints = read_rows(KnownComplaint, "complaints.toml", knowledge_table(room, "complaints.toml"))
    checks = read_rows(Check, "checks.toml", knowledge_table(room, "checks.toml"))
    known = ComplaintKnowledge(
        tuple(replace(s, places=s.places or (s.id,)) for s in suspects.values()),
        {c.id: _whole(c) for c in complaints.values()},
        tuple(checks.values()),
        **{name: float(value) for name, value in table["numbers"].items()},
    )
    _check_numbers(known)
    _check_names(known)
    return known


def _whole(complaint: KnownComplaint) -> KnownComplaint:
    words = tuple(word.lower() for word in complaint.words)
    return replace(complaint, says=complaint.says or complaint.ask, words=words)


def _check_numbers(known: ComplaintKnowledge) -> None:
    for s in known.suspects:
        if not s.weight > 0.0:
            raise misstated("suspects.toml", f"suspect.{s.id}.weight", "must be above 0")
    for c in known.complaints.values():
        if not 0.0 < c.usual < 1.0:
            raise misstated("complaints.toml", f"{c.id}.usual", "must be a share between 0 and 1")
    for check in known.checks:
        if not check.minutes > 0.0:
            raise misstated("checks.toml", f"{check.id}.minutes", "must be above 0")
    if not 0.0 <= known.incidental < 1.0:
        raise misstated("suspects.toml", "numbers.incidental", "must be a share from 0 to 1")


def _check_names(known: ComplaintKnowledge) -> None:
    """A typing error in the name of a suspect would go unseen, and the odds with it."""
    names = [*(s.id for s in known.suspects), *(g for s in known.suspects for g in s.groups), OTHERS]
    for c in known.complaints.values():
        check_keys("complaints.toml", f"{c.id}.seen", c.seen, names)
        check_keys("complaints.toml", f"{c.id}.not_seen", c.not_seen, names)
    for check in known.checks:
        check_keys("checks.toml", f"{check.id}.finds", check.finds, names)
        check_keys("checks.toml", f"{check.id}.done_by", check.done_by, known.complaints)
