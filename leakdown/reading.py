"""A file and what a person says of it, in text with units or in SI -> a Recording. What is said wins."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from leakdown.circuits import circuit_named
from leakdown.errors import UsageError
from leakdown.quantities import parse_pressure, parse_temperature, parse_uncertainty, parse_volume
from leakdown.recording import Conditions, Recording
from leakdown.said import ambient_pa, direction_named, positive_pressure_pa
from leakdown.settings import ShopSettings, read_settings
from leakdown.sheets.file import read as read_sheet
from leakdown.sheets.options import ReadingOptions

_IN_SI = {f.name for f in fields(Conditions)} - {"circuit", "direction", "unit", "extra", "by_settings"}


@dataclass(frozen=True)
class Told:
    """What a person says of a test besides its file: text with a unit each, None where nothing is said.

    unit: of the readings. absolute: they are absolute pressures, which needs a barometer. zero: what the
    gauge shows open to air. test: which of several tests in a file, counted from 1. columns: headings for a
    file that has none, "time (ms), -, pressure (bar)".
    """

    unit: str | None = None
    direction: str | None = None
    absolute: bool = False
    barometer: str | None = None
    altitude: str | None = None
    circuit: str | None = None
    volume: str | None = None
    volume_uncertainty: str | None = None
    temperature: str | None = None
    resolution: str | None = None
    zero: str | None = None
    test: int | None = None
    columns: str | None = None

    def for_reading(self, shop: ShopSettings | None = None) -> ReadingOptions:
        """What the reader needs; the shop's barometer serves absolute readings. Raises UsageError."""
        barometer = ambient_pa(self.barometer, self.altitude)
        if barometer is None and self.absolute and shop is not None:
            barometer = shop.barometer_pa
        return ReadingOptions(
            unit=self.unit,
            direction=direction_named(self.direction),
            absolute=self.absolute,
            barometer_pa=barometer,
            zero_pa=None if self.zero is None else parse_pressure(self.zero, "--zero").value_pa,
            test=self.test,
            columns=ReadingOptions.columns_of(self.columns) if self.columns else (),
        )

    def conditions(self, have: Conditions) -> Conditions:
        """What was said over conditions that are known already. Raises UsageError."""
        volume = parse_volume(self.volume, "--volume") if self.volume else None
        return have.overridden(
            barometer_pa=ambient_pa(self.barometer, self.altitude),
            direction=direction_named(self.direction),
            circuit=circuit_named(self.circuit) if self.circuit else None,
            volume_m3=volume,
            volume_u_m3=self._doubt_m3(volume, have),
            temperature_k=parse_temperature(self.temperature, "--temperature") if self.temperature else None,
            resolution_pa=positive_pressure_pa(self.resolution, "--resolution") if self.resolution else None,
        )

    def over(self, recording: Recording) -> Recording:
        """The recording with what was said over its own conditions. Raises UsageError."""
        return replace(recording, conditions=self.conditions(recording.conditions))

    def _doubt_m3(self, volume_m3: float | None, have: Conditions) -> float | None:
        """Half-width (95 %) of the volume; the file's doubt belongs to the file's volume."""
        known = volume_m3 if volume_m3 is not None else have.volume_m3
        if self.volume_uncertainty:
            if known is None:
                raise UsageError("--volume-uncertainty without a volume", remedy='Give --volume, such as "250 cm3".')
            return parse_uncertainty(self.volume_uncertainty, known, "--volume-uncertainty")
        if volume_m3 is not None and have.volume_u_m3 is not None:
            return min(have.volume_u_m3, 0.99 * volume_m3)
        return None


def read(path: str | Path, **options: Any) -> Recording:
    """Read a reading sheet or a recording (CSV, TSV, XLSX and the like).

    options: what the command line's options of the same names say, as text with a unit (unit="psi",
    volume="250 cm3", direction="vacuum", absolute=True...), or conditions in SI by their names in
    `Conditions` (volume_m3=250e-6, barometer_pa=98.2e3...). They win over what the file says.
    Raises UsageError for an option that is unknown or cannot be read, InputError for the file.
    """
    names = {f.name for f in fields(Told)}
    unknown = set(options) - names - _IN_SI
    if unknown:
        known = ", ".join(sorted(names | _IN_SI))
        raise UsageError(f"unknown option {min(unknown)!r}", remedy=f"Known options: {known}.")
    told = Told(**{name: value for name, value in options.items() if name in names})
    recording = told_recording(Path(path), told, options.get("barometer_pa"))
    si = {name: value for name, value in options.items() if name in _IN_SI}
    return replace(recording, conditions=recording.conditions.overridden(**si)) if si else recording


def told_recording(path: Path, told: Told, barometer_pa: float | None = None) -> Recording:
    """One file, read, with what was told over what it says. Raises InputError, UsageError."""
    shop = read_settings() if told.absolute else None
    options = told.for_reading(shop)
    if barometer_pa is not None:
        options = replace(options, barometer_pa=barometer_pa)
    return told.over(read_sheet(path, options))
