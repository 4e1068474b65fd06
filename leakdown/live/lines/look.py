"""One line, looked at in every way that `auto` knows, without deciding between them.

NMEA 0183 sentences are read here: XDR transducer fields of type P, and the MDA/MMB weather sentences. Their
layout is from memory (XDR: type, value, unit, name in fours; unit B bar, P pascal).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from leakdown.live.lines.candidates import Candidate, MarkedBy, best, text_candidates
from leakdown.live.lines.jsonline import JsonJoiner, json_candidates
from leakdown.live.lines.line import Line, Sample, checksum, split_sum
from leakdown.live.lines.table import Heading, bare_row, heading
from leakdown.quantities import PRESSURE_PA, PressureUnit
from leakdown.tuned import tuned

_T = tuned("live.lines")


@dataclass(frozen=True)
class Look:
    """Candidates, or a bare row, or a heading, or only a reason (`why`). `waits`: part of a longer object.

    stateless: the line means the same wherever it stands.
    """

    found: tuple[Candidate, ...] = ()
    why: str = ""
    row: tuple[float, ...] = ()
    head: Heading | None = None
    waits: bool = False
    stateless: bool = True

    @property
    def best(self) -> Candidate | None:
        """The strongest candidate, if any."""
        return best(list(self.found))

    @property
    def strong(self) -> bool:
        """True when the line names its pressure."""
        one = self.best
        return one is not None and one.marked_by >= MarkedBy.AMBIENT


class LineLooker:
    """Looks at lines one after the other; remembers an unfinished JSON object and how checksums fared."""

    def __init__(self) -> None:
        self._joiner = JsonJoiner()
        self._sums = [0, 0]  # right, wrong

    @property
    def inside_object(self) -> bool:
        """True while a JSON object has begun on an earlier line."""
        return self._joiner.open

    def look(self, line: Line) -> Look:
        """Everything that this line could be."""
        if line.damaged:
            return Look(why="line noise", stateless=False)
        if not self._sum_holds(line.text):
            return Look(why="wrong checksum", stateless=False)
        was_open = self._joiner.open
        state, whole = self._joiner.feed(line.text)
        if state == "more":
            return Look(why="part of a longer object", waits=True, stateless=False)
        if state == "torn":
            return Look(why="torn object", stateless=False)
        if state == "whole":
            found, why = json_candidates(whole)
            return Look(tuple(found), why, stateless=not was_open)
        return _look_at_text(line.text)

    def _sum_holds(self, text: str) -> bool:
        """Lines that end in *HH: right when the XOR fits; judged at all only if it ever fits here."""
        _, right = split_sum(text)
        if right is None or _is_sentence(text):
            return True
        self._sums[not right] += 1
        return right or self._sums[0] == 0 and self._sums[1] > _T.unproven_sums


def _look_at_text(text: str) -> Look:
    if _is_sentence(text):
        found, why = _sentence_candidates(text)
        return Look(tuple(found), why, stateless=False)
    row = bare_row(text)
    head = heading(text) if row is None else None
    if head is not None:
        return Look(why="a heading", head=head)
    found, why = text_candidates(text)
    return Look(tuple(found), "several numbers and none is named" if row else why, tuple(row or ()))


_SENTENCE = re.compile(r"[$!]([A-Z][A-Z0-9]{3,7}),([^*]*)(?:\*([0-9A-Fa-f]{2}))?\s*$")
_UNITS = {"B": "bar", "P": "Pa", "H": "hPa", "K": "kPa", "M": "mbar", "I": "inHg"}
_NUMBER = re.compile(r"[-+]?\d+(?:\.\d*)?$|[-+]?\.\d+$")


def _is_sentence(text: str) -> bool:
    """True for text that starts as a sentence does: it is read as one or not at all."""
    return text.startswith(("$", "!")) and bool(re.match(r"[$!][A-Z]{4,}", text))


def _sentence_candidates(text: str) -> tuple[list[Candidate], str]:
    """Pressures of one sentence, or why there is none. A wrong checksum makes no reading."""
    match = _SENTENCE.fullmatch(text)
    if not match:
        return [], "torn sentence"
    address, body, given = match.groups()
    if given and checksum(f"{address},{body}") != int(given, 16):
        return [], "wrong checksum"
    found = []
    for value, letter, name in _pressure_fields(address[-3:], body.split(",")):
        if _NUMBER.fullmatch(value) and letter in _UNITS:
            unit = PressureUnit(_UNITS[letter], PRESSURE_PA[_UNITS[letter]])
            sample = Sample(value=float(value), unit=unit, number=value)
            key = f"XDR|{address}|{name}|{unit.name}"
            found.append(Candidate(sample, MarkedBy.LABEL, key, f"{address} {name}".strip()))
    return found, "" if found else "a sentence without a pressure"


def _pressure_fields(formatter: str, fields: list[str]) -> list[tuple[str, str, str]]:
    """(value, unit letter, transducer name) of each."""
    if formatter == "XDR":
        groups = [fields[i : i + 4] for i in range(0, len(fields) - 2, 4)]
        return [(g[1], g[2], g[3] if len(g) > 3 else "") for g in groups if g[0] == "P"]
    if formatter not in ("MDA", "MMB"):
        return []
    in_bar = len(fields) >= 4 and bool(fields[2])
    value, letter = (fields[2:4] if in_bar else fields[:2]) if len(fields) >= 2 else ("", "")
    return [(value, letter, "barometer")]
