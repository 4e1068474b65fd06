"""What the trade knows of complaints, read from the editable files in `knowledge/`. All of it is practice.

A shop may keep its own copies: the folder named by LEAKDOWN_KNOWLEDGE wins, file by file.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

from leakdown.where.knowledge import knowledge_table, misstated

FoundBy = Literal["leak", "fuel", "none"]


@dataclass(frozen=True)
class KnownSuspect:
    """A suspect; fields as in suspects.toml. `places`: its names among the places that tests find."""

    id: str
    name: str
    weight: float
    found: FoundBy
    groups: tuple[str, ...]
    places: tuple[str, ...]

    def named_in(self, table: Mapping[str, float]) -> float | None:
        """The entry that speaks of this suspect: its own, its group's, `others`, or None."""
        for key in (self.id, *self.groups, "others"):
            if key in table:
                return float(table[key])
        return None


@dataclass(frozen=True)
class KnownComplaint:
    """Something that can be said of the engine; fields as in complaints.toml."""

    id: str
    ask: str
    says: str
    cluster: str
    usual: float
    seen: Mapping[str, float]
    not_seen: Mapping[str, float]
    words: tuple[str, ...]
    same_as: tuple[str, ...]


@dataclass(frozen=True)
class Check:
    """A check or test that could come next; fields as in checks.toml."""

    id: str
    do: str
    why: str
    kind: Literal["check", "test"]
    minutes: float
    finds: Mapping[str, float]
    done_by: tuple[str, ...]


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
    """The knowledge in force. Raises InputError for a file that does not say what it must."""
    return _load(os.environ.get("LEAKDOWN_KNOWLEDGE", ""))


@lru_cache(maxsize=4)
def _load(folder: str) -> ComplaintKnowledge:
    suspects, complaints, checks = (
        knowledge_table("leakdown.where", name, folder)
        for name in ("suspects.toml", "complaints.toml", "checks.toml")
    )
    try:
        known = ComplaintKnowledge(
            tuple(_suspect(key, row) for key, row in suspects["suspect"].items()),
            {key: _complaint(key, row) for key, row in complaints.items()},
            tuple(_check(key, row) for key, row in checks.items()),
            float(suspects["numbers"]["cluster_cap"]),
            float(suspects["numbers"]["most_sure"]),
            _incidental(suspects["numbers"]),
        )
        _check_names(known)
    except (KeyError, TypeError, ValueError) as error:
        raise misstated(folder, error) from error
    return known


def _suspect(key: str, row: dict[str, Any]) -> KnownSuspect:
    found, weight = row["found"], float(row["weight"])
    if found not in ("leak", "fuel", "none") or weight <= 0.0:
        raise ValueError(f"found or weight of {key!r}")
    return KnownSuspect(
        key, row["name"], weight, found, tuple(row.get("groups", ())), tuple(row.get("places", (key,)))
    )


def _complaint(key: str, row: dict[str, Any]) -> KnownComplaint:
    usual = float(row["usual"])
    if not 0.0 < usual < 1.0 or any(value < 0.0 for value in row["seen"].values()):
        raise ValueError(f"usual or seen of {key!r}")
    words = tuple(word.lower() for word in row.get("words", ()))
    return KnownComplaint(
        id=key,
        ask=row["ask"],
        says=row.get("says", row["ask"]),
        cluster=row["cluster"],
        usual=usual,
        seen=row["seen"],
        not_seen=row.get("not_seen", {}),
        words=words,
        same_as=tuple(row.get("same_as", ())),
    )


def _incidental(numbers: Mapping[str, float]) -> float:
    share = float(numbers.get("incidental", 0.0))
    if not 0.0 <= share < 1.0:
        raise ValueError("incidental, which is a share from 0 to 1")
    return share


def _check(key: str, row: dict[str, Any]) -> Check:
    if row["kind"] not in ("check", "test") or not float(row["minutes"]) > 0.0:
        raise ValueError(f"kind or minutes of {key!r}")
    done_by = tuple(row.get("done_by", ()))
    return Check(key, row["do"], row["why"], row["kind"], float(row["minutes"]), row["finds"], done_by)


def _check_names(known: ComplaintKnowledge) -> None:
    """Every name in a table must be a suspect, a group or `others`: a typing error would go unseen."""
    names = {"others"} | {s.id for s in known.suspects} | {g for s in known.suspects for g in s.groups}
    tables = [t for c in known.complaints.values() for t in (c.seen, c.not_seen)]
    tables += [check.finds for check in known.checks]
    unknown = sorted({key for table in tables for key in table} - names)
    unknown += sorted({i for check in known.checks for i in check.done_by} - set(known.complaints))
    if unknown:
        raise ValueError(f"the name {unknown[0]!r}, which nothing defines")
