"""Limits: what is too big. The user's or the maker's words, or common practice marked as such."""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache
from importlib import resources
from typing import Any

from leakdown.analysis import Limit
from leakdown.errors import UsageError
from leakdown.quantities import parse_flow, parse_pressure, parse_time
from leakdown.recording import Direction

_FORMS = 'Write "50 kPa to 30 kPa in 20 s", "7 kPa in 60 s", "7 kPa in 60 s from 40 kPa" or "2.5 cm3/min".'
_LEVELS = re.compile(r"^(?P<start>.+?)\s+to\s+(?P<end>.+?)\s+in\s+(?P<time>.+)$", re.IGNORECASE)
_DROP = re.compile(r"^(?P<drop>.+?)\s+in\s+(?P<time>.+?)(?:\s+from\s+(?P<start>.+))?$", re.IGNORECASE)


def parse_limit(text: str, source: str = "given") -> Limit:
    """A limit in one of the three forms. Signs are dropped: losses are magnitudes. Raises UsageError."""
    plain = " ".join(text.split())
    levels = _LEVELS.match(plain)
    if levels:
        return _between(text, levels["start"], levels["end"], levels["time"], source)
    drop = _DROP.match(plain)
    if drop:
        start = _magnitude(drop["start"]) if drop["start"] else None
        return _checked(text, _magnitude(drop["drop"]), parse_time(drop["time"], "limit"), start, source)
    if "in" in plain.lower().split():
        raise UsageError(f"limit: cannot read {text!r}", remedy=_FORMS)
    try:
        rate = parse_flow(plain, "limit")
    except UsageError as error:
        raise UsageError(f"limit: cannot read {text!r} ({error.what})", remedy=_FORMS) from error
    return Limit(text, "rate", source, rate_pa_m3_s=rate)  # type: ignore[arg-type]


def _between(text: str, start: str, end: str, time: str, source: str) -> Limit:
    if not re.search(r"[a-zA-Z\"]", start):  # "50 to 30 kPa in 20 s": the unit once
        start = f"{start} {re.sub(r'^[-+0-9.,eE ]+', '', end)}"
    first, last = _magnitude(start), _magnitude(end)
    return _checked(text, first - last, parse_time(time, "limit"), first, source)


def _magnitude(text: str) -> float:
    return abs(parse_pressure(text, "limit").value_pa)


def _checked(text: str, drop: float, time: float, start: float | None, source: str) -> Limit:
    if drop <= 0 or time <= 0:
        raise UsageError(f"limit: {text!r} allows no loss or no time", remedy=_FORMS)
    if start is not None and drop > start:
        raise UsageError(f"limit: {text!r} allows more loss than there is pressure", remedy=_FORMS)
    return Limit(text, "drop", source, drop_pa=drop, time_s=time, start_pa=start)  # type: ignore[arg-type]


@lru_cache(maxsize=1)
def practice() -> dict[str, Any]:
    """The table of common practice, by circuit."""
    return tomllib.loads(resources.files("leakdown.judge").joinpath("practice.toml").read_text("utf-8"))


def practice_limit(circuit: str, direction: Direction) -> Limit | None:
    """The common-practice limit of a circuit and direction, or None where practice has none."""
    text = practice().get(circuit, {}).get(direction, {}).get("limit")
    return parse_limit(text, "practice") if text else None


def caution_pa(circuit: str, direction: Direction) -> float:
    """Gauge pressure magnitude above which a caution is due (practice), Pa."""
    table = practice().get(circuit, {})
    kpa = table.get("caution_vacuum_kpa") if direction == "vacuum" else None
    return 1e3 * float(kpa or table.get("caution_kpa", 55.0))
