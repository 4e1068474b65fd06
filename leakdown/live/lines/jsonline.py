"""Pressure in JSON, on one line or over many: `JsonJoiner` collects, `json_candidates` reads."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from leakdown.live.lines.candidates import Candidate, MarkedBy, gauge_first, reports_error, signed, text_candidates
from leakdown.live.lines.labels import Label, label, names_error, tokens, unit_word
from leakdown.live.lines.line import OVERFLOW, Sample
from leakdown.live.lines.numbers import normalise
from leakdown.quantities import PressureUnit, pressure_unit

MAX_OBJECT, MAX_BRACKETS = 8192, 200
"""Characters and brackets of an object: what is longer is noise, and memory and recursion stay bounded."""

_FRAGMENT = re.compile(r'\s*(?:"[^"]*"\s*:|[\]}]+,?\s*$)')
_NUMBERS_ONLY = re.compile(r"\[\s*[-+]?[\d.]")
_TIME_TAG = re.compile(r"\[[^\[\]{}\"]*\]\s*\S")
_NAMES = re.compile("name|n|type|sensor|quantity|q|id|measurement|label|key|kind|channel|param")
_VALUES = frozenset(["value", "val", "reading", "v", "data", "measured", "current"])
_UNIT_KEYS = frozenset(["unit", "units", "uom", "u", "einheit"])


class JsonJoiner:
    """Puts an object that a gauge prints over many lines back together."""

    def __init__(self) -> None:
        self._text = ""

    @property
    def open(self) -> bool:
        """True while an object has begun and not ended."""
        return bool(self._text)

    def feed(self, line: str) -> tuple[str, Any]:
        """("none", None) not JSON; ("more", None) wait; ("torn", None); ("whole", object)."""
        start = _start(line)
        if start is not None:
            whole = _load(line[start : line.rfind("}") + 1] if line[start] == "{" else line[start:])
            if whole is not None and not (self._text and _stack(self._text)[1] == "["):
                self._text = ""
                return "whole", whole
        if not self._text:
            return ("torn", None) if _FRAGMENT.match(line) else self._begin(line, start)
        if _open_string(line):  # a line end inside a string: bytes were lost
            self._text = ""
            return "torn", None
        joined = self._text + "\n" + line
        restarts = _restarts(self._text, line)
        if not restarts and _stack(joined)[0] > 0 and len(joined) <= MAX_OBJECT:
            self._text = joined
            return "more", None
        self._text = ""
        if restarts:
            return self._begin(line, start)
        whole = _load(joined)
        return ("whole", whole) if whole is not None else ("torn", None)

    def _begin(self, line: str, start: int | None) -> tuple[str, Any]:
        if start is None:
            return "none", None
        if line.rstrip().endswith(("{", "[", ",")) and _stack(line[start:])[0] > 0:
            self._text = line[start:]
            return "more", None
        return ("torn", None) if line.lstrip()[:1] in "{[" and '"' in line else ("none", None)


def _start(line: str) -> int | None:
    """Where an object begins on this line; an array only at its very start."""
    if line.startswith("["):
        return None if _NUMBERS_ONLY.match(line) or _TIME_TAG.match(line) else 0
    at = line.find("{")
    return at if at >= 0 else None


def _load(text: str) -> Any:
    if text.count("{") + text.count("[") > MAX_BRACKETS:
        return None
    try:
        whole = json.loads(text, parse_constant=lambda _: None)
    except (ValueError, RecursionError):
        return None
    return whole if isinstance(whole, dict | list) else None


def _open_string(line: str) -> bool:
    return line.replace('\\"', "").count('"') % 2 == 1


def _stack(text: str) -> tuple[int, str]:
    """Open brackets outside strings: how many, and the innermost one."""
    stack: list[str] = []
    inside = escaped = False
    for char in text:
        if inside:
            inside = escaped or char != '"'
            escaped = char == "\\" and not escaped
        elif char == '"':
            inside = True
        elif char in "{[":
            stack.append(char)
        elif char in "}]" and stack:
            stack.pop()
    return len(stack), stack[-1] if stack else ""


def _restarts(text: str, line: str) -> bool:
    """A new object begins where only a key or an end could stand: the old one was torn off."""
    return line.startswith("{") and _stack(text)[1] != "[" and not text.rstrip().endswith(":")


def json_candidates(whole: Any) -> tuple[list[Candidate], str]:
    """Everything in an object that could be the pressure, and a reason when there is nothing."""
    if _reports_error(whole):
        return [], "the gauge reports an error"
    leaves = list(_leaves(whole, ()))
    warm = (v for about, v, _, _ in leaves if about.quantity == "temperature" and -50 < v < 200)
    clocks = (v * a.time_unit_s for a, v, _, _ in leaves if a.quantity == "time" and a.time_unit_s)
    rest = Sample(device_s=next(clocks, None), temperature_degc=next(warm, None))
    found = [one for leaf in leaves if (one := _judge(leaf, len(leaves) == 1, rest))]
    return gauge_first(found), "" if found else "no pressure in this object"


Leaf = tuple[Label, float, PressureUnit | None, str]


def _judge(leaf: Leaf, alone: bool, rest: Sample) -> Candidate | None:
    about, value, unit, path = leaf
    unit = unit or about.unit
    mark = _mark(about, unit is not None, alone)
    if mark is None:
        return None
    shown = signed(value, about.vacuum, unit)
    sample = replace(rest, value=shown, unit=unit, flips_sign=about.vacuum)
    return Candidate(sample, mark, f"JSON|{path}|{unit.name if unit else ''}", path)


def _mark(about: Label, has_unit: bool, alone: bool) -> MarkedBy | None:
    if about.disqualified or about.quantity not in ("pressure", "ambient", "neutral", "unknown"):
        return None
    if about.quantity in ("pressure", "ambient"):
        return MarkedBy.LABEL if about.quantity == "pressure" else MarkedBy.AMBIENT
    if has_unit:
        return MarkedBy.UNIT
    if not alone:
        return None
    return MarkedBy.TAGGED if about.quantity == "unknown" else MarkedBy.LONE


def _leaves(node: Any, path: tuple[str, ...]) -> Iterator[Leaf]:
    """Every number of the object with its label, unit and path."""
    if isinstance(node, list):
        yield from _listed(node, path)
        for i, child in enumerate(node):
            yield from _leaves(child, path if isinstance(child, dict) else (*path, str(i)))
    elif isinstance(node, dict):
        path = path + _named(node)
        for key, child in node.items():
            if isinstance(child, dict | list):
                yield from _leaves(child, (*path, str(key)))
            else:
                yield from _leaf(node, str(key), child, path)


def _listed(node: list[Any], path: tuple[str, ...]) -> Iterator[Leaf]:
    """["pressure", 34.5, "kPa"]: names before, units after their numbers."""
    for i, child in enumerate(node):
        name = node[i - 1] if i and isinstance(node[i - 1], str) else None
        value, unit = _number(child) if not isinstance(child, str) else (None, None)
        if value is not None and name:
            after = node[i + 1] if i + 1 < len(node) and isinstance(node[i + 1], str) else ""
            yield label(name), value, unit or unit_word(after), ".".join((*path, name))


def _named(node: dict[str, Any]) -> tuple[str, ...]:
    """{"name": "pressure", "value": 1}: the name is the label."""
    has_value = any(str(k).lower() in _VALUES for k in node)
    names = [str(v) for k, v in node.items() if has_value and isinstance(v, str) and _NAMES.fullmatch(str(k).lower())]
    return tuple(names[:1])


def _leaf(node: dict[str, Any], key: str, child: Any, path: tuple[str, ...]) -> Iterator[Leaf]:
    value, unit = _number(child)
    if value is None:
        return
    about = label(key)
    if key.lower() in _VALUES and path or about.quantity == "neutral" and path:
        about = label(path[-1])
    elif path and label(path[-1]).disqualified and about.quantity == "unknown":
        return
    yield about, value, unit or _unit_beside(node, key), ".".join((*path, key))


def _number(child: Any) -> tuple[float | None, PressureUnit | None]:
    if isinstance(child, bool):
        return None, None
    if isinstance(child, int | float):
        value = float(child) if abs(child) < OVERFLOW else math.nan
        return (value, None) if math.isfinite(value) else (None, None)
    if isinstance(child, str) and not names_error(child):
        child = normalise(child)
        found, _ = text_candidates(child) if len(child) < 40 else ([], "")
        if len(found) == 1 and not tokens(child.replace(found[0].sample.number, "", 1))[2:]:
            return found[0].sample.value, found[0].sample.unit
    return None, None


def _unit_beside(node: dict[str, Any], key: str) -> PressureUnit | None:
    names = _UNIT_KEYS | {f"{key.lower()}{sep}{unit}" for sep in ("_", "", "-") for unit in _UNIT_KEYS}
    shown = (v for name, v in node.items() if isinstance(v, str) and str(name).lower() in names)
    value = next(shown, None)
    return None if value is None else unit_word(value) or pressure_unit(value)


def _reports_error(node: Any) -> bool:
    fields = [(str(k).lower(), v) for k, v in node.items()] if isinstance(node, dict) else []
    return any(
        reports_error(key, str(value))
        for key, value in fields
        if key in ("error", "err", "fault") or key in ("status", "state") and isinstance(value, str)
    )
