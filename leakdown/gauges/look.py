"""One line, looked at in every way that `auto` knows, without deciding between them."""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.gauges.candidates import Evidence, Found, best, text_candidates
from leakdown.gauges.jsonline import JsonJoiner, json_candidates
from leakdown.gauges.line import Line
from leakdown.gauges.nmea import looks_like_nmea, sentence_candidates
from leakdown.gauges.table import Heading, bare_row, heading


@dataclass(frozen=True)
class Look:
    """Candidates, or a bare row, or a heading, or only a reason (`why`). `waits`: part of a longer object."""

    found: tuple[Found, ...] = ()
    why: str = ""
    row: tuple[float, ...] = ()
    head: Heading | None = None
    waits: bool = False
    stateless: bool = True

    @property
    def best(self) -> Found | None:
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

    @property
    def inside_object(self) -> bool:
        """True while a JSON object has begun on an earlier line."""
        return self._joiner.open

    def look(self, line: Line) -> Look:
        """Everything that this line could be."""
        if line.damaged:
            return Look(why="line noise", stateless=False)
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
