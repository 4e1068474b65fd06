"""Which sections each test contained, from what was said to be included or blocked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from leakdown.recording import Conditions

REST = "rest"
"""What no test names: the part of the circuit that is in all of them."""
RIG = "rig"


@dataclass(frozen=True)
class Contents:
    """`sections`: every section in the order first named. `tests`: what each test contained.

    said: whether any test named its sections at all.
    """

    sections: tuple[str, ...]
    tests: tuple[frozenset[str], ...]
    said: bool


def contents(conditions: Sequence[Conditions], circuits: Sequence[str]) -> Contents:
    """The sections of tests of one engine. A rig test makes the rig a section of every other test.

    A test that names nothing contained everything; one that names what was blocked, the others. When no
    test lists what it included, the unnamed remainder is a section of its own.
    """
    listed = [c.includes for c in conditions]
    blocked = [c.blocked for c in conditions]
    rig = [circuit == RIG for circuit in circuits]
    names = list(dict.fromkeys(_plain(n) for group in (*listed, *blocked) for n in group))
    said = bool(names)
    if not any(listed) and (said or (any(rig) and not all(rig))):
        names.append(REST)
    if any(rig) and RIG not in names:
        names.append(RIG)
    whole = frozenset(names)
    tests = [
        frozenset((RIG,)) if is_rig else _of_test(includes, blocks, whole, any(rig))
        for includes, blocks, is_rig in zip(listed, blocked, rig, strict=True)
    ]
    return Contents(tuple(names), tuple(tests), said or (any(rig) and not all(rig)))


def _of_test(
    includes: tuple[str, ...], blocked: tuple[str, ...], whole: frozenset[str], with_rig: bool
) -> frozenset[str]:
    inside = frozenset(map(_plain, includes)) if includes else whole
    inside = inside - frozenset(map(_plain, blocked))
    return inside | {RIG} if with_rig else inside


def _plain(name: str) -> str:
    return " ".join(name.split())
