"""Text with a unit <-> SI numbers ("12 inHg", "250 cm3", "1:30"). Gauge or absolute is always said.

Factors are exact by definition unless a comment says otherwise. Source of the definitions:
NIST SP 811 (2008), Appendix B.8. "inHg", "mmHg", "inH2O" and the like are the *conventional*
units (density fixed by definition); the printed 60 F forms differ by up to 0.3 %.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from typing import Literal

from leakdown.errors import UsageError

STANDARD_GRAVITY_M_S2 = 9.80665
ATMOSPHERE_PA = 101_325.0
REFERENCE_TEMPERATURE_K = 293.15
"""20 degC: the reference of every standard cm3 that leakdown prints."""

_INCH_M = 0.0254
_LB_KG = 0.45359237
_PSI_PA = _LB_KG * STANDARD_GRAVITY_M_S2 / _INCH_M**2
_MMHG_PA = 13.5951 * STANDARD_GRAVITY_M_S2  # conventional mercury, 13 595.1 kg/m3
_MMH2O_PA = STANDARD_GRAVITY_M_S2  # conventional water, 1000 kg/m3

PRESSURE_PA: dict[str, float] = {
    "Pa": 1.0,
    "hPa": 100.0,
    "kPa": 1e3,
    "MPa": 1e6,
    "mbar": 100.0,
    "bar": 1e5,
    "atm": ATMOSPHERE_PA,
    "psi": _PSI_PA,
    "oz/in2": _PSI_PA / 16.0,
    "inHg": 25.4 * _MMHG_PA,
    "mmHg": _MMHG_PA,
    "cmHg": 10.0 * _MMHG_PA,
    "Torr": ATMOSPHERE_PA / 760.0,
    "inH2O": 25.4 * _MMH2O_PA,
    "cmH2O": 10.0 * _MMH2O_PA,
    "mmH2O": _MMH2O_PA,
    "kgf/cm2": STANDARD_GRAVITY_M_S2 * 1e4,
}
VOLUME_M3 = {"cm3": 1e-6, "mL": 1e-6, "L": 1e-3, "m3": 1.0, "in3": _INCH_M**3, "mm3": 1e-9}
TIME_S = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "min": 60.0, "h": 3600.0}
LENGTH_M = {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "um": 1e-6, "in": _INCH_M, "ft": 0.3048, "km": 1e3}

# fmt: off
# Spellings are compared after `_squash`: lower case, no blanks, dots, underscores or hyphens.
_PRESSURE_SPELLINGS: dict[str, str] = {
    "pa": "Pa", "pascal": "Pa", "pascals": "Pa", "hpa": "hPa", "hectopascal": "hPa",
    "kpa": "kPa", "kilopascal": "kPa", "kilopascals": "kPa", "mpa": "MPa", "megapascal": "MPa",
    "mbar": "mbar", "millibar": "mbar", "millibars": "mbar", "mb": "mbar", "bar": "bar", "bars": "bar",
    "atm": "atm", "psi": "psi", "lb/in2": "psi", "lbf/in2": "psi", "lbs/in2": "psi", "lbin2": "psi",
    "poundspersquareinch": "psi", "lbs": "psi", "lb/sqin": "psi", "lbs/sqin": "psi", "lbf/sqin": "psi",
    "lbpersqin": "psi", "lbspersqin": "psi", "pounds": "psi", "n/m2": "Pa", "mmce": "mmH2O", "cmce": "cmH2O",
    "oz/in2": "oz/in2", "ozf/in2": "oz/in2", "osi": "oz/in2", "ozin2": "oz/in2", "oz/sqin": "oz/in2",
    "inhg": "inHg", "inofhg": "inHg", "inchhg": "inHg", "incheshg": "inHg", "inchesofmercury": "inHg",
    '"hg': "inHg", "inmercury": "inHg", "inchesmercury": "inHg",
    "mmhg": "mmHg", "cmhg": "cmHg", "torr": "Torr",
    "inh2o": "inH2O", "inwc": "inH2O", "inwg": "inH2O", "iwc": "inH2O", '"h2o': "inH2O", '"wc': "inH2O",
    "inchesh2o": "inH2O", "inchesofwater": "inH2O", "inchh2o": "inH2O", "incheswater": "inH2O",
    "incheswc": "inH2O", "incheswg": "inH2O", "inchwc": "inH2O", "inchwg": "inH2O", "inchwater": "inH2O",
    "inchesofwatercolumn": "inH2O", "incheswatercolumn": "inH2O", "inwatercolumn": "inH2O",
    "inswg": "inH2O", "inswc": "inH2O", "inshg": "inHg", "inchesofhg": "inHg", "inchofmercury": "inHg",
    "mmofhg": "mmHg", "mmofmercury": "mmHg", "mmofwater": "mmH2O", "cmofwater": "cmH2O",
    "inofwater": "inH2O", '"wg': "inH2O", "inwater": "inH2O", "inaq": "inH2O",
    "cmh2o": "cmH2O", "cmwc": "cmH2O", "cmws": "cmH2O", "mmh2o": "mmH2O", "mmwc": "mmH2O", "mmws": "mmH2O",
    "mmwg": "mmH2O", "mmaq": "mmH2O",
    "kgf/cm2": "kgf/cm2", "kg/cm2": "kgf/cm2", "kgcm2": "kgf/cm2", "kgfcm2": "kgf/cm2", "kp/cm2": "kgf/cm2",
    "at": "kgf/cm2",
}
_GAUGE_SUFFIX = re.compile(r"^(.*?)\(?(g|gauge|ga|gage|rel|relative|uberdruck|u|ue|d)\)?$")
_ABSOLUTE_SUFFIX = re.compile(r"^(.*?)\(?(a|abs|absolute|absolut)\)?$")
_VOLUME_SPELLINGS = {
    "cm3": "cm3", "cc": "cm3", "ccm": "cm3", "cubiccentimetres": "cm3", "ml": "mL", "millilitre": "mL",
    "l": "L", "litre": "L", "liter": "L", "litres": "L", "liters": "L", "dm3": "L", "m3": "m3",
    "in3": "in3", "cuin": "in3", "ci": "in3", "mm3": "mm3",
}
_TIME_SPELLINGS = {
    "s": "s", "sec": "s", "secs": "s", "second": "s", "seconds": "s", "sek": "s",
    "sekunde": "s", "sekunden": "s",
    "seconde": "s", "secondes": "s", "segundo": "s", "segundos": "s", "secondi": "s", "sekunder": "s",
    "seg": "s", '"': "s", "''": "s",
    "ms": "ms", "msec": "ms", "millis": "ms", "milliseconds": "ms",
    "us": "us", "\u03bcs": "us", "usec": "us", "micros": "us", "microseconds": "us",
    "min": "min", "mins": "min", "minute": "min", "minutes": "min", "m": "min", "'": "min", "mn": "min",
    "minuten": "min", "minuto": "min", "minutos": "min", "minuti": "min", "minuter": "min",
    "h": "h", "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "std": "h",
    "stunden": "h", "heures": "h", "horas": "h",
}
_LENGTH_SPELLINGS = {
    "mm": "mm", "cm": "cm", "m": "m", "metre": "m", "metres": "m", "um": "um", "in": "in", '"': "in",
    "inch": "in", "inches": "in", "ft": "ft", "feet": "ft", "foot": "ft", "km": "km",
}

# fmt: on

_NUMBER = r"[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?"
_QUANTITY = re.compile(rf"^\s*({_NUMBER})\s*(.*?)\s*$")
_MINUTES_SECONDS = re.compile(r"^\s*(?:(\d+):)?(\d+):(\d{1,2}(?:[.,]\d+)?)\s*$")
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
    swaps = {
        "\u2212": "-",
        "\u2013": "-",
        "\u2032": "'",
        "\u2019": "'",
        "\u2033": '"',
        "\u201d": '"',
        "\u201c": '"',
        "\u00a0": " ",
        "\u202f": " ",
        "\u2009": " ",
        "\ufeff": "",
    }
    return unicodedata.normalize("NFKC", "".join(swaps.get(c, c) for c in text))


def _squash(text: str) -> str:
    plain = tidy(text).lower().replace("^", "").replace("\u2082", "2").replace("²", "2")
    return re.sub(r"[\s._\-\[\]]+", "", plain).replace("square", "sq").replace("(sq)", "sq")


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


FLOW_PA_M3_S: dict[str, float] = {
    "cm3/min": ATMOSPHERE_PA * 1e-6 / 60.0,
    "cc/min": ATMOSPHERE_PA * 1e-6 / 60.0,
    "mL/min": ATMOSPHERE_PA * 1e-6 / 60.0,
    "L/min": ATMOSPHERE_PA * 1e-3 / 60.0,
    "cm3/s": ATMOSPHERE_PA * 1e-6,
    "L/h": ATMOSPHERE_PA * 1e-3 / 3600.0,
    "Pa m3/s": 1.0,
    "mbar L/s": 0.1,
}


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
