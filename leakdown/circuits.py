"""The table of circuits: what is sealed, asked, pumped to, allowed and minded, for each and each direction.

All of it stands in `circuits.toml` beside this file; whatever knows something of a circuit reads it here.
Loading this loads no arrays: the command line and the settings need the names.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

from leakdown.errors import InputError, UsageError
from leakdown.knowledge import knowledge_table

Direction = Literal["pressure", "vacuum"]
Question = Literal["holds", "lets air in", "holds or relieves", "opens and closes"]
Strokes = Literal["two-stroke", "four-stroke"]
DIRECTIONS: tuple[Direction, ...] = ("pressure", "vacuum")
CIRCUITS = ("crankcase", "intake", "impulse", "fuel-line", "carburettor-inlet", "float-inlet", "tank", "rig")
"""Names of the circuits, in the usual order. The first is meant where nobody says which."""


@dataclass(frozen=True)
class Way:
    """One direction of a circuit's test: gauge magnitudes in Pa; limit "" where practice has none.

    opens_pa: usual (lowest, highest) opening of a needle that is pumped open.
    """

    direction: Direction
    question: Question
    target_pa: float
    caution_pa: float
    limit: str
    opens_pa: tuple[float, float] | None = None

    @property
    def tops_up(self) -> bool:
        """Whether what is asked is a slow loss, so that settling must be over: the steps of `procedure`."""
        return self.question == "holds"


@dataclass(frozen=True)
class Procedure:
    """How the valve is shut, the circuit topped up and the watch started, in words, and its waits (s).

    steps: for paper, in order. screen: the same by name, in short, while it is done.
    """

    wait_s: tuple[float, float]
    start_s: float
    steps: tuple[str, ...]
    screen: dict[str, str]

    def told(self, target: str) -> tuple[str, ...]:
        """The steps for a target in words."""
        waits = dict(zip(("least", "most"), self.wait_s, strict=True))
        return tuple(step.format(target=target, start=self.start_s, **waits) for step in self.steps)


@dataclass(frozen=True)
class Circuit:
    """How one circuit is tested; the meaning of each field stands at the head of `circuits.toml`.

    volume_m3: usual (smallest, largest). Every line is common practice; the maker's manual comes first.
    """

    id: str
    name: str
    words: str
    synonyms: tuple[str, ...]
    sealed: str
    sections: tuple[str, ...]
    four_stroke: bool
    volume_m3: tuple[float, float]
    both: Literal["needed", "useful", "no"]
    engine: bool
    breathed: bool
    fuel: bool
    needle: bool
    tender: bool
    harm: str
    steps: tuple[str, ...]
    healthy: str
    mind: tuple[str, ...]
    ways: tuple[Way, ...]

    def way(self, direction: str) -> Way | None:
        """A direction in which this circuit is tested, or None."""
        return next((way for way in self.ways if way.direction == direction), None)

    def caution_pa(self, direction: str) -> float:
        """Gauge pressure magnitude above which a caution is due, Pa; the other direction's where none is."""
        return (self.way(direction) or self.ways[0]).caution_pa

    def target_pa(self, direction: str) -> float | None:
        """What to pump to, gauge magnitude, Pa; None for a direction that is not tested."""
        way = self.way(direction)
        return None if way is None else way.target_pa


@lru_cache(maxsize=64)
def circuit(name: str | None) -> Circuit:
    """A circuit by its name; the crankcase for None. Raises UsageError with the known names."""
    wanted = CIRCUITS[0] if name is None else name
    if wanted not in CIRCUITS:
        raise _unknown(wanted)
    table = knowledge_table("leakdown", "circuits.toml")
    try:
        return _read(wanted, table[wanted])
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(f"circuits.toml lacks or misstates {error} of {wanted!r}") from error


@lru_cache(maxsize=1)
def procedure() -> Procedure:
    """The steps from the full circuit to the start of the watch. Raises InputError for a table that lacks some."""
    row = knowledge_table("leakdown", "circuits.toml").get("procedure", {})
    try:
        least, most = (float(end) for end in row["wait_s"])
        steps = tuple(str(row[name]) for name in ("shut", "top_up", "pump_off", "watch"))
        return Procedure((least, most), float(row["start_s"]), steps, dict(row["screen"]))
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(f"circuits.toml lacks or misstates {error} of its procedure") from error


def circuit_named(text: str) -> str:
    """The circuit that `text` names, trade synonyms included. Raises UsageError with the known names."""
    plain = re.sub(r"[\s_]+", "-", text.strip().lower())
    if plain in CIRCUITS:
        return plain
    for name in CIRCUITS:
        if plain in circuit(name).synonyms:
            return name
    raise _unknown(text)


def for_engine(name: str, engine: Strokes) -> Circuit:
    """A circuit on a two- or four-stroke. Raises UsageError where the test makes no sense on that engine."""
    found = circuit(name)
    if engine == "four-stroke" and not found.four_stroke:
        valid = [other for other in CIRCUITS if circuit(other).four_stroke and other != "rig"]
        raise UsageError(
            f"a {found.name} test tells nothing on a four-stroke: its crankcase breathes, by design and past the rings",
            remedy=f"These stay valid on it: {', '.join(valid)}. An engine lubricated by its fuel mix has a "
            "procedure of its own: ask its maker's manual.",
        )
    return found


def _unknown(text: str) -> UsageError:
    return UsageError(f"unknown circuit {text!r}", remedy=f"Known circuits: {', '.join(CIRCUITS)}.")


def _read(name: str, row: dict[str, Any]) -> Circuit:
    low, high = row["volume_cm3"]
    ways = [_way(key, value) for key, value in row.items() if key in DIRECTIONS]
    text = {key: str(row[key]) for key in ("name", "words", "sealed", "harm", "healthy", "both")}
    lists = {key: tuple(row[key]) for key in ("synonyms", "sections", "mind")}
    marks = {key: bool(row.get(key)) for key in ("four_stroke", "engine", "breathed", "fuel", "needle", "tender")}
    told: dict[str, Any] = {**text, **lists, **marks}
    volume_m3 = (1e-6 * float(low), 1e-6 * float(high))
    return Circuit(id=name, volume_m3=volume_m3, steps=tuple(row["set_up"]), ways=tuple(ways), **told)


def _way(direction: str, row: dict[str, Any]) -> Way:
    target_pa, caution_pa = (1e3 * float(row[key]) for key in ("target_kpa", "caution_kpa"))
    low, high = (1e3 * float(end) for end in row.get("opens_kpa", (0, 0)))
    told = (target_pa, caution_pa, str(row["limit"]), (low, high) if high else None)
    return Way(direction, row["question"], *told)  # type: ignore[arg-type]
