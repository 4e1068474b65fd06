"""Which of the tests belong together: one circuit, its rig, and the blanks that both directions share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Flag
from leakdown.diagnose.contents import RIG, Contents, contents
from leakdown.diagnose.warning_words import warning
from leakdown.judge.held import Held
from leakdown.recording import Recording

_ONE_SPACE = ("crankcase", "intake", "impulse")  # circuits that are parts of the crankcase's own air


@dataclass(frozen=True)
class Tests:
    """Tests of the circuit in question and of the rig, and what each contained.

    unsized: rig tests without a volume, whose loss cannot be set beside the engine's.
    """

    circuit: str
    all: tuple[Held, ...]
    inside: Contents
    unsized: tuple[Held, ...] = ()
    left_out: tuple[Flag, ...] = ()

    @property
    def rig(self) -> list[Held]:
        """Tests of the rig alone."""
        return [h for h in (*self.all, *self.unsized) if h.analysis.circuit == RIG]

    def fullest(self, inward: bool) -> list[Held]:
        """Tests of one direction on the blanks that have both directions, or else on the fullest."""
        chosen = self._compared()
        own = self._of(inward)
        return [h for h, s in own if s == chosen] or [
            h for h, s in own if s == max((t for _, t in own), key=len)
        ]

    def _of(self, inward: bool) -> list[tuple[Held, frozenset[str]]]:
        pairs = zip(self.all, self.inside.tests, strict=True)
        return [
            (h, s)
            for h, s in pairs
            if h.inward == inward and (h.analysis.circuit != RIG or self.circuit == RIG)
        ]

    def _compared(self) -> frozenset[str] | None:
        both = {s for _, s in self._of(True)} & {s for _, s in self._of(False)}
        return max(both, key=len) if both else None

    def pair(self) -> tuple[list[Held], list[Held]] | None:
        """Pressure and vacuum tests on the same blanks, or None."""
        chosen = self._compared()
        if chosen is None:
            return None
        pressure, vacuum = ([h for h, s in self._of(inward) if s == chosen] for inward in (False, True))
        return pressure, vacuum


def sort_tests(tests: list[Held]) -> Tests:
    """Keep the tests of the circuit that most of them are about, and the rig's own; each once."""
    tests, flags = _once(tests)
    names = [h.analysis.circuit for h in tests]
    engine = [name for name in names if name != RIG] or names
    circuit = max(dict.fromkeys(engine), key=engine.count)
    if circuit in _ONE_SPACE and "crankcase" in engine:
        circuit = "crankcase"
    kept: list[Held] = []
    unsized: list[Held] = []
    for h in tests:
        named = bool(h.analysis.recording.conditions.includes or h.analysis.recording.conditions.blocked)
        part = circuit in _ONE_SPACE and h.analysis.circuit in _ONE_SPACE and named
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


def _once(tests: list[Held]) -> tuple[list[Held], list[Flag]]:
    """Tests with readings of their own: a file given twice would count as a repeat and narrow everything."""
    kept: list[Held] = []
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
