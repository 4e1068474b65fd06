"""Pressure in NMEA 0183 sentences: XDR transducer fields of type P, and the MDA/MMB weather sentences.

Sentence layout from memory of NMEA 0183 (XDR: type, value, unit, name in fours; unit B bar, P pascal).
"""

from __future__ import annotations

import re
from functools import reduce
from operator import xor

from leakdown.live.lines.candidates import Candidate, Evidence
from leakdown.quantities import PRESSURE_PA, PressureUnit

_SENTENCE = re.compile(r"[$!]([A-Z][A-Z0-9]{3,7}),([^*]*)(?:\*([0-9A-Fa-f]{2}))?\s*$")
_UNITS = {"B": "bar", "P": "Pa", "H": "hPa", "K": "kPa", "M": "mbar", "I": "inHg"}
_NUMBER = re.compile(r"[-+]?\d+(?:\.\d*)?$|[-+]?\.\d+$")


def looks_like_nmea(text: str) -> bool:
    """True for text that starts as a sentence does: a readable line here belongs to this module alone."""
    return text.startswith(("$", "!")) and bool(re.match(r"[$!][A-Z]{4,}", text))


def checksum(body: str) -> int:
    """XOR of all characters between `$` and `*`."""
    return reduce(xor, body.encode("latin-1", "replace"), 0)


def sentence_candidates(text: str) -> tuple[list[Candidate], str]:
    """Pressures of one sentence, or why there is none. A wrong checksum makes no reading."""
    match = _SENTENCE.fullmatch(text)
    if not match:
        return [], "torn sentence"
    address, body, given = match.groups()
    if given and checksum(f"{address},{body}") != int(given, 16) & 0xFF:
        return [], "wrong checksum"
    fields = body.split(",")
    pairs = _pairs(address[-3:], fields)
    found = []
    for value, unit_letter, name in pairs:
        if _NUMBER.fullmatch(value) and unit_letter in _UNITS:
            unit_name = _UNITS[unit_letter]
            unit = PressureUnit(unit_name, PRESSURE_PA[unit_name])
            key = f"XDR|{address}|{name}|{unit_name}"
            found.append(
                Candidate(float(value), unit, Evidence.LABEL, key, value, f"{address} {name}".strip())
            )
    return found, "" if found else "a sentence without a pressure"


def _pairs(formatter: str, fields: list[str]) -> list[tuple[str, str, str]]:
    """(value, unit letter, transducer name) of the pressure fields."""
    if formatter == "XDR":
        groups = [fields[i : i + 4] for i in range(0, len(fields) - 2, 4)]
        return [(g[1], g[2], g[3] if len(g) > 3 else "") for g in groups if g[0] == "P"]
    if formatter in ("MDA", "MMB"):
        return (
            [(fields[2], fields[3], "barometer")]
            if len(fields) >= 4 and fields[2]
            else [(fields[0], fields[1], "barometer")]
            if len(fields) >= 2
            else []
        )
    return []
