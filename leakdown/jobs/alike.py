"""Which tests of a job are alike: the same circuit, the same direction, and the same parts in it.

A test with the boot blocked off is no "before" of a test of the whole circuit, nor does it speak for the whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from leakdown.jobs.record import Job, StoredChange, Test
from leakdown.where.tests import contents


@dataclass(frozen=True)
class SetUp:
    """What a test was of. without: parts of the circuit that other tests of the job contain and this one does not."""

    circuit: str
    direction: str
    without: tuple[str, ...]

    @property
    def label(self) -> str:
        """ "vacuum", or "vacuum, without boot"."""
        return f"{self.direction}, without {' and '.join(self.without)}" if self.without else self.direction


def set_ups(tests: Sequence[Test]) -> dict[int, SetUp]:
    """The set-up of each test, by number, seen beside the others of its circuit."""
    found: dict[int, SetUp] = {}
    for circuit in dict.fromkeys(t.circuit for t in tests):
        own = [t for t in tests if t.circuit == circuit]
        inside = contents([t.inputs.conditions for t in own], [circuit for _ in own])
        for test, parts in zip(own, inside.tests, strict=True):
            without = tuple(name for name in inside.sections if name not in parts)
            found[test.number] = SetUp(circuit, test.direction, without)
    return found


def last_before(job: Job, newest: Test) -> tuple[Test | None, tuple[Test, ...]]:
    """The last test before the repair that is like `newest`, and those of its circuit and direction that are not."""
    kind = (newest.circuit, newest.direction)
    before = [t for t in job.counted if t.stage == "before" and (t.circuit, t.direction) == kind]
    found = set_ups([*before, newest])
    own = found[newest.number]
    alike = [t for t in before if found[t.number] == own]
    return (alike[-1] if alike else None), tuple(t for t in before if found[t.number] != own)


def counting_change(job: Job, test: Test) -> StoredChange | None:
    """The change kept with a test, where it is against one like it: older records compared whatever came first."""
    change = test.change
    against = next((t for t in job.tests if change is not None and t.number == change.against), None)
    found = set_ups([t for t in job.tests if t.circuit == test.circuit])
    same = against is not None and found.get(against.number) == found[test.number]
    return change if same else None


def no_pair_words(job: Job, test: Test) -> str:
    """Why nothing is said of a change although there are tests before and after; "" where something is."""
    if test.stage != "after" or counting_change(job, test) is not None:
        return ""
    before, others = last_before(job, test)
    if before is not None or not others:
        return ""
    return f"Not compared: test {', '.join(str(t.number) for t in others)} had other parts of the circuit in it."


def of_the_whole(tests: Sequence[Test]) -> list[Test]:
    """Those of tests of one circuit that contained most of it: they speak for the circuit."""
    if len({(t.inputs.conditions.includes, t.inputs.conditions.blocked) for t in tests}) < 2:
        return list(tests)
    found = set_ups(tests)
    least = min((len(s.without) for s in found.values()), default=0)
    return [t for t in tests if len(found[t.number].without) == least]
