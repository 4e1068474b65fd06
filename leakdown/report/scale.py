"""The verdict as a picture in words' place: the measured interval beside the limit, on one scale."""

from __future__ import annotations

from html import escape

from leakdown.analysis import Verdict
from leakdown.quantities import PRESSURE_PA, REFERENCE_TEMPERATURE_K, standard_cm3_per_min
from leakdown.words.numbers import ends, number, short


def limit_scale(verdict: Verdict | None, unit: str) -> str:
    """HTML of the scale; "" when nothing was measured. `unit`: the user's pressure unit."""
    if verdict is None or verdict.measured is None or verdict.limit.kind == "words":
        return ""
    limit = verdict.limit
    if limit.kind == "drop":
        factor, per, what = 1.0 / PRESSURE_PA[unit], unit, f"lost in {limit.time_s:g} s"
        allowed = limit.drop_pa * factor
    else:
        # a rate in a verdict is already that at 20 degC
        factor, per, what = standard_cm3_per_min(1.0, REFERENCE_TEMPERATURE_K), "cm3/min", ""
        allowed = limit.rate_pa_m3_s * factor
    low, high = verdict.measured.low * factor, verdict.measured.high * factor
    end = max(1.35 * allowed, 1.1 * high)
    at = 100.0 * allowed / end
    side = f"left:{at:.2f}%" if at < 60 else f"right:{100 - at:.2f}%"
    inward = limit.kind == "inflow"
    name = "needed" if inward else "limit"
    good = f"left:{at:.2f}%;right:0" if inward else f"width:{at:.2f}%"
    line = f"{name} {short(number(allowed))} {per}"
    seen = f"measured, {ends(low, high)} {per} {what}".strip()
    if verdict.measured.value is None or low <= 0.0:
        seen = f"up to {number(high)} {per} {what}".strip()
        if verdict.word == "pass":  # how much would have shown is said once, with the size
            seen = "no loss for certain, only the room that the readings leave"
    words = f"{seen[:1].upper()}{seen[1:]}, {line}"
    return (
        f'<div class="scale" role="img" aria-label="{escape(words, quote=True)}"><div class="track">'
        f'<div class="allowed" style="{good}"></div>'
        f'<div class="seen" style="left:{100 * low / end:.2f}%;width:{100 * (high - low) / end:.2f}%"></div>'
        f'<div class="mark" style="left:{at:.2f}%"></div>'
        f'<div class="at" style="{side}">{escape(line)}</div></div>'
        f'<div class="ends"><span>0</span><span>bar: {escape(seen)}</span>'
        f"<span>{short(number(end, 2))}&nbsp;{escape(per)}</span></div></div>"
    )
