"""Lines -> samples by a profile's pattern or columns. Pure; the counterpart of `AutoReader`."""

from __future__ import annotations

import re

from leakdown.live.lines.labels import names_error, unit_word
from leakdown.live.lines.line import Line
from leakdown.live.lines.nmea import checksum
from leakdown.live.lines.table import cell_number, split_cells
from leakdown.live.profiles.profile import Columns, Profile
from leakdown.live.streams.settle import Sample
from leakdown.quantities import PressureUnit

_SUM = re.compile(r"(.*)\*([0-9A-Fa-f]{2})")


class ProfileReader:
    """Each line is judged by itself: nothing is held back."""

    def __init__(self, profile: Profile) -> None:
        self.account = f"took the pressure as the profile {profile.name!r} says"
        self.remarks = [self.account]
        self.unit_name = ""
        self.holds = False
        self._profile = profile

    def feed(self, line: Line, arrival_s: float) -> list[Sample]:
        """One sample for one line."""
        why, text = self._refusal(line)
        if why:
            return [Sample(arrival_s, line.text, why=why)]
        if self._profile.columns is not None:
            return [self._by_columns(self._profile.columns, text, line.text, arrival_s)]
        return [self._by_pattern(text, line.text, arrival_s)]

    def tick(self, now_s: float) -> list[Sample]:
        """Nothing waits."""
        return []

    def finish(self) -> list[Sample]:
        """Nothing waits."""
        return []

    def _refusal(self, line: Line) -> tuple[str, str]:
        """Why a line cannot be a reading, and its text without the checksum."""
        if line.damaged:
            return "line noise", ""
        if self._profile.no_reading is not None and self._profile.no_reading.search(line.text):
            return "the profile says this is no reading", ""
        if self._profile.checksum != "xor":
            return "", line.text
        match = _SUM.fullmatch(line.text)
        if match is None:
            return "no checksum", ""
        right = checksum(match.group(1)) == int(match.group(2), 16)
        return ("", match.group(1)) if right else ("wrong checksum", "")

    def _by_pattern(self, text: str, raw: str, arrival_s: float) -> Sample:
        assert self._profile.pattern is not None
        match = self._profile.pattern.search(text)
        if match is None:
            return Sample(arrival_s, raw, why="does not fit the profile's pattern")
        groups = match.groupdict()
        unit = unit_word(groups["unit"]) if groups.get("unit") else None
        return self._sample(
            raw, arrival_s, groups["pressure"], groups.get("time"), groups.get("temperature"), unit
        )

    def _by_columns(self, columns: Columns, text: str, raw: str, arrival_s: float) -> Sample:
        cells = split_cells(text, columns.separator)

        def cell(place: int | None) -> str | None:
            return cells[place] if place is not None and place < len(cells) else None

        if columns.count is not None and len(cells) != columns.count or cell(columns.pressure) is None:
            return Sample(arrival_s, raw, why=f"{len(cells)} columns")
        return self._sample(
            raw, arrival_s, cell(columns.pressure), cell(columns.time), cell(columns.temperature), None
        )

    def _sample(
        self,
        raw: str,
        arrival_s: float,
        pressure: str | None,
        time: str | None,
        temperature: str | None,
        unit: PressureUnit | None,
    ) -> Sample:
        value = cell_number((pressure or "").strip())
        if value is None:
            why = (
                "the gauge has no reading"
                if names_error(pressure or "")
                else "no number where the pressure should be"
            )
            return Sample(arrival_s, raw, why=why)
        clock = cell_number((time or "").strip())
        device_s = clock * self._profile.time_unit_s if clock is not None else None
        return Sample(arrival_s, raw, value, unit, "", device_s, cell_number((temperature or "").strip()))
