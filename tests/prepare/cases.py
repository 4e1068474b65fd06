"""Plans of all sorts: limits by drop, levels and rate, gauges fine and coarse, volumes small and large."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from leakdown.circuits import Direction
from leakdown.prepare.plan import Plan, plan
from leakdown.prepare.planned_test import PlannedTest, planned_test
from leakdown.quantities import parse_pressure


@dataclass(frozen=True)
class Case:
    """What `plan` is asked: texts as typed, volume in cm3, seconds between readings."""

    volume_cm3: float
    limit: str
    resolution: str
    every_s: float
    direction: Direction = "pressure"
    circuit: str = "crankcase"


CASES = {
    "a needle and the usual limit": Case(250, "7 kPa in 60 s", "0.25 psi", 10.0),
    "a needle read every 5 s": Case(250, "7 kPa in 60 s", "0.25 psi", 5.0),
    "from a start pressure": Case(250, "7 kPa in 60 s from 40 kPa", "0.25 psi", 10.0),
    "a rate": Case(250, "2.5 cm3/min", "0.25 psi", 10.0),
    "a limit in two seconds": Case(250, "500 Pa in 2 s", "0.05 kPa", 1.0),
    "a limit in two seconds, logged": Case(250, "500 Pa in 2 s", "0.01 kPa", 0.1),
    "vacuum levels": Case(250, "50 kPa to 30 kPa in 20 s", "0.25 psi", 5.0, "vacuum"),
    "vacuum levels, half an inHg": Case(250, "50 kPa to 30 kPa in 20 s", "0.5 inHg", 5.0, "vacuum"),
    "vacuum levels, two inHg": Case(250, "50 kPa to 30 kPa in 20 s", "2 inHg", 5.0, "vacuum"),
    "vacuum levels, logged": Case(250, "50 kPa to 30 kPa in 20 s", "0.01 kPa", 0.1, "vacuum"),
    "vacuum levels, seldom read": Case(250, "50 kPa to 30 kPa in 20 s", "1 inHg", 10.0, "vacuum"),
    "logged finely": Case(250, "7 kPa in 60 s", "0.01 kPa", 0.1),
    "logged": Case(250, "7 kPa in 60 s", "0.1 kPa", 1.0),
    "logged from a start pressure": Case(250, "7 kPa in 60 s from 40 kPa", "0.01 kPa", 0.1),
    "one psi": Case(250, "7 kPa in 60 s", "1 psi", 10.0),
    "two inHg": Case(250, "7 kPa in 60 s", "2 inHg", 10.0, "vacuum"),
    "small": Case(20, "7 kPa in 60 s", "0.25 psi", 10.0),
    "small, a rate": Case(20, "2.5 cm3/min", "0.25 psi", 10.0),
    "small, a rate, logged": Case(20, "2.5 cm3/min", "0.01 kPa", 0.1),
    "large": Case(1200, "7 kPa in 60 s", "0.25 psi", 10.0),
    "large, a small rate": Case(1200, "2.5 cm3/min", "0.25 psi", 10.0),
    "large, a rate, logged": Case(1200, "10 cm3/min", "0.1 kPa", 1.0),
    "large, a rate, logged finely": Case(1200, "5 cm3/min", "0.01 kPa", 0.1),
    "an impulse line": Case(20, "1 kPa in 30 s", "0.1 kPa", 1.0, "pressure", "impulse"),
    "an impulse line and a needle": Case(20, "1 kPa in 30 s", "0.25 psi", 10.0, "pressure", "impulse"),
    "a tank": Case(500, "2 kPa in 60 s from 15 kPa", "0.1 kPa", 1.0, "pressure", "tank"),
    "a rig": Case(30, "0.5 kPa in 60 s", "0.01 kPa", 1.0, "pressure", "rig"),
    "half a psi": Case(250, "20 kPa in 20 s", "0.5 psi", 5.0),
    "five minutes": Case(250, "7 kPa in 300 s", "0.25 psi", 10.0),
    "a tenth of a psi": Case(250, "1 psi in 30 s", "0.1 psi", 5.0),
    "ten seconds": Case(250, "3 kPa in 10 s", "0.1 kPa", 0.5),
    "one inHg in a minute": Case(250, "1 inHg in 60 s from 15 inHg", "0.5 inHg", 10.0, "vacuum"),
    "a rate under vacuum": Case(100, "10 cm3/min", "0.25 psi", 5.0, "vacuum"),
}
TOO_COARSE = (
    "large, a small rate",
    "large, a rate, logged finely",
    "vacuum levels, two inHg",
    "vacuum levels, seldom read",
    "half a psi",
)
AT_THE_EDGE = (  # nine in ten, and half of the hold hardly less often
    "one psi",
    "a limit in two seconds, logged",
    "large, a rate, logged",
)
# Limits of 20 s are half over when the watch starts: 92 of 100 against 88, which needs the long form to be told apart.
QUICK = ("a needle and the usual limit",)


def asked(name: str) -> dict[str, Any]:
    """What `plan` is asked in a case; the barometer stands at sea level."""
    case = CASES[name]
    return {
        "volume_m3": 1e-6 * case.volume_cm3,
        "resolution_pa": parse_pressure(case.resolution, "resolution").value_pa,
        "limit": case.limit,
        "circuit": case.circuit,
        "direction": case.direction,
        "every_s": case.every_s,
    }


def bench(name: str) -> PlannedTest:
    """The test of a case."""
    return planned_test(**asked(name))


@cache
def planned(name: str) -> Plan:
    """The plan of a case, made once in a session, in this process."""
    return plan(**asked(name), workers=1)
