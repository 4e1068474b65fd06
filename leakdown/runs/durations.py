"""Durations as people write them: "45 s", "1:20", "2 min", "1 min 20 s", "1m20s"."""

from __future__ import annotations

import re

from leakdown.errors import UsageError
from leakdown.quantities import TIME_S, clock_seconds, parse_time, tidy, time_unit_s

_PART = re.compile(r"(\d+(?:[.,]\d+)?)\s*([^\W\d_]+\.?)\s*(?:and|,)?\s*")
LONGEST_S = 6 * 3600.0  # no tank lasts so long: a slip of the unit


def parse_duration(text: str, what: str = "duration") -> float:
    """Seconds, 0 or more. Raises UsageError; a bare number is refused, since minutes and seconds are both usual."""
    plain = tidy(text).strip()
    parts = list(_PART.finditer(plain))
    whole = "".join(part.group(0) for part in parts) == plain
    units = [time_unit_s(part.group(2)) for part in parts]
    if clock_seconds(plain) is None and whole and len(parts) > 1 and all(units):
        if sorted((u for u in units if u), reverse=True) != units or len(set(units)) != len(units):
            raise UsageError(f"{what}: cannot read {text!r}", remedy='Write it as "1 min 20 s" or "1:20".')
        seconds = sum(float(p.group(1).replace(",", ".")) * (u or 0.0) for p, u in zip(parts, units, strict=True))
    elif re.fullmatch(r"\d+(?:[.,]\d+)?", plain):
        remedy = f'Write a number and a unit ({", ".join(TIME_S)}), or minutes and seconds: "45 s", "1:20", "2 min".'
        raise UsageError(f"{what}: no unit in {text!r}", remedy=remedy)
    else:
        seconds = parse_time(text, what)
    if seconds > LONGEST_S:
        raise UsageError(f"{what}: {text!r} is longer than a tank lasts (6 h)", remedy="Check the unit.")
    return seconds


def duration_words(seconds: float) -> str:
    """ "41 s", "4 min 20 s", "1 h 5 min"."""
    whole = round(seconds)
    if whole < 120:
        return f"{whole} s"
    if whole >= 7200:
        hours, minutes = divmod(round(seconds / 60.0), 60)
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    minutes, rest = divmod(whole, 60)
    return f"{minutes} min {rest} s" if rest else f"{minutes} min"
