"""The tests of one engine: what each contained, and which of them belong together."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from leakdown.analysis import Flag
from leakdown.circuits import circuit as circuit_of
from leakdown.errors import UsageError
from leakdown.judge.judged import FittedTest
from leakdown.recording import Conditions, Recording
from leakdown.where.knowledge import knowledge
from leakdown.where.located import warning

REST = "rest"
"""What no test names: the part of the circuit that is in all of them."""
RIG = "rig"
_JOINED = re.compile(r"\s*(?:,|;|&|\+|/|\band\b|\bund\b)\s*")
_FILLERS = ("the", "port", "ports", "hole", "opening", "flange", "side", "end", "outlet")
_SPELLINGS = {
    "carb": "carburettor", "carburetor": "carburettor", "boots": "boot", "manifold": "boot", "muffler": "exhaust",
    "silencer": "exhaust", "decomp": "decompression", "pulse": "impulse", "seals": "seal",
}  # fmt: skip
"""Names that mean the same (common practice)."""


def check_recordings(**values: object) -> None:
    """Raises UsageError where a value, given by its name, is no recording; it says what it is."""
    for name, value in values.items():
        if not isinstance(value, Recording):
            what = f"{name} is {value!r:.60}, not a Recording"
            raise UsageError(what, remedy="Read the file into a Recording first.")


def check_words(**lists: Sequence[str]) -> None:
    """Raises UsageError where an argument that lists ids is one text, or holds something else."""
    for name, values in lists.items():
        if isinstance(values, str) or not all(isinstance(value, str) for value in values):
            raise UsageError(f"{name}={values!r:.60} is no list of ids", remedy=f'Give {name}=["case-dry"].')


@dataclass(frozen=True)
class Contents:
    """`sections`: every section in the order first named. `tests`: what each test contained.

    named: whether any test named its sections at all. blocked: what each test says was taken out of it.
    """

    sections: tuple[str, ...]
    tests: tuple[frozenset[str], ...]
    named: bool
    blocked: tuple[tuple[str, ...], ...] = ()


def contents(conditions: Sequence[Conditions], circuits: Sequence[str]) -> Contents:
    """The sections of tests of one engine. A rig test makes the rig a section of every other test.

    A test that names nothing contained everything; one that names what was blocked, the others. What every set-up
    blanks (exhaust, carburettor) is no section. When no test lists what it included, the unnamed remainder is one.
    """
    spelled: dict[str, str] = {}
    listed = [_sections(c.includes, spelled) for c in conditions]
    blocked = [_sections(c.blocked, spelled) for c in conditions]
    rig = [circuit == RIG for circuit in circuits]
    names = list(dict.fromkeys(n for group in (*listed, *blocked) for n in group))
    named = bool(names) or (any(rig) and not all(rig))
    if named and not any(listed):
        names.append(REST)
    if any(rig) and RIG not in names:
        names.append(RIG)
    tests = []
    for includes, blocks, is_rig in zip(listed, blocked, rig, strict=True):
        inside = frozenset(includes) if includes else frozenset(names)
        inside = (inside - frozenset(blocks)) | frozenset((RIG,) if any(rig) else ())
        tests.append(frozenset((RIG,)) if is_rig else inside)
    return Contents(tuple(names), tuple(tests), named, tuple(blocked))


def _sections(names: Sequence[str], spelled: dict[str, str]) -> tuple[str, ...]:
    """Section names, each as it was first spelled, without what belongs to the set-up."""
    if not names:
        return ()
    set_up, told = knowledge().set_up, _named(tuple(names))
    return tuple(dict.fromkeys(spelled.setdefault(plain, part) for plain, part in told if plain not in set_up))


@lru_cache(maxsize=256)
def _named(names: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Each part that these names name, as everybody would write it and as it is written."""
    parts = (part.strip() for name in names for part in _JOINED.split(name))
    return tuple((plain_name(part), part) for part in parts if part)


def plain_name(name: str) -> str:
    """A section's name as everybody would write it: "the Carb." is "carburettor", "boots" is "boot"."""
    words = [_SPELLINGS.get(word, word) for word in re.findall(r"[\w-]+", name.lower())]
    kept = [word for word in words if word not in _FILLERS]
    return " ".join(kept or words)


@dataclass(frozen=True)
class Tests:
    """Tests of the circuit in question and of the rig, and what each contained.

    unsized: rig tests without a volume, whose loss cannot be set beside the engine's.
    """

    circuit: str
    all: tuple[FittedTest, ...]
    inside: Contents
    unsized: tuple[FittedTest, ...] = ()
    left_out: tuple[Flag, ...] = ()

    @property
    def rig(self) -> list[FittedTest]:
        """Tests of the rig alone."""
        return [h for h in (*self.all, *self.unsized) if h.analysis.circuit == RIG]

    def towards(self, inward: bool) -> list[FittedTest]:
        """Every test of the engine in one direction."""
        return [h for h, _ in self._of(inward)]

    def fullest(self, inward: bool) -> list[FittedTest]:
        """Tests of one direction on the blanks that have both directions, or else on the fullest."""
        own, chosen = self._of(inward), self._compared()
        if chosen is None:
            chosen = max((s for _, s in own), key=len, default=None)
        return [h for h, s in own if s == chosen]

    def pair(self) -> tuple[list[FittedTest], list[FittedTest]] | None:
        """Pressure and vacuum tests on the same blanks, or None."""
        return None if self._compared() is None else (self.fullest(False), self.fullest(True))

    def _of(self, inward: bool) -> list[tuple[FittedTest, frozenset[str]]]:
        left_out = "" if self.circuit == RIG else RIG
        pairs = zip(self.all, self.inside.tests, strict=True)
        return [(h, s) for h, s in pairs if h.inward == inward and h.analysis.circuit != left_out]

    def _compared(self) -> frozenset[str] | None:
        both = {s for _, s in self._of(True)} & {s for _, s in self._of(False)}
        return max(both, key=len) if both else None


def sort_tests(analysed: Sequence[FittedTest]) -> Tests:
    """Keep the tests of the circuit that most of them are about, and the rig's own; each once."""
    tests, flags = _once(sorted(analysed, key=_order))
    names = [h.analysis.circuit for h in tests]
    engine = [name for name in names if name != RIG] or names
    circuit = max(dict.fromkeys(engine), key=engine.count)
    if circuit_of(circuit).engine and "crankcase" in engine:
        circuit = "crankcase"
    kept: list[FittedTest] = []
    unsized: list[FittedTest] = []
    for h in tests:
        conditions = h.analysis.recording.conditions
        named = bool(conditions.includes or conditions.blocked)
        part = circuit_of(circuit).engine and circuit_of(h.analysis.circuit).engine and named
        if h.analysis.circuit == RIG != circuit and h.volume_m3 is None:
            unsized.append(h)
        elif h.analysis.circuit in (circuit, RIG) or part:
            kept.append(h)
        else:
            source, other = h.analysis.recording.source, h.analysis.circuit
            flags.append(warning("other-circuit", source=source, other=other, circuit=circuit))
    if any(h.detected for h in unsized):
        flags.append(warning("rig-volume-missing"))
    inside = contents([h.analysis.recording.conditions for h in kept], [h.analysis.circuit for h in kept])
    return Tests(circuit, tuple(kept), inside, tuple(unsized), tuple(flags))


def _order(h: FittedTest) -> tuple[object, ...]:
    """An order that does not depend on how the files were given."""
    recording = h.analysis.recording
    figures = (float(recording.pressure_pa.sum()), float(recording.time_s[-1]))
    return (h.analysis.circuit == RIG, h.inward, len(recording.conditions.blocked), recording.source, figures)


def _once(tests: Sequence[FittedTest]) -> tuple[list[FittedTest], list[Flag]]:
    """Tests with readings of their own: a file given twice would count as a repeat and narrow everything."""
    kept: list[FittedTest] = []
    flags: list[Flag] = []
    for h in tests:
        twin = next((k for k in kept if _same_readings(h.analysis.recording, k.analysis.recording)), None)
        if twin is None:
            kept.append(h)
        else:
            first, again = twin.analysis.recording.source, h.analysis.recording.source
            flags.append(warning("same-readings", first=first, again=again))
    return kept, flags


def _same_readings(one: Recording, other: Recording) -> bool:
    return np.array_equal(one.time_s, other.time_s) and np.array_equal(one.pressure_pa, other.pressure_pa)
