"""Results made by hand: every shape a report can meet, without running an estimate."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from leakdown.analysis import (
    Analysis,
    Curve,
    Flag,
    Hold,
    LeakEstimate,
    Limit,
    MarkEffect,
    Phase,
    Quantity,
    Used,
    Verdict,
    Zero,
)
from leakdown.recording import Conditions, Mark, Recording
from leakdown.uncertainty import Interval

NASTY = '<script>alert("x")</script> & \x1b[31m</script><img src=http://example.invalid/a>'
LIMIT = Limit("7 kPa in 60 s from 40 kPa", "drop", "practice", 7e3, 60.0, 40e3)
TAU_S = 300.0
PASSED_S = 10.0 + TAU_S * float(np.log(45.0 / 40.0))  # 45 kPa exp(-t/tau) = 40 kPa


def recording(vacuum: bool = False, unit: str = "kPa", n: int = 600, marks: tuple[Mark, ...] = ()) -> Recording:
    """Zero, fill, an exponential hold of 45 kPa from 10 s to 70 s, vent."""
    sign = -1.0 if vacuum else 1.0
    t = np.linspace(0.0, 80.0, n)
    size = np.where(t < 10.0, np.clip((t - 4.0) / 5.0, 0.0, 1.0) * 45e3, 45e3 * np.exp(-(t - 10.0) / TAU_S))
    size = np.where(t > 70.0, 0.0, size)
    ripple = 30.0 * np.sin(17.0 * t)
    conditions = Conditions(
        circuit="crankcase",
        direction="vacuum" if vacuum else "pressure",
        volume_m3=250e-6,
        barometer_pa=99e3,
        unit=unit,
    )
    return Recording(t, sign * size + ripple, marks=marks, conditions=conditions, source="saw-12.csv")


def leak(at_pa: float = 35e3) -> LeakEstimate:
    """6.9 kPa/min in 250 cm3: 17.1 standard cm3/min at 20 degC."""
    rate = Interval(115.0, 110.0, 121.0)
    return LeakEstimate(
        at_pa=at_pa,
        detected=True,
        rate_pa_s=rate,
        detection_rate_pa_s=2.0,
        throughput_pa_m3_s=rate.scaled(250e-6),
        detection_pa_m3_s=5e-4,
        hole_m=Interval(52e-6, 50e-6, 54e-6),
        viscous_share=Interval(0.8, 0.6, 1.0),
    )


def tight() -> LeakEstimate:
    """No leak seen; at most 1.2 Pa/s."""
    rate = Interval(None, 0.0, 1.2)
    return LeakEstimate(
        at_pa=35e3,
        detected=False,
        rate_pa_s=rate,
        detection_rate_pa_s=2.0,
        throughput_pa_m3_s=rate.scaled(250e-6),
        detection_pa_m3_s=5e-4,
        hole_m=Interval(None, 0.0, 5e-6),
        viscous_share=Interval(None, 0.0, 1.0),
    )


def verdict(word: str, low: float, high: float) -> Verdict:
    """A verdict against 7 kPa in 60 s."""
    remedy = "Hold for at least 60 s." if word == "undecided" else ""
    middle = 0.5 * (low + high)
    found = Interval(middle, low, high)
    return Verdict(word, LIMIT, found, "model", f"Some reason for {word}.", remedy, PASSED_S, 40e3)  # type: ignore[arg-type]


def analysis(vacuum: bool = False, unit: str = "kPa", n: int = 600, marks: tuple[Mark, ...] = ()) -> Analysis:
    """A leak found, over the limit."""
    rec = recording(vacuum, unit, n, marks)
    sign = -1.0 if vacuum else 1.0
    t = np.linspace(10.0, 70.0, 240)
    p = sign * 45e3 * np.exp(-(t - 10.0) / TAU_S)
    phases = (
        Phase("zero", 0.0, 4.0),
        Phase("fill", 4.0, 10.0),
        Phase("stabilise", 10.0, 13.0),
        Phase("hold", 13.0, 70.0),
        Phase("vent", 70.0, 71.0),
        Phase("zero", 71.0, 80.0),
    )
    hold = Hold(10.0, 13.0, 70.0, 450, sign * 44.5e3, sign * 36.8e3, phases, Zero(12.0, 5.0, "measured"))
    return Analysis(
        recording=rec,
        circuit="crankcase",
        direction=rec.direction,
        hold=hold,
        used=_used(),
        time_constant_s=TAU_S,
        half_life_s=TAU_S * float(np.log(2.0)),
        leak=leak(sign * 35e3),
        curve=Curve(t, p, p - 20.0, p + 20.0),
        residual_time_s=t,
        residual_pa=30.0 * np.sin(17.0 * t),
        verdict=verdict("fail", 7.2e3, 7.6e3),
        flags=(Flag("ambient-assumed", "Barometer assumed. Give --barometer."),),
        half_gone_s=TAU_S * float(np.log(2.0)),
        marks=tuple(MarkEffect(m.time_s, m.text, Interval(0.5, 0.4, 0.6)) for m in marks),
    )


def _used() -> Used:
    return Used(
        barometer_pa=Quantity(99e3, "given"),
        temperature_k=Quantity(293.15, "assumed"),
        volume_m3=Quantity(250e-6, "given"),
        volume_u_m3=Quantity(None, "none"),
        discharge_coefficient=Quantity(0.61, "assumed"),
        resolution_pa=Quantity(100.0, "inferred"),
        noise_pa=21.0,
    )


def passed() -> Analysis:
    """A tight circuit, no leak seen."""
    base = analysis()
    return replace(
        base,
        hold=replace(base.hold, end_pa=base.hold.start_pa - 50.0),
        leak=tight(),
        verdict=verdict("pass", 0.0, 80.0),
        time_constant_s=None,
        half_life_s=None,
        half_gone_s=None,
    )


def undecided() -> Analysis:
    """Limit inside the interval, kind of leak unknown."""
    wide = replace(leak(), viscous_share=Interval(0.4, 0.0, 1.0))
    return replace(analysis(), leak=wide, verdict=verdict("undecided", 6.0e3, 8.0e3))


def without_volume() -> Analysis:
    """No volume: no rate, no hole."""
    base = analysis()
    bare = replace(leak(), throughput_pa_m3_s=None, detection_pa_m3_s=None, hole_m=None)
    return replace(base, leak=bare, used=replace(base.used, volume_m3=Quantity(None, "none")))


def without_fit() -> Analysis:
    """No trustworthy fit: only what was read remains."""
    nothing = Verdict("undecided", LIMIT, None, "none", "The hold is too short.", "Hold for at least 60 s.")
    return replace(
        analysis(),
        leak=None,
        curve=None,
        residual_time_s=np.zeros(0),
        residual_pa=np.zeros(0),
        time_constant_s=None,
        half_life_s=None,
        half_gone_s=None,
        verdict=nothing,
        flags=(Flag("no-fit", "No leak model fits this hold. Repeat the test."),),
    )


def nasty() -> Analysis:
    """User's texts that try to be markup, in every place that takes one."""
    base = analysis(marks=(Mark(30.0, NASTY), Mark(50.0, "$x^2$ soap")))
    conditions = replace(
        base.recording.conditions, note=NASTY, gauge=NASTY, started=NASTY, includes=(NASTY,), blocked=(NASTY,)
    )
    rec = replace(base.recording, source=NASTY, conditions=conditions, remarks=(NASTY,))
    return replace(base, recording=rec, flags=(Flag("x", NASTY),))


ALL = {
    "fail": analysis,
    "pass": passed,
    "undecided": undecided,
    "without volume": without_volume,
    "without fit": without_fit,
    "nasty": nasty,
    "vacuum": lambda: analysis(vacuum=True, unit="inHg"),
    "no limit": lambda: replace(analysis(), verdict=None),
}
