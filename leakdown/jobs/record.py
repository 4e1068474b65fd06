"""A job's record: what came in, what was tested, found and done. Entries are only ever added."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal

from leakdown.circuits import Direction
from leakdown.recording import Conditions

Stage = Literal["before", "after"]
NoteKind = Literal["note", "repair", "verdict", "correction", "withdrawal"]
STAGES: tuple[Stage, ...] = ("before", "after")
NOTE_KINDS: tuple[NoteKind, ...] = ("note", "repair", "verdict", "correction", "withdrawal")
VERDICTS = ("pass", "fail", "undecided")


@dataclass(frozen=True)
class Engine:
    """The head of a record: the engine as it came in. "" is "not said".

    understood: ids of the observations that the complaint's words were taken to say.
    """

    engine: str = ""
    serial: str = ""
    hours: str = ""
    fuel_mix: str = ""
    intake: str = "unknown"
    seal_lips: str = "unknown"
    complaint: str = ""
    parts_changed: tuple[str, ...] = ()
    understood: tuple[str, ...] = ()


FIELDS = ("engine", "serial", "hours", "fuel_mix", "intake", "seal_lips", "complaint", "parts_changed")


@dataclass(frozen=True)
class Kept:
    """A recording in the folder `recordings`: its name there, its name as it came, checksum and size."""

    file: str
    name: str
    sha256: str
    size: int


@dataclass(frozen=True)
class TestInputs:
    """What was said about a test when it was added: enough to analyse its file again.

    conditions: all that went in, from the file and the options (SI). limit_from: "maker", "given" or "".
    connection_proven, blanks_checked: as the mechanic says.
    """

    conditions: Conditions
    unit: str | None = None
    direction: Direction | None = None
    absolute: bool = False
    barometer_pa: float | None = None
    quote_pa: float = 35_000.0
    hold_s: tuple[float, float] | None = None
    limit: str = ""
    limit_from: str = ""
    manual_page: str = ""
    connection_proven: bool = False
    blanks_checked: bool = False


@dataclass(frozen=True)
class StoredResult:
    """A result as it was shown when the test was added, in words and figures.

    figures: chosen keys of the analysis' JSON object. flags: (code, text).
    """

    verdict: str
    reason: str
    size: str
    brief: str
    detected: bool | None
    flags: tuple[tuple[str, str], ...]
    figures: Mapping[str, Any]
    program: str


@dataclass(frozen=True)
class Place:
    """Where the tests so far put the leak. probability: of `group`. heard: what of the complaint counted."""

    headline: str
    group: str
    group_name: str
    place: str
    place_name: str
    probability: float
    next_do: str = ""
    next_why: str = ""
    heard: tuple[str, ...] = ()


@dataclass(frozen=True)
class Changed:
    """How the leak compares with the test `against` before the repair."""

    against: int
    word: str
    sentence: str
    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Test:
    """One test. corrects: number of the test that this one takes the place of."""

    number: int
    at: str
    stage: Stage
    kept: Kept
    said: TestInputs
    found: StoredResult
    place: Place | None = None
    changed: Changed | None = None
    corrects: int | None = None

    @property
    def circuit(self) -> str:
        """The circuit that was analysed."""
        return str(self.found.figures.get("circuit") or self.said.conditions.circuit or "crankcase")

    @property
    def direction(self) -> str:
        """pressure or vacuum."""
        return str(self.found.figures.get("direction") or self.said.conditions.direction or "pressure")

    @property
    def connection_proven(self) -> bool:
        """The gauge is known to have seen the circuit: it saw it leak, or the mechanic proved it."""
        return self.said.connection_proven or bool(self.found.detected)


@dataclass(frozen=True)
class Note:
    """Something said: a note, a repair, the mechanic's verdict, a correction, or a test withdrawn.

    corrects: an entry's number or a field of the head. place: where the fault was found.
    seen, not_seen: ids of observations.
    """

    number: int
    at: str
    kind: NoteKind
    text: str
    verdict: str = ""
    place: str = ""
    corrects: str = ""
    seen: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()


@dataclass(frozen=True)
class Ranked:
    """A suspect as it was ranked. leak: a leak test can find it."""

    place: str
    name: str
    probability: float
    leak: bool
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Suspected:
    """What the complaint made suspect, as it was shown, in words that need no program to be read.

    text: the complaint in words, where it was given so. seen, not_seen: ids of all that had been said then;
    said: the same in words.
    """

    number: int
    at: str
    text: str
    seen: tuple[str, ...]
    not_seen: tuple[str, ...]
    said: tuple[str, ...]
    suspects: tuple[Ranked, ...]
    next_do: str
    next_why: str
    plain: str
    caveat: str
    program: str

    kind = "suspects"  # of entry; not a field


Entry = Test | Note | Suspected


@dataclass(frozen=True)
class Job:
    """A record. engine: as first written; `current` has the corrections in. extra: keys of others, kept."""

    reference: str
    opened: str
    engine: Engine
    entries: tuple[Entry, ...] = ()
    extra: Mapping[str, Any] = field(default_factory=dict)

    @property
    def next_number(self) -> int:
        """The number of the entry to come."""
        return 1 + max((e.number for e in self.entries), default=0)

    @cached_property
    def current(self) -> Engine:
        """The head with its corrections."""
        engine = self.engine
        for note in self.notes("correction"):
            if note.corrects in FIELDS:
                engine = with_field(engine, note.corrects, note.text)
        return engine

    @cached_property
    def tests(self) -> tuple[Test, ...]:
        """All tests, withdrawn ones too."""
        return tuple(e for e in self.entries if isinstance(e, Test))

    @cached_property
    def counted(self) -> tuple[Test, ...]:
        """The tests that count: neither withdrawn nor corrected by a later one."""
        out = {t.corrects for t in self.tests} | self._withdrawn
        return tuple(t for t in self.tests if t.number not in out)

    @cached_property
    def suspected(self) -> tuple[Suspected, ...]:
        """Rankings of suspects that count: those not withdrawn."""
        found = (e for e in self.entries if isinstance(e, Suspected))
        return tuple(e for e in found if e.number not in self._withdrawn)

    @cached_property
    def _withdrawn(self) -> frozenset[int]:
        return frozenset(int(n.corrects) for n in self.notes("withdrawal") if n.corrects.isdecimal())

    def notes(self, *kinds: NoteKind) -> tuple[Note, ...]:
        """Notes of these kinds, in order."""
        return tuple(e for e in self.entries if isinstance(e, Note) and e.kind in kinds)

    def with_entry(self, entry: Entry) -> Job:
        """A copy with one more entry."""
        return replace(self, entries=(*self.entries, entry))


def with_field(engine: Engine, name: str, text: str) -> Engine:
    """A copy with one field of the head replaced; several changed parts are parted by semicolons."""
    value: Any = text
    if name == "parts_changed":
        value = tuple(part.strip() for part in text.split(";") if part.strip())
    return replace(engine, **{name: value})
