"""Text with a unit <-> SI numbers ("12 inHg", "250 cm3", "1:30"). Gauge or absolute is always said.

The units, their factors and the source of these stand in quantities.toml.
"""

from __future__ import annotations

import math
import re
import tomllib
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

from leakdown.errors import UsageError

ATMOSPHERE_PA = 101_325.0
REFERENCE_TEMPERATURE_K = 293.15
"""20 degC: the reference of every standard cm3 that leakdown prints."""

# not by importlib.resources, which takes 10 ms to load where nothing else needs it
_UNITS = tomllib.loads(Path(__file__).with_name("quantities.toml").read_text("utf-8"))


def _unit_table(name: str) -> tuple[dict[str, float], dict[str, str]]:
    """Factors to SI by a unit's usual name, and that name by every spelling of it."""
    table = _UNITS[name]
    spelled = table.pop("spelled", {})
    return table, {text: unit for unit, texts in spelled.items() for text in texts.split()}


PRESSURE_PA, _PRESSURE_SPELLINGS = _unit_table("pressure_pa")
VOLUME_M3, _VOLUME_SPELLINGS = _unit_table("volume_m3")
TIME_S, _TIME_SPELLINGS = _unit_table("time_s")
LENGTH_M, _LENGTH_SPELLINGS = _unit_table("length_m")
FLOW_PA_M3_S, _ = _unit_table("flow_pa_m3_s")
_GAUGE_SUFFIX = re.compile(r"^(.*?)\(?(g|gauge|ga|gage|rel|relative|uberdruck|u|ue|d)\)?$")
_ABSOLUTE_SUFFIX = re.compile(r"^(.*?)\(?(a|abs|absolute|absolut)\)?$")
_NUMBER = r"[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?"
_QUANTITY = re.compile(rf"^\s*({_NUMBER})\s*(.*?)\s*$")
_MINUTES_SECONDS = re.compile(r"^\s*(?:(\d+):)?(\d+):(\d{1,2}(?:[.,]\d+)?)\s*$")
_PLAIN_SIGNS = str.maketrans("\u2212\u2013\u2032\u2019\u2033\u201d\u201c\u00a0\u202f\u2009", '--\'\'"""   ', "\ufeff")
_PRIME_TIME = re.compile(r"^\s*(\d+)\s*'\s*(\d+(?:[.,]\d+)?)?\s*(?:\"|'')?\s*$")

Reference = Literal["gauge", "absolute"]


@dataclass(frozen=True)
class PressureUnit:
    """A pressure unit as written: canonical `name`, `factor_pa` to pascal, and gauge/absolute if said."""

    name: str
    factor_pa: float
    reference: Reference | None = None


@dataclass(frozen=True)
class Pressure:
    """A pressure as written: value in Pa, its unit, and gauge/absolute when the text says so."""

    value_pa: float
    unit: PressureUnit


def tidy(text: str) -> str:
    """Text with exotic minus signs, primes, blanks and superscripts replaced by plain ones."""
    return unicodedata.normalize("NFKC", text.translate(_PLAIN_SIGNS))


def _squash(text: str) -> str:
    plain = tidy(text).lower().replace("^", "").replace("\u2082", "2").replace("²", "2")
    return re.sub(r"[\s._\-\[\]]+", "", plain).replace("square", "sq").replace("(sq)", "sq")


@lru_cache(maxsize=256)
def pressure_unit(text: str) -> PressureUnit | None:
    """The pressure unit that `text` spells, or None. Accepts psig, bar(a), "in. w.c.", "kPa abs"."""
    if tidy(text).strip() == "mPa":
        return None  # millipascal or a mistyped MPa: a factor of 1e9 is no place to guess
    squashed = _squash(text)
    name = _PRESSURE_SPELLINGS.get(squashed)
    if name:
        return PressureUnit(name, PRESSURE_PA[name])
    for pattern, reference in ((_ABSOLUTE_SUFFIX, "absolute"), (_GAUGE_SUFFIX, "gauge")):
        match = pattern.match(squashed)
        name = _PRESSURE_SPELLINGS.get(match.group(1)) if match else None
        if name:
            return PressureUnit(name, PRESSURE_PA[name], reference)  # type: ignore[arg-type]
    return None


def split_quantity(text: str) -> tuple[float, str] | None:
    """Number and unit text of "12.5 inHg" (decimal comma accepted), or None when there is no number."""
    match = _QUANTITY.match(tidy(text))
    if not match:
        return None
    value = float(match.group(1).replace(",", "."))
    return (value, match.group(2)) if math.isfinite(value) else None


def _required(text: str, what: str, names: dict[str, float]) -> tuple[float, str]:
    if re.match(r"^\s*[-+]?[1-9]\d{0,2},\d{3}(?!\d)", tidy(text)):
        raise UsageError(
            f"{what}: is the comma in {text!r} a decimal mark or a thousands mark?",
            remedy="Write the number with a point, or without a thousands mark.",
        )
    parts = split_quantity(text)
    if parts is None or not parts[1]:
        missing = "no number in" if parts is None else "no unit in"
        raise UsageError(f"{what}: {missing} {text!r}", remedy=f"Write a number and a unit: {', '.join(names)}.")
    return parts


def _parse(text: str, what: str, factors: dict[str, float], spellings: dict[str, str]) -> float:
    value, unit = _required(text, what, factors)
    name = spellings.get(_squash(unit)) or spellings.get(unit)
    if name is None:
        raise UsageError(f"{what}: unknown unit {unit!r} in {text!r}", remedy=f"Known units: {', '.join(factors)}.")
    return value * factors[name]


def parse_pressure(text: str, what: str = "pressure") -> Pressure:
    """ "35 kPa", "12 inHg", "5 psig", "101.3 kPa abs" -> Pressure. Raises UsageError."""
    value, unit_text = _required(text, what, PRESSURE_PA)
    unit = pressure_unit(unit_text)
    if unit is None:
        raise UsageError(
            f"{what}: unknown unit {unit_text!r} in {text!r}",
            remedy=f"Known units: {', '.join(PRESSURE_PA)} (psig, kPa abs and the like too).",
        )
    return Pressure(value * unit.factor_pa, unit)


def parse_volume(text: str, what: str = "volume") -> float:
    """ "250 cm3" -> m3. Raises UsageError for a missing unit or a value that is not positive."""
    return _positive(_parse(text, what, VOLUME_M3, _VOLUME_SPELLINGS), text, what)


def parse_length(text: str, what: str = "length") -> float:
    """ "44 mm" -> m."""
    return _parse(text, what, LENGTH_M, _LENGTH_SPELLINGS)


def parse_time(text: str, what: str = "time") -> float:
    """ "90 s", "1.5 min", "1:30", "1:02:03" or 1'30" -> s, never negative. Raises UsageError."""
    value = clock_seconds(text)
    if value is None:
        value = _parse(text, what, TIME_S, _TIME_SPELLINGS)
    if value < 0:
        raise UsageError(f"{what}: {text!r} is negative", remedy="Give a time of zero or more.")
    return value


def clock_seconds(text: str) -> float | None:
    """Seconds of an elapsed time written m:ss, h:mm:ss or 1'30"; None for any other text."""
    plain = tidy(text)
    match = _MINUTES_SECONDS.match(plain)
    if match:
        hours, minutes, seconds = match.groups()
        return float(hours or 0) * 3600 + float(minutes) * 60 + float(seconds.replace(",", "."))
    match = _PRIME_TIME.match(plain)
    if match:
        return float(match.group(1)) * 60 + float((match.group(2) or "0").replace(",", "."))
    return None


def time_unit_s(text: str) -> float | None:
    """Seconds per unit that `text` spells ("min", "sec", "s"), or None."""
    name = _TIME_SPELLINGS.get(_squash(text)) or _TIME_SPELLINGS.get(tidy(text).strip())
    return TIME_S[name] if name else None


def parse_temperature(text: str, what: str = "temperature") -> float:
    """ "20 degC", "68 F", "293.15 K" -> K. Raises UsageError outside -60..300 degC."""
    value, unit = _required(text, what, {"degC": 1, "degF": 1, "K": 1})
    kelvin = temperature_k(value, unit)
    if kelvin is None:
        raise UsageError(f"{what}: unknown unit {unit!r} in {text!r}", remedy="Known units: degC, degF, K.")
    if not 213.15 <= kelvin <= 573.15:
        raise UsageError(f"{what}: {text!r} is outside -60..300 degC", remedy="Give the gas or room temperature.")
    return kelvin


def temperature_k(value: float, unit: str) -> float | None:
    """Kelvin of `value` in a unit spelled degC, °C, C, degF, F or K; None for an unknown spelling."""
    squashed = _squash(unit).replace("°", "").replace("deg", "").replace("grad", "")
    if squashed in ("c", "celsius"):
        return value + 273.15
    if squashed in ("f", "fahrenheit"):
        return (value - 32.0) / 1.8 + 273.15
    return value if squashed in ("k", "kelvin") else None


def parse_uncertainty(text: str, of_m3: float, what: str = "volume uncertainty") -> float:
    """ "10 %" or "25 cm3" -> m3, as a 95 % half-width of a volume `of_m3`. Raises UsageError."""
    parts = split_quantity(text)
    if parts and parts[1].strip() in ("%", "percent", "per cent"):
        value = parts[0] / 100.0 * of_m3
    else:
        value = _parse(text, what, VOLUME_M3 | {"%": 1.0}, _VOLUME_SPELLINGS)
    if not 0 <= value < of_m3:
        raise UsageError(
            f"{what}: {text!r} must be between zero and the volume itself",
            remedy='Write it as "10 %" or "25 cm3" (95 %).',
        )
    return value


def parse_pressures(text: str, what: str) -> tuple[float, float]:
    """Pa (low, high), magnitudes, of "90 to 130 kPa" or "13 psi..19 psi". Raises UsageError."""
    ends = re.split(r"\s*(?:\bto\b|\.\.|\u2013|(?<=[\d\w])\s*-)\s*", text.strip())
    unit = re.sub(r"^[-+0-9.,\s]+", "", ends[-1])
    first = f"{ends[0]} {unit}" if re.fullmatch(r"[-+0-9.,\s]+", ends[0]) else ends[0]
    low, high = (abs(parse_pressure(end, what).value_pa) for end in (first, ends[-1]))
    if len(ends) != 2 or not 0.0 < low < high:
        raise UsageError(f"{what}: {text!r} is no range of pressures", remedy='Write it as "90 to 130 kPa".')
    return low, high


def parse_flow(text: str, what: str = "leak rate") -> float:
    """Text such as "2.5 cm3/min" (20 degC, 101.325 kPa) or "0.1 mbar L/s" -> Pa m3/s at 20 degC."""
    value, unit = _required(text, what, dict.fromkeys(FLOW_PA_M3_S, 1.0))
    key = _squash(unit).replace("·", "").replace("*", "").replace("std", "").replace("standard", "")
    factor = {_squash(name): factor for name, factor in FLOW_PA_M3_S.items()}.get(key)
    if factor is None:
        raise UsageError(
            f"{what}: unknown unit {unit!r} in {text!r}",
            remedy=f"Known units: {', '.join(FLOW_PA_M3_S)} (cm3 at 20 degC and 101.325 kPa).",
        )
    return _positive(value * factor, text, what)


def _positive(value: float, text: str, what: str) -> float:
    if not value > 0:
        raise UsageError(f"{what}: {text!r} is not above zero", remedy="Give a positive size.")
    return value


def standard_cm3_per_min(throughput_pa_m3_s: float, temperature_k_: float = REFERENCE_TEMPERATURE_K) -> float:
    """Standard cm3/min (20 degC, 101.325 kPa) of a throughput measured at `temperature_k_`."""
    return throughput_pa_m3_s / FLOW_PA_M3_S["cm3/min"] * REFERENCE_TEMPERATURE_K / temperature_k_


def show_pressure(value_pa: float, unit: str = "kPa", digits: int = 3) -> str:
    """A pressure in the user's unit with `digits` significant figures and its unit."""
    return f"{significant(value_pa / PRESSURE_PA[unit], digits)} {unit}"


def significant(value: float, digits: int = 3) -> str:
    """`value` with `digits` significant figures and no exponent between 1e-4 and 1e6."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "?"
    exponent = math.floor(math.log10(abs(value)))
    rounded = round(value, digits - 1 - exponent)
    if not 1e-4 <= abs(value) < 1e6:
        return f"{value:.{digits - 1}e}"
    exponent = math.floor(math.log10(abs(rounded)))
    return f"{rounded:.{max(0, digits - 1 - exponent)}f}"
