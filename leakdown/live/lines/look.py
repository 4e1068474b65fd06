"""One line, looked at in every way that `auto` knows, without deciding between them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from leakdown.live.lines.candidates import Candidate, Evidence, best, text_candidates
from leakdown.live.lines.jsonline import JsonJoiner, json_candidates
from leakdown.live.lines.line import Line
from leakdown.live.lines.nmea import checksum, looks_like_nmea, sentence_candidates
from leakdown.live.lines.table import Heading, bare_row, heading

_CHECKSUM = re.compile(r"[$!]?([^*]+)\*([0-9A-Fa-f]{2})")
UNPROVEN = 3
"""Wrong sums seen, with never a right one, before *HH is taken for something other than an XOR."""


@dataclass(frozen=True)
class Look:
    """Candidates, or a bare row, or a heading, or only a reason (`why`). `waits`: part of a longer object."""

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
        return one is not None and one.evidence >= Evidence.AMBIENT


class LineLooker:
    """Looks at lines one after the other; its only memory is an unfinished JSON object."""

    def __init__(self) -> None:
        self._joiner = JsonJoiner()
        self._sums = [0, 0]

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
        return self._plain(line.text)

    def _sum_holds(self, text: str) -> bool:
        """Lines that end in *HH: right when the XOR fits; judged at all only if it ever fits here."""
        match = _CHECKSUM.fullmatch(text)
        if not match or looks_like_nmea(text):
            return True
        right = checksum(match.group(1)) == int(match.group(2), 16)
        self._sums[not right] += 1
        return right or self._sums[0] == 0 and self._sums[1] > UNPROVEN

    def _plain(self, text: str) -> Look:
        if looks_like_nmea(text):
            found, why = sentence_candidates(text)
            return Look(tuple(found), why, stateless=False)
        row = bare_row(text)
        if row is not None:
            found, why = text_candidates(text)
            return Look(tuple(found), "several numbers and none is named", tuple(row))
        head = heading(text)
        if head is not None:
            return Look(why="a heading", head=head)
        found, why = text_candidates(text)
        return Look(tuple(found), why)
