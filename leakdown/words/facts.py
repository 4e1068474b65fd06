"""The facts of a result as rows: what, how much, between which bounds, and what that means."""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.analysis import Analysis, Finding, LeakEstimate, Quantity
from leakdown.quantities import PRESSURE_PA, show_pressure, significant
from leakdown.uncertainty import Interval
from leakdown.words.flags import NOTHING_PA, has_flag, may_be_vapour
from leakdown.words.numbers import (
    STANDARD_AIR,
    ends,
    figure_words,
    flow_factor,
    hole_words,
    interval_words,
    loss_factor,
    pressure_words,
)
from leakdown.words.sizes import duration_words, kind_words, least_seen, seen_above, sure_words


@dataclass(frozen=True)
class Fact:
    """One row. `span` is the 95 % interval in words, or empty."""

    what: str
    value: str
    span: str = ""
    note: str = ""


def size_facts(analysis: Analysis) -> tuple[Fact, ...]:
    """Size of the leak: rate, loss, hole, half-life. Empty without a trustworthy fit."""
    leak = analysis.leak
    instead = [finding for finding in analysis.findings if finding.instead]
    if instead:
        return tuple(fact for finding in instead for fact in finding_facts(finding))
    if leak is None:
        return ()
    if leak.detected:
        sizes = (leak.throughput_pa_m3_s, leak.rate_pa_s, leak.hole_m)
        return (*_sized(analysis, *sizes), *_half_life(analysis))
    least = least_seen(analysis)  # the one bound that the test gives
    if least is None:
        return ()
    flow, hole = (None if x is None else Interval(None, 0.0, x) for x in (least.flow_pa_m3_s, least.hole_m))
    return _sized(analysis, flow, Interval(None, 0.0, least.rate_pa_s), hole)


def _sized(analysis: Analysis, flow: Interval | None, rate: Interval, hole_m: Interval | None) -> tuple[Fact, ...]:
    """A leak as rate (Pa m3/s), loss (Pa/s) and hole."""
    unit, cd = analysis.recording.conditions.show_unit, analysis.used.discharge_coefficient.value
    loss = interval_words(rate, loss_factor(analysis), f"{unit}/min")
    facts = [Fact("Pressure loss", *loss, "in this volume")]
    if flow is not None:
        words = interval_words(flow, flow_factor(analysis), "cm3/min")
        facts.insert(0, Fact("Leak rate", *words, STANDARD_AIR))
    if hole_m is not None:
        note = "" if cd is None else f"sharp-edged, C_d {cd:g}"
        facts.append(Fact("Like one hole of", *hole_words(hole_m), note))
    return tuple(facts)


def _half_life(analysis: Analysis) -> tuple[Fact, ...]:
    gone_s = analysis.half_gone_s
    if gone_s is None:
        return ()
    read = gone_s <= analysis.hold.end_s - analysis.hold.closed_s
    told = "of the fitted decay" if read else "if the leak goes on as fitted"
    return (Fact("Half of it gone in", duration_words(gone_s), "", told),)


def finding_facts(finding: Finding) -> tuple[Fact, ...]:
    """The figures of a finding."""
    return tuple(Fact(figure.label, *figure_words(figure)) for figure in finding.figures)


def judgement_facts(analysis: Analysis) -> tuple[Fact, ...]:
    """What kind of leak, how sure, what would have been seen, and what changed during the hold."""
    leak = analysis.leak
    if leak is None or any(finding.instead for finding in analysis.findings):
        return ()
    facts = []
    if leak.detected:
        interval = leak.throughput_pa_m3_s or leak.rate_pa_s
        facts.append(Fact("Kind", kind_fact(analysis, leak)))
        facts.append(Fact("How sure", f"{sure_words(interval)} (the ranges hold 95 times in 100)"))
        if above := seen_above(analysis):
            facts.append(Fact("Would have seen", f"a leak above {above}", "", "95 times in 100"))
    return (*facts, *changes(analysis, leak))


def kind_fact(analysis: Analysis, leak: LeakEstimate) -> str:
    """The kind of leak, unless fuel vapour would look the same."""
    if may_be_vapour(analysis):
        return "cannot be told: fuel vapour would look the same"
    return kind_words(leak)


def changes(analysis: Analysis, leak: LeakEstimate) -> tuple[Fact, ...]:
    """What became of the leak during the hold."""
    facts = []
    if leak.opening_pa is not None:
        level = show_pressure(leak.opening_pa, analysis.recording.conditions.show_unit)
        closes = "the leak reseats near this pressure"
        why = "the decay levels off there" if may_be_vapour(analysis) else closes
        facts.append(Fact("Closes at", level, "", why))
    if leak.growth_per_min is not None:
        percent = f"{100.0 * leak.growth_per_min:+.0f} %"
        facts.append(Fact("Changes by", f"{percent} of its size a minute", "", "during this hold"))
    for mark in analysis.marks:
        ratio = mark.after_over_before
        times = "unknown times" if ratio.value is None else f"{significant(ratio.value, 2)} times"
        span = ends(ratio.low, ratio.high, 2)
        facts.append(Fact(f"After {significant(mark.time_s)} s", f"{times} its size before", span, mark.text))
    return tuple(facts)


def hold_facts(analysis: Analysis) -> tuple[Fact, ...]:
    """Which part of the recording was used."""
    hold, unit = analysis.hold, analysis.recording.conditions.show_unit
    how = "chosen by hand" if hold.given else "found in the readings"
    first = f"{significant(hold.start_s)} to {significant(hold.end_s)} s"
    facts = [
        Fact("Hold", first, f"{hold.readings} readings", how),
        Fact("Pressure then", f"{show_pressure(hold.start_pa, unit)} to {show_pressure(hold.end_pa, unit)}"),
    ]
    zero, note = "0", "assumed: no reading open to air"
    if hold.zero.source != "assumed":
        zero, note = significant(hold.zero.offset_pa / PRESSURE_PA[unit], 2), f"{hold.zero.source}, taken off"
    return (*facts, Fact("Gauge zero", f"{zero} {unit}", "", note), *_before_watch(analysis, unit))


def _before_watch(analysis: Analysis, unit: str) -> tuple[Fact, ...]:
    """What was done between the first closing of the valve and the watch, as far as anybody said."""
    c, yes = analysis.recording.conditions, {True: "yes", False: "no"}
    rows = (
        Fact("Valve shut at", "" if c.shut_pa is None else show_pressure(c.shut_pa, unit)),
        Fact("Topped up", yes.get(c.topped_up, "")),  # type: ignore[arg-type]
        Fact(
            "Waited then", "" if c.waited_s is None else f"{significant(c.waited_s)} s", "", "until the watch started"
        ),
        Fact("Pump off the circuit", yes.get(c.pump_off, "not said" if has_flag(analysis, "pump-off-unsaid") else "")),  # type: ignore[arg-type]
    )
    return tuple(row for row in rows if row.value)


def used_facts(analysis: Analysis) -> tuple[Fact, ...]:
    """What went into the numbers; `note` says given, measured, inferred or assumed."""
    used, unit = analysis.used, analysis.recording.conditions.show_unit

    def row(what: str, quantity: Quantity, factor: float, name: str, shift: float = 0.0, n: int = 5) -> Fact:
        if quantity.value is None:
            return Fact(what, "not given")
        return Fact(what, f"{quantity.value * factor + shift:.{n}g} {name}".strip(), "", quantity.source)

    return (
        row("Volume under test", used.volume_m3, 1e6, "cm3"),
        row("Doubt of the volume", used.volume_u_m3, 1e6, "cm3 either way, 95 %", n=3),
        row("Barometer", used.barometer_pa, 1e-3, "kPa absolute"),
        row("Temperature", used.temperature_k, 1.0, "degC", -273.15),
        row("Hole's C_d", used.discharge_coefficient, 1.0, ""),
        _resolution(used.resolution_pa, unit),
        _scatter(used.noise_pa, unit),
    )


def _resolution(resolution: Quantity, unit: str) -> Fact:
    step = "finer than matters"
    if resolution.value is not None and resolution.value >= NOTHING_PA:
        step = pressure_words(resolution.value, unit)
    return Fact("Gauge reads to", step, "", resolution.source)


def _scatter(noise_pa: float, unit: str) -> Fact:
    seen = "less than the gauge's step"
    if noise_pa > 0:
        seen = f"{significant(noise_pa / PRESSURE_PA[unit], 2)} {unit}"
    return Fact("Scatter of a reading", seen, "", "estimated")
