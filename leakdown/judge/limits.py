"""Limits: what is too big, in the words of the user, the file, the job, the shop or common practice.

Which of them counts is decided here, once: given on the command line, else the file's own, else the job's
maker figure, else the shop's settings, else common practice.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import Literal

from leakdown.analysis import Limit, VerdictWord
from leakdown.circuits import circuit
from leakdown.errors import UsageError
from leakdown.quantities import parse_flow, parse_pressure, parse_time
from leakdown.recording import Recording
from leakdown.settings import ShopSettings
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval

_T = tuned("judge")

Source = Literal["given", "file", "job", "settings", "practice"]
WHOSE: dict[Source, str] = {
    "given": "given",
    "file": "the file's own",
    "job": "the job's maker figure",
    "settings": "the shop's own",
    "practice": "common practice",
}
"""Whose a limit is, in words."""
_FORMS = 'Write "50 kPa to 30 kPa in 20 s", "7 kPa in 60 s", "7 kPa in 60 s from 40 kPa" or "2.5 cm3/min".'
_LEVELS = re.compile(r"^(?P<start>.+?)\s+to\s+(?P<end>.+?)\s+in\s+(?P<time>.+)$", re.IGNORECASE)
_DROP = re.compile(r"^(?P<drop>.+?)\s+in\s+(?P<time>.+?)(?:\s+from\s+(?P<start>.+))?$", re.IGNORECASE)


def limit_in_force(
    recording: Recording, given: Limit | None = None, job: Limit | None = None, shop: ShopSettings | None = None
) -> Limit | None:
    """The limit that a recording is judged by, with its source; None where practice has none either.

    Raises UsageError when the file's or the shop's cannot be read.
    """
    if given is not None:
        return given
    own = recording.conditions.other("limit")
    if own:
        return _said(own, "file", recording.source, "Give --limit, or mend the line in the file.")
    if job is not None:
        return replace(job, source="job")
    return limit_for(recording.circuit, recording.direction, shop)


def limit_for(name: str, direction: str, shop: ShopSettings | None = None) -> Limit | None:
    """The limit of a circuit and direction where no test says one: the shop's, else common practice's."""
    if shop is not None and (text := shop.limit_text(name, direction)):
        return _said(text, "settings", str(shop.path), f"Set limit.{name}.{direction} anew, or unset it.")
    return practice_limit(name, direction)


def practice_limit(name: str, direction: str) -> Limit | None:
    """The common-practice limit of a circuit and direction, or None where practice has none."""
    way = circuit(name).way(direction)
    return parse_limit(way.limit, "practice") if way is not None and way.limit else None


def strict_practice(limit: Limit | None, name: str, direction: str) -> Limit | None:
    """The other direction's common practice where `limit` is the practice of this one and far laxer; else None."""
    if limit is None or limit.source != "practice" or limit.kind != "drop":
        return None
    for other in circuit(name).ways:
        strict = practice_limit(name, other.direction)
        if other.direction != direction and strict is not None and strict.kind == "drop":
            lax = _pace_per_s(limit, name, direction) >= _T.lax_times * _pace_per_s(strict, name, other.direction)
            return replace(strict, source="given") if lax else None
    return None


def _pace_per_s(limit: Limit, name: str, direction: str) -> float:
    """How fast a decay may be at most, 1/s: limits of different starts and times on one scale."""
    start_pa = limit.start_pa or circuit(name).target_pa(direction) or limit.drop_pa
    left = 1.0 - limit.drop_pa / start_pa
    return -math.log(left) / limit.time_s if left > 0.0 else math.inf


def _said(text: str, source: Source, where: str, remedy: str) -> Limit:
    try:
        return parse_limit(text, source)
    except UsageError as error:
        raise UsageError(f"{where}: {error.what}" if where else error.what, remedy=remedy) from error


def parse_limit(text: str, source: Source = "given") -> Limit:
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
    return Limit(text, "rate", source, rate_pa_m3_s=rate)


def _between(text: str, start: str, end: str, time: str, source: Source) -> Limit:
    if not re.search(r"[a-zA-Z\"]", start):  # "50 to 30 kPa in 20 s": the unit once
        start = f"{start} {re.sub(r'^[-+0-9.,eE ]+', '', end)}"
    first, last = _magnitude(start), _magnitude(end)
    return _checked(text, first - last, parse_time(time, "limit"), first, source)


def _magnitude(text: str) -> float:
    return abs(parse_pressure(text, "limit").value_pa)


def _checked(text: str, drop: float, time: float, start: float | None, source: Source) -> Limit:
    if drop <= 0 or time <= 0:
        raise UsageError(f"limit: {text!r} allows no loss or no time", remedy=_FORMS)
    if start is not None and drop > start:
        raise UsageError(f"limit: {text!r} allows more loss than there is pressure", remedy=_FORMS)
    return Limit(text, "drop", source, drop_pa=drop, time_s=time, start_pa=start)


def decided_word(measured: Interval, allowed: float) -> VerdictWord:
    """Guarded acceptance and rejection: a word only when the whole interval is on one side of the limit."""
    return "pass" if measured.high <= allowed else "fail" if measured.low > allowed else "undecided"
