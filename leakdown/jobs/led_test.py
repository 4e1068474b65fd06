"""A whole bench test as steps in order, with what the job's record already holds of them. Pure.

Whoever takes a test up again asks for the plan anew: what stands in the record is done.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from leakdown.circuits import Circuit, Direction, circuit
from leakdown.jobs.adding import stage_named
from leakdown.jobs.record import Job, Test
from leakdown.quantities import show_pressure
from leakdown.tuned import texts

_TEXTS = texts("jobs", "led")
_ORDER: tuple[Direction, ...] = ("vacuum", "pressure")
"""Vacuum before soap (common practice): a wet joint seals under pressure and is sucked dry under vacuum."""
RIG_TIGHT = "rig-tight"


@dataclass(frozen=True)
class LedStep:
    """One step. does: "look" is answered by the mechanic, "record" is logged from the gauge. mind: what to watch for.

    done: what stands in the record of it, "" while it is to be done. limit: the maker's figure for it that the job
    has, "" without one.
    """

    id: str
    does: Literal["look", "record"]
    title: str
    why: str
    mind: tuple[str, ...]
    direction: Direction | None = None
    done: str = ""
    limit: str = ""

    @property
    def ask(self) -> str:
        """The question that is answered with yes or no, of a step to look at."""
        return str(_TEXTS[self.id]["ask"])


def plan_of(job: Job, circuit_name: str, unit: str = "kPa", rig_known: str = "") -> tuple[LedStep, ...]:
    """All steps of a circuit's bench test, done or not; unit: of the targets. rig_known: name of a rig that was proven.

    The circuit's directions come as practice has them: vacuum first. Raises UsageError for an unknown circuit.
    """
    table = circuit(circuit_name)
    ways = [way for name in _ORDER if (way := table.way(name)) is not None]
    look = [] if table.id == "rig" else [_rig(job, rig_known)]
    seal = _step("seal", "look", (table.sealed,), table.steps, done=_sealed(job, table))
    record = [_record(job, table, way.direction, unit) for way in ways]
    return (*look, seal, *record)


def next_step(plan: tuple[LedStep, ...]) -> LedStep | None:
    """The first that is not done; None at the end."""
    return next((step for step in plan if not step.done), None)


def circuit_of(job: Job) -> str | None:
    """The circuit that the job's newest test was of; None without one."""
    return job.counted[-1].circuit if job.counted else None


def _step(
    name: str,
    does: Literal["look", "record"],
    figures: tuple[str, ...] = (),
    mind: tuple[str, ...] = (),
    direction: Direction | None = None,
    done: str = "",
) -> LedStep:
    row = _TEXTS[name]
    return LedStep(
        direction or name, does, row["title"].format(*figures), row["why"], (*mind, *row["mind"]), direction, done
    )


def _rig(job: Job, rig_known: str) -> LedStep:
    said = [n for n in job.notes("note") if RIG_TIGHT in (*n.seen, *n.not_seen)]
    done = f"rig {rig_known}, proven" if rig_known else f"note {said[-1].number}" if said else ""
    return _step("rig", "look", done=done)


def _sealed(job: Job, table: Circuit) -> str:
    """The circuit is as it was for the tests that stand in the record, since no repair came after them."""
    tests = _tests(job, table)
    return f"test {tests[-1].number}" if tests else ""


def _tests(job: Job, table: Circuit, direction: str | None = None) -> list[Test]:
    stage = stage_named(None, job)
    return [t for t in job.counted if t.circuit == table.id and t.stage == stage and direction in (None, t.direction)]


def _record(job: Job, table: Circuit, direction: Direction, unit: str) -> LedStep:
    target = show_pressure(table.target_pa(direction) or 0.0, unit, 2)
    bound = show_pressure(table.caution_pa(direction), unit, 2)
    tests = _tests(job, table, direction)
    done = f"test {tests[-1].number}: {tests[-1].result.verdict or 'undecided'}" if tests else ""
    mind = (_TEXTS["bound"]["mind"][0].format(bound, table.harm),)
    maker = job.maker_test(table.id, direction)
    step = _step(direction, "record", (target,), mind, direction, done)
    return replace(step, limit=maker.inputs.limit if maker is not None else "")
