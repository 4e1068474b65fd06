"""Plan -> the JSON object of `plan --json` and the lines for a screen."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from leakdown.planning.result import Plan
from leakdown.quantities import significant, standard_cm3_per_min

Wrap = Callable[[str, int, str, str], list[str]]
Style = Callable[[str, str], str]


def plan_object(plan: Plan) -> dict[str, Any]:
    """Plain dicts, text and finite numbers or None."""
    bench = plan.bench
    return {
        "hold_s": plan.hold_s,
        "detection_limit_pa_m3_s": plan.detection_pa_m3_s,
        "loss_kpa_per_min": 0.06 * plan.loss_pa_s,
        "limit": bench.limit.text,
        "limit_kpa_per_min": 0.06 * plan.allowed_pa_s,
        "at_pressure_kpa": bench.sign * bench.quote_pa / 1e3,
        "decides": plan.hold_s is not None,
        "longest_s": plan.longest_s,
        "rehearsed": {"decided": plan.decided, "of": plan.tried},
        "drift_k_per_min": 60.0 * plan.drift_k_s,
        "used": {
            "circuit": bench.circuit,
            "direction": bench.direction,
            "volume_cm3": 1e6 * bench.volume_m3,
            "start_pressure_kpa": bench.sign * bench.start_pa / 1e3,
            "resolution_kpa": bench.resolution_pa / 1e3,
            "every_s": bench.every_s,
            "barometer_kpa": bench.barometer_pa / 1e3,
            "temperature_degc": bench.temperature_k - 273.15,
        },
        "notes": list(plan.notes),
    }


def plan_lines(plan: Plan, width: int, wrap: Wrap, style: Style) -> list[str]:
    """How long, what it will see, and what could hide it."""
    bench = plan.bench
    start = f"{bench.sign * bench.start_pa / 1e3:g} kPa"
    if plan.hold_s is None:
        head = f"No hold up to {plan.longest_s / 60:.0f} min decides {bench.limit.text} with this gauge."
    else:
        head = (
            f"Fill to {start}, let it settle, then hold {plan.hold_s:g} s with a reading every "
            f"{bench.every_s:g} s: that decides {bench.limit.text}."
        )
    flow = significant(standard_cm3_per_min(plan.detection_pa_m3_s, bench.temperature_k))
    lines = [style(line, "strong") for line in wrap(head, width, "", "")]
    lines += wrap(
        f"Such a hold sees a leak of {flow} cm3/min (20 degC, 101.325 kPa), which is a loss of "
        f"{significant(0.06 * plan.loss_pa_s)} kPa a minute at {bench.sign * bench.quote_pa / 1e3:g} kPa, "
        f"95 times in 100. The limit allows {significant(0.06 * plan.allowed_pa_s)} kPa a minute there.",
        width, "", "  ",
    )  # fmt: skip
    if plan.hold_s is not None:
        lines += wrap(
            f"Rehearsed: {plan.decided} of {plan.tried} simulated tests decided rightly (tight passes, "
            "twice the limit fails). A leak right at the limit stays undecided.",
            width, "", "  ",
        )  # fmt: skip
    lines += wrap(
        f"A drift of {significant(60.0 * plan.drift_k_s, 2)} degC a minute would look like half the limit, "
        "or hide it: test cold, out of the sun, hands off.",
        width, "", "  ",
    )  # fmt: skip
    return [*lines, *(line for note in plan.notes for line in wrap(note, width, "  - ", "    "))]
