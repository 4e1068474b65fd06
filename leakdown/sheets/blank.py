"""What stands on a blank sheet: circuit, direction, unit, times, target and caution."""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.errors import UsageError
from leakdown.estimate.limits import caution_pa, parse_limit, practice, practice_limit
from leakdown.quantities import PRESSURE_PA, pressure_unit
from leakdown.recording import Direction

MOST_ROWS = 200


@dataclass(frozen=True)
class BlankSheet:
    """A sheet for one test. Pressures are magnitudes in Pa; target_pa is None where practice has none.

    limit: as `--limit` takes it, "" where there is none; limit_from says whose it is.
    """

    circuit: str
    direction: Direction
    unit: str
    times_s: tuple[float, ...]
    target_pa: float | None
    caution_pa: float
    limit: str
    limit_from: str

    @property
    def pressure_heading(self) -> str:
        """Heading of the column to fill in; "vacuum" there makes positive numbers mean vacuum."""
        return f"{'vacuum' if self.direction == 'vacuum' else 'pressure'} ({self.unit})"


def blank_sheet(
    circuit: str,
    direction: Direction,
    unit: str,
    every_s: float,
    hold_s: float | None,
    limit: str | None,
    target_pa: float | None,
) -> BlankSheet:
    """The sheet for a circuit. hold_s None: as long as the limit needs, at least 2 minutes.

    Raises UsageError for an unknown or absolute unit, too many rows, a bad limit, or a target above the
    caution of thin or tender parts (tank, float bowl).
    """
    known = pressure_unit(unit)
    if known is None or known.reference == "absolute":
        raise UsageError(
            f"unit {unit!r} is no unit of gauge pressure", remedy=f"Known units: {', '.join(PRESSURE_PA)}."
        )
    judged = parse_limit(limit) if limit else practice_limit(circuit, direction)
    length_s = hold_s if hold_s is not None else max(120.0, judged.time_s if judged else 0.0)
    caution = caution_pa(circuit, direction)
    target = target_pa if target_pa is not None else _target_pa(circuit, direction)
    if target is not None and target > caution and circuit in ("tank", "float-inlet"):
        raise UsageError(
            f"{target / 1e3:g} kPa is more than {circuit} stands ({caution / 1e3:g} kPa, common practice)",
            remedy="Choose a lower --target.",
        )
    return BlankSheet(
        circuit,
        direction,
        known.name,
        _times(every_s, length_s),
        target,
        caution,
        judged.text if judged else "",
        "given" if limit else "common practice" if judged else "",
    )


def _times(every_s: float, length_s: float) -> tuple[float, ...]:
    if not (every_s >= 1.0 and length_s >= every_s):
        raise UsageError(
            "the readings must be at least 1 s apart, and the hold longer than one step",
            remedy='Such as --every "10 s" --hold "2 min".',
        )
    rows = int(length_s / every_s + 1e-9) + 1
    if rows > MOST_ROWS:
        raise UsageError(
            f"{rows} readings are more than a person writes down", remedy="Choose a longer --every."
        )
    return tuple(round(i * every_s, 3) for i in range(rows))


def _target_pa(circuit: str, direction: Direction) -> float | None:
    kpa = practice().get(circuit, {}).get(direction, {}).get("target_kpa")
    return 1e3 * float(kpa) if kpa is not None else None
