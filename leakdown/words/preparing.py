"""Plan and volume -> JSON objects and lines for a screen."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from leakdown.circuits import procedure
from leakdown.prepare.bench_sums import SizedVolume
from leakdown.prepare.gas import settling_kpa
from leakdown.prepare.plan import Plan
from leakdown.prepare.planned_test import PlannedTest
from leakdown.prepare.simulate import HALF, TWICE
from leakdown.quantities import significant, standard_cm3_per_min
from leakdown.words.numbers import kpa_words
from leakdown.words.wrap import Style, Wrap


def plan_object(plan: Plan) -> dict[str, Any]:
    """Plain dicts, text and finite numbers or None."""
    bench, sees, decides = plan.test, math.isfinite(plan.loss_pa_s), plan.hold_s is not None
    return {
        "hold_s": plan.hold_s,
        "detection_limit_pa_m3_s": plan.detection_pa_m3_s if sees else None,
        "loss_kpa_per_min": 0.06 * plan.loss_pa_s if sees else None,
        "limit": bench.limit.text,
        "limit_kpa_per_min": 0.06 * plan.allowed_pa_s,
        "at_pressure_kpa": bench.sign * bench.quote_pa / 1e3,
        "decides": decides,
        "longest_s": plan.longest_s,
        "decided_share": plan.count.share if decides else None,
        "decided_share_half": plan.half_count.share if decides else None,
        "rehearsed": _rehearsed(plan),
        "open_s": plan.open_s,
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
        "started_with_the_valve": {
            "hold_s": plan.valve_s,
            "rows": None if plan.valve_s is None else rows(plan.valve_s, bench),
            "decided": plan.valve_count.leaks_decided,
            "of": plan.valve_count.leaks_tried,
        },
        "rows": rows(plan.hold_s, bench) if plan.hold_s is not None else None,
        "notes": list(plan.notes),
    }


def _rehearsed(plan: Plan) -> dict[str, Any]:
    """What was simulated: shares are of the tests with a leak, which are half and twice the limit."""
    count, half = plan.count, plan.half_count
    return {
        "leaks_over_limit": [HALF, TWICE],
        "decided": count.leaks_decided,
        "of": count.leaks_tried,
        "half_hold_s": None if plan.hold_s is None else plan.half_s,
        "half_hold_decided": half.leaks_decided,
        "half_hold_of": half.leaks_tried,
        "tight_passed": count.decided[2],
        "tight_of": count.tried[2],
    }


def plan_lines(plan: Plan, width: int, wrap: Wrap, style: Style) -> list[str]:
    """How long, what it will see, and what could hide it."""
    lines = [style(line, "strong") for line in wrap(_head(plan), width, "", "")]
    if plan.test.tops_up and plan.hold_s is not None:
        steps = procedure().told(kpa_words(plan.test.sign * plan.test.start_pa, 6))
        lines += [line for step in steps for line in wrap(step, width, "  > ", "    ")]
    for text in (_sees(plan), _tried(plan), _valve(plan), _drift(plan)):
        lines += wrap(text, width, "", "  ") if text else []
    return [*lines, *(line for note in plan.notes for line in wrap(note, width, "  - ", "    "))]


def _head(plan: Plan) -> str:
    bench = plan.test
    if plan.hold_s is None:
        return f"No hold up to {plan.longest_s / 60:.0f} min decides {bench.limit.text} with this gauge."
    verb, step = "Evacuate" if bench.inward else "Fill", bench.every_s
    shut = "go through the steps below" if bench.tops_up else "shut the valve"
    return (
        f"{verb} to {kpa_words(bench.sign * bench.start_pa, 6)}, {shut}, then hold {plan.hold_s:g} s with a reading "
        f"every {step:g} s, {rows(plan.hold_s, bench)} rows: that decides {bench.limit.text}."
    )


def _sees(plan: Plan) -> str:
    if not math.isfinite(plan.loss_pa_s):
        return ""
    bench = plan.test
    flow = significant(standard_cm3_per_min(plan.detection_pa_m3_s, bench.temperature_k))
    which = "Such a hold" if plan.hold_s else "Even the longest"
    text = (
        f"{which} sees a leak of {flow} cm3/min (20 degC, 101.325 kPa), which is a loss of "
        f"{significant(0.06 * plan.loss_pa_s)} kPa a minute at {kpa_words(bench.sign * bench.quote_pa, 6)}, "
        f"95 times in 100. The limit allows {significant(0.06 * plan.allowed_pa_s)} kPa a minute there."
    )
    limit = bench.limit
    if plan.loss_pa_s > plan.allowed_pa_s and limit.kind == "drop" and (plan.hold_s or 0.0) >= limit.time_s:
        text += " So it is too short to size a leak, but the loss in the limit's time is read off the gauge."
    return text


def _tried(plan: Plan) -> str:
    if plan.hold_s is None:
        return ""
    count, half = plan.count, plan.half_count
    text = (
        "Decides means: an engine that leaks half of the limit passes, one that leaks twice the limit fails. "
        f"Of {count.leaks_tried} such tests, simulated, {count.leaks_decided} were decided rightly; "
    )
    if not plan.half_s:
        text += "in half the time there is only one reading, which decides nothing. "
    else:
        text += f"of {half.leaks_tried} held half as long, {half.leaks_decided}. "
    return text + "A leak close to the limit stays undecided."


def rows(hold_s: float, test: PlannedTest) -> int:
    """How many readings a hold has, the first at 0 s."""
    return int(hold_s / test.every_s + 1e-9) + 1


def _valve(plan: Plan) -> str:
    """What it costs to start the watch with the valve, and what to do instead."""
    count, test = plan.valve_count, plan.test
    if plan.hold_s is None or not test.tops_up or not count.leaks_tried:
        return ""
    least, most = (f"{significant(abs(x), 2)} kPa" for x in settling_kpa(test))
    told = f"Started with the valve instead, its first row a second later, the gas still settles, by up to {most}; "
    told += f"topping up leaves {least} at most. "
    seen = f"of {count.leaks_tried} such sheets, simulated, {count.leaks_decided} were decided rightly."
    if plan.valve_s is None:
        return f"{told}No hold makes that good; {seen} Follow the steps."
    needs = f"It takes {plan.valve_s:g} s, {rows(plan.valve_s, test)} rows, to be as sure"
    return f"{told}{needs}; {seen} Follow the steps."


def _drift(plan: Plan) -> str:
    return (
        f"A drift of {significant(60.0 * plan.drift_k_s, 2)} degC a minute would look like half the limit, "
        "or hide it: test cold, out of the sun, hands off."
    )


def volume_object(sized: SizedVolume) -> dict[str, Any]:
    """Plain dicts, text and finite numbers, in cm3."""
    return {
        "method": sized.method,
        "volume_cm3": asdict(sized.volume_m3.scaled(1e6)),
        "standard_uncertainty_cm3": sized.u_m3 * 1e6,
        "rig": sized.rig,
        "formula": sized.formula,
        "used": [
            {"name": x.name, "doubt": x.source, "text": x.note, "adds_cm3": abs(part) * 1e6}
            for x, (_, part) in zip(sized.inputs, sized.parts, strict=False)
        ],
        "notes": list(sized.warnings),
    }


def volume_lines(sized: SizedVolume, width: int, wrap: Wrap) -> list[str]:
    """The answer, what to type next, the sum, and what was assumed."""
    v = sized.volume_m3.scaled(1e6)
    value = 0.0 if v.value is None else v.value
    doubt = max(v.high / value - 1.0, 1.0 - v.low / value) * 100.0
    lines = [
        f"Volume {value:.1f} cm3, between {v.low:.1f} and {v.high:.1f} cm3 (95 %).",
        *wrap(sized.rig, width, "", "  "),
        f'Use it as: --volume "{value:.1f} cm3" --volume-uncertainty "{doubt:.2g} %"',
        "",
        *wrap(sized.formula, width, "", "  "),
        *(line for x in sized.inputs for line in wrap(x.note, width, "  - ", "    ")),
    ]
    return [*lines, *(line for text in sized.warnings for line in wrap(text, width, "", "  "))]
