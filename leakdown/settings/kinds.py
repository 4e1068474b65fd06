"""What kinds of value a setting can have: text as a person writes it -> the value in SI, or a refusal."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Callable
from pathlib import Path

from leakdown.errors import UsageError
from leakdown.physics.air import standard_pressure_pa
from leakdown.quantities import (
    ATMOSPHERE_PA,
    PRESSURE_PA,
    parse_flow,
    parse_length,
    parse_pressure,
    parse_temperature,
    parse_volume,
    pressure_unit,
)

Value = float | str | Path
Read = Callable[[str, str], Value]
"""Text and the setting's name (for messages) -> value. Raises UsageError."""

LONGEST = 1000
_STEERING = ("Cc", "Cf", "Cs", "Zl", "Zp")  # what would move a cursor, turn the writing or fit no file


def checked_text(text: str, name: str) -> str:
    """The text without blanks around it. Raises UsageError when it is empty, too long or not printable."""
    plain = text.strip()
    if not plain:
        raise UsageError(f"{name}: the value is empty", remedy=f"Give one, or: leakdown settings unset {name}")
    if len(plain) > LONGEST:
        raise UsageError(f"{name}: the value is longer than {LONGEST} characters", remedy="Shorten it.")
    if any(unicodedata.category(c) in _STEERING for c in plain):
        raise UsageError(f"{name}: a control character is in {shortened(plain)}", remedy="Leave it out.")
    return plain


def shortened(value: object) -> str:
    """A value from outside as one short printable word."""
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def words(text: str, name: str) -> str:
    """Any text."""
    return text


def unit(text: str, name: str) -> str:
    """A pressure unit -> its usual spelling. Absolute ones are refused: results are gauge pressures."""
    found = pressure_unit(text)
    if found is None or found.reference == "absolute":
        why = "unknown unit" if found is None else "results are gauge pressures, not absolute as in"
        raise UsageError(f"{name}: {why} {text!r}", remedy=f"Known units: {', '.join(PRESSURE_PA)}.")
    return found.name


def barometer_pa(text: str, name: str) -> float:
    """Pressure of the air at the bench -> Pa."""
    value_pa = parse_pressure(text, name).value_pa
    if not 30e3 <= value_pa <= 120e3:
        raise UsageError(f"{name}: {text!r} is outside 30..120 kPa", remedy="Give the station pressure.")
    return value_pa


def altitude_m(text: str, name: str) -> float:
    """Height above sea level -> m, within the standard atmosphere's range."""
    height_m = parse_length(text, name)
    try:
        standard_pressure_pa(height_m)
    except ValueError as error:
        why = str(error).removeprefix("altitude ")
        raise UsageError(f"{name}: {why}", remedy="Give metres or feet.") from error
    return height_m


def step_pa(text: str, name: str) -> float:
    """A gauge's smallest step -> Pa, above zero."""
    value_pa = abs(parse_pressure(text, name).value_pa)
    if not 0 < value_pa < math.inf:
        raise UsageError(f"{name}: {text!r} is no size", remedy="Give a size above zero.")
    return value_pa


temperature_k = parse_temperature
"""A temperature -> K."""


def volume_m3(text: str, name: str) -> float:
    """A volume above zero -> m3."""
    return _finite(parse_volume(text, name), text, name)


def air_m3_s(text: str, name: str) -> float:
    """A flow of air above zero -> m3/s at 20 degC and 101.325 kPa."""
    return _finite(parse_flow(text, name), text, name) / ATMOSPHERE_PA


def folder(text: str, name: str) -> Path:
    """A folder, said from the root or from home: what is meant must not hang on where one stands."""
    try:
        path = Path(text).expanduser()
    except RuntimeError as error:
        raise UsageError(f"{name}: {text!r} has no home folder", remedy="Write the whole path.") from error
    if not path.is_absolute():
        raise UsageError(
            f"{name}: {text!r} would be another folder wherever the program is started",
            remedy="Write the whole path, or one from ~.",
        )
    return path


def profile(text: str, name: str) -> str:
    """The name of a gauge profile, or the whole path of its file."""
    return str(folder(text, name)) if text.endswith(".toml") else text


def _finite(value: float, text: str, name: str) -> float:
    if not value < math.inf:
        raise UsageError(f"{name}: {text!r} is no size", remedy="Give a size that exists.")
    return value
