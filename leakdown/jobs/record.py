"""A job's record: what came in, what was tested, found and done. Entries are only ever added.

The fields are the keys of job.json: form.py writes and reads them as they stand here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal, get_args

from leakdown.circuits import Direction
from leakdown.jobs.engine_run import EngineRun
from leakdown.recording import Conditions

Stage = Literal["before", "after"]
NoteKind = Literal["note", "repair", "verdict", "correction", "withdrawal"]
Verdict = Literal["pass", "fail", "undecided"]
STAGES: tuple[Stage, ...] = get_args(Stage)
NOTE_KINDS: tuple[NoteKind, ...] = get_args(NoteKind)
VERDICTS: tuple[Verdict, ...] = get_args(Verdict)


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
class StoredRecording:
    """A file in the folder `recordings` or `photos`: its name there, its name as it came, checksum and size."""

    file: str
    name: str
    sha256: str
    size_bytes: int


@dataclass(frozen=True)
class TestInputs:
    """What was given when a test was added: enough to analyse its file again.

    conditions: all that went in, from the file and the options (SI). unit to columns: how the file was read, as
    `ReadingOptions` has them. limit: its text, or "" for common practice; limit_from: "maker", "given" or "".
    air_needed_m3_s: what a vent must let in, where the options ("given") or the shop's settings
    (air_needed_from) said it. connection_proven, blanks_checked: as the mechanic says.
    """

    conditions: Conditions
    unit: str | None = None
    direction: Direction | None = None
    absolute: bool = False
    barometer_pa: float | None = None
    zero_pa: float | None = None
    test: int | None = None
    columns: tuple[str, ...] = ()
    quote_pa: float = 35_000.0
    hold_s: tuple[float, float] | None = None
    limit: str = ""
    limit_from: str = ""
    manual_page: str = ""
    air_needed_m3_s: float | None = None
    air_needed_from: str = ""
    connection_proven: bool = False
    blanks_checked: bool = False


@dataclass(frozen=True)
class StoredFlag:
    """A warning of the analysis, as it was shown."""

    code: str
    text: str


@dataclass(frozen=True)
class StoredCurve:
    """The hold in a few readings, for a little picture: seconds since the valve was shut, gauge kPa."""

    time_s: tuple[float, ...]
    pressure_kpa: tuple[float, ...]


@dataclass(frozen=True)
class StoredResult:
    """A result as it was shown when the test was added, in words and figures.

    figures: chosen keys of the analysis' JSON object.
    """

    verdict: Verdict
    reason: str
    size: str
    brief: str
    detected: bool | None
    flags: tuple[StoredFlag, ...]
    figures: Mapping[str, Any]
    program: str
    curve: StoredCurve | None = None

    def figure(self, key: str) -> Mapping[str, Any]:
        """One of `figures` that is an object itself; empty where it is missing or null."""
        value = self.figures.get(key)
        return value if isinstance(value, dict) else {}


@dataclass(frozen=True)
class StoredPlace:
    """Where the tests so far put the leak. probability: of `group`. answers: from the complaint."""

    headline: str
    group: str
    group_name: str
    place: str
    place_name: str
    probability: float
    next_do: str = ""
    next_why: str = ""
    answers: tuple[str, ...] = ()


@dataclass(frozen=True)
class StoredChange:
    """How the leak compares with the test `against` before the repair: after over before, with its ends."""

    against: int
    word: str
    sentence: str
    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Test:
    """One test. at: ISO 8601. corrects: number of the test that this one takes the place of."""

    number: int
    at: str
    stage: Stage
    recording: StoredRecording
    inputs: TestInputs
    result: StoredResult
    place: StoredPlace | None = None
    change: StoredChange | None = None
    corrects: int | None = None

    kind = "test"  # of entry; not a field

    @property
    def circuit(self) -> str:
        """The circuit that was analysed."""
        return str(self.result.figures.get("circuit") or self.inputs.conditions.circuit or "crankcase")

    @property
    def direction(self) -> str:
        """pressure or vacuum."""
        return str(self.result.figures.get("direction") or self.inputs.conditions.direction or "pressure")

    @property
    def connection_proven(self) -> bool:
        """The gauge is known to have seen the circuit: it saw it leak, or the mechanic proved it."""
        return self.inputs.connection_proven or bool(self.result.detected)


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
    verdict: Verdict | Literal[""] = ""
    place: str = ""
    corrects: str = ""
    seen: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()


@dataclass(frozen=True)
class StoredSuspect:
    """A suspect as it was ranked. leak: a leak test can find it."""

    place: str
    name: str
    probability: float
    leak: bool
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class SuspectList:
    """What the complaint made suspect, as it was shown, in words that need no program to be read.

    text: the complaint in words, where it was given so. seen, not_seen: ids of all that had been said then;
    answers: the same in words.
    """

    number: int
    at: str
    text: str
    seen: tuple[str, ...]
    not_seen: tuple[str, ...]
    answers: tuple[str, ...]
    suspects: tuple[StoredSuspect, ...]
    next_do: str
    next_why: str
    plain: str
    caveat: str
    program: str

    kind = "suspects"  # of entry; not a field


@dataclass(frozen=True)
class Photo:
    """A photograph in the folder `photos`, without its metadata. place: where it was taken. text: what it shows."""

    number: int
    at: str
    recording: StoredRecording
    place: str = ""
    text: str = ""

    kind = "photo"  # of entry; not a field


Entry = Test | Note | SuspectList | Photo | EngineRun


@dataclass(frozen=True)
class Job:
    """A record. engine: as first written; `current` has the corrections in.

    document: the object this was read from, empty for a new job. What stands in it is written back as it is.
    """

    reference: str
    opened: str
    engine: Engine
    entries: tuple[Entry, ...] = ()
    document: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

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
    def photos(self) -> tuple[Photo, ...]:
        """All photographs, withdrawn ones too."""
        return tuple(e for e in self.entries if isinstance(e, Photo))

    @cached_property
    def engine_runs(self) -> tuple[EngineRun, ...]:
        """All runs of the engine, corrected and withdrawn ones too."""
        return tuple(e for e in self.entries if isinstance(e, EngineRun))

    def withdrawn(self, entry: Entry) -> bool:
        """Whether a later entry takes this one out of account."""
        return entry.number in self._withdrawn

    @cached_property
    def suspect_lists(self) -> tuple[SuspectList, ...]:
        """Rankings of suspects that count: those not withdrawn."""
        found = (e for e in self.entries if isinstance(e, SuspectList))
        return tuple(e for e in found if e.number not in self._withdrawn)

    @cached_property
    def _withdrawn(self) -> frozenset[int]:
        return frozenset(int(n.corrects) for n in self.notes("withdrawal") if n.corrects.isdecimal())

    def notes(self, *kinds: NoteKind) -> tuple[Note, ...]:
        """Notes of these kinds, in order."""
        return tuple(e for e in self.entries if isinstance(e, Note) and e.kind in kinds)

    def maker_test(self, circuit: str, direction: str) -> Test | None:
        """The last test that counts, of this circuit and direction, that was judged by the maker's figure."""
        own = (t for t in self.counted if (t.circuit, t.direction) == (circuit, direction))
        return next((t for t in reversed(tuple(own)) if t.inputs.limit_from == "maker"), None)

    def with_entry(self, entry: Entry) -> Job:
        """A copy with one more entry."""
        return replace(self, entries=(*self.entries, entry))


def with_field(engine: Engine, name: str, text: str) -> Engine:
    """A copy with one field of the head replaced; several changed parts are parted by semicolons."""
    value: Any = text
    if name == "parts_changed":
        value = tuple(part.strip() for part in text.split(";") if part.strip())
    return replace(engine, **{name: value})
