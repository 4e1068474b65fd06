"""Keys and values of the lines around a table -> Conditions, engine size, altitude, limit."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from leakdown.circuits import Direction, circuit_named
from leakdown.errors import LeakdownError
from leakdown.physics.air import standard_pressure_pa
from leakdown.quantities import (
    LENGTH_M,
    parse_flow,
    parse_length,
    parse_pressure,
    parse_pressures,
    parse_temperature,
    parse_uncertainty,
    parse_volume,
    pressure_unit,
    split_quantity,
    tidy,
)
from leakdown.recording import Doubt
from leakdown.sheets.before_watch import STEPS, steps_in, steps_of_pair
from leakdown.sheets.preamble import ENGINES, UNIT_IN_KEY
from leakdown.tuned import tuned
from leakdown.vocabulary import known_key, latin_units, plain, words

_T = tuned("sheets")

USED_EXTRA = frozenset({"displacement", "limit", "altitude", "pump", "range", "air_needed", "maker_opens"})
"""Keys without a condition of their own that later steps look up by name."""


@dataclass
class PreambleValues:
    """What preamble lines said so far: values for Conditions, the rest as text, and remarks."""

    values: dict[str, object] = field(default_factory=dict)
    extra: list[tuple[str, str]] = field(default_factory=list)
    remarks: list[str | Doubt] = field(default_factory=list)
    uncertainty: str | None = None
    unit: str | None = None
    absolute: bool = False
    zero: dict[str, str] = field(default_factory=dict)
    steps: list[tuple[str, str]] = field(default_factory=list)

    def left_out(self, text: str) -> None:
        """Remark on something that was not used."""
        self.remarks.append(Doubt("not-used", text))

    def keep(self, key: str, value: str) -> None:
        """Keep a value as text under `key`, the first one said."""
        if key not in dict(self.extra):
            self.extra.append((key, value))


def note_pair(said: PreambleValues, key: str, value: str, strict: bool = False) -> None:
    """Add one pair to `said`. `strict`: an unreadable value of a known key raises, else it is remarked on."""
    match, parts = UNIT_IN_KEY.match(key), split_quantity(value)
    if match and parts and not parts[1]:
        key, value = match.group(1), f"{value} {match.group(2)}"
    name = known_key(key)
    if name is None and (size := engine_size(key, value)) is not None:
        name, value = "displacement", size
    if found := steps_of_pair(name, UNIT_IN_KEY.sub(r"\1", key), value, strict):  # "pump off (yes or no)"
        said.steps += found
        return
    if name is None or name in STEPS:
        said.extra.append((key, value))
        return
    if name in _KEPT_AS_TEXT:
        return _take_text(said, name, key, value)
    if name == "volume":
        value = _apart(said, value)
    if name == "note" and "note" in said.values:
        value = f"{said.values['note']}; {value}"
    elif _CONDITIONS.get(name) in said.values or (name == "unit" and said.unit):
        return
    try:
        _take(said, name, value)
    except LeakdownError as error:
        if strict:
            raise
        if name in ("direction", "circuit"):
            said.extra.append((f"{plain(key)} as written", value))
        else:
            said.left_out(f"{key}: {value!r} was not used ({error.what})")


def _apart(said: PreambleValues, value: str) -> str:
    """The volume of "236 cc +/- 10"; its doubt goes where a line of its own would put it."""
    match = re.fullmatch(r"(.*\S)\s*(?:\+/-|\u00b1)\s*(\d[\d.,]*)\s*(\S*)", tidy(value))
    if match is None:
        return value
    size, doubt, unit = match.groups()
    said.uncertainty = said.uncertainty or f"{doubt} {unit or (split_quantity(size) or (0, ''))[1]}"
    return size


def _take(said: PreambleValues, name: str, value: str) -> None:
    if name == "volume_uncertainty":
        said.uncertainty = value
    elif name in ("zero", "zero_after"):
        said.zero.setdefault(f"{name}_pa", value)
    elif name == "unit":
        said.unit = value if pressure_unit(value) else said.unit
    else:
        said.steps += steps_in(value) if name == "note" else []
        reader = _READERS.get(name)
        said.values[_CONDITIONS[name]] = reader(latin_units(value)) if reader else value


_CONDITIONS = {
    **{name: name for name in ("circuit", "direction", "gauge", "includes", "blocked", "note", "started")},
    **{"volume": "volume_m3", "barometer": "barometer_pa", "temperature": "temperature_k"},
    "resolution": "resolution_pa",
}
_SIZES: dict[str, Callable[[str, str], object]] = {"air_needed": parse_flow, "maker_opens": parse_pressures}
_KEPT_AS_TEXT = frozenset({"displacement", "altitude", "limit", "sea_level", *_SIZES})
NATIVE_KEYS = frozenset(_CONDITIONS) | {"volume_uncertainty", "zero", "zero_after"} | (STEPS - {"watch"})
"""The keys that the project's own recordings must spell right; all others are kept as text."""
_DIRECTIONS: tuple[tuple[Direction, tuple[str, ...]], ...] = (
    ("vacuum", tuple(words("direction_vacuum"))),
    ("pressure", tuple(words("direction_pressure"))),
)


def direction_named(text: str) -> Direction:
    """ "vacuum" or "pressure" of a direction as people name it. Raises LeakdownError."""
    for direction, beginnings in _DIRECTIONS:
        if plain(text).strip().startswith(beginnings):
            return direction
    raise LeakdownError(f"direction {text!r} is neither pressure nor vacuum")


def _barometer(text: str) -> float:
    plainly = re.sub(r"^\s*(1)[, '](\d{3})(?=[^\d])", r"\1\2", tidy(text))  # "1,013 mbar"
    pressure = parse_pressure(plainly, "barometer").value_pa
    if not can_be_barometer(pressure):
        raise LeakdownError(f"barometer {text!r} is outside 30..110 kPa")
    return pressure


def can_be_barometer(pressure_pa: float) -> bool:
    """Whether an absolute pressure can be that of the air somewhere."""
    return bool(_T.least_barometer_pa <= pressure_pa <= _T.most_barometer_pa)


def _resolution(text: str) -> float:
    size = abs(parse_pressure(text.lstrip("±+-/ "), "resolution").value_pa)
    if not 0 < size < _T.coarsest_resolution_pa:
        raise LeakdownError(f"resolution {text!r} is no step of a gauge")
    return size


def _names(text: str) -> tuple[str, ...]:
    return tuple(name for name in (part.strip() for part in text.split(",")) if name)


_READERS: dict[str, Callable[[str], object]] = {
    "circuit": circuit_named,
    "direction": direction_named,
    "volume": lambda text: parse_volume(text, "volume"),
    "barometer": _barometer,
    "temperature": lambda text: parse_temperature(text, "temperature"),
    "resolution": _resolution,
    "includes": _names,
    "blocked": _names,
}


_READS_TO = re.compile(
    r"(?:reads? to|readable to|resol\w*|aufl\w*|graduat\w*(?: (?:of|in|every))?|divisions?(?: of)?|"
    r"least count|to the nearest|teilung|ablesbar auf)\W{0,3}"
    r"((?:\d+(?:[.,]\d+)?|[.,]\d+)\s*[a-z\"'][\w.\"'/ ]{0,12})"
)


def resolution_said(text: str) -> float | None:
    """Pa of "reads to 2 kPa" anywhere in a line, or None."""
    match = _READS_TO.search(plain(text))
    said = match.group(1).split() if match else []
    for size in range(len(said), 0, -1):
        try:
            return _resolution(" ".join(said[:size]).rstrip(".,;)"))
        except LeakdownError:
            continue
    return None


_RESTS = re.compile(
    r"\b(?:rests?|resting|at rest|sits?|sitting|open to (?:the )?air|(?:hose|line) off|vented|ruht|in ruhe|"
    r"offen|drucklos|au repos|a l'?air libre|en reposo|al aire|a riposo)\b"
)
_DIAL = re.compile(r"\b(?:needle|gauge|gage|pointer|dial|meter|zeiger|manometer|aiguille|aguja|lancetta)\b")
_LEVEL = re.compile(r"(?<![\w.,])[-+\u2212]?\s?(?:\d+(?:[.,]\d+)?|[.,]\d+)\s?(?:in\.? ?hg|[a-z][a-z0-9/]*)?")


def zero_said(text: str) -> str | None:
    """The level of "needle rests at -0.5 psi" or "gauge shows 0.3 psi open to air", as text; or None."""
    said = plain(tidy(text))
    if not (_DIAL.search(said) and _RESTS.search(said)):
        return None
    levels = [m.group().replace("\u2212", "-").strip() for m in _LEVEL.finditer(said)]
    sized = [level for level in levels if (parts := split_quantity(level)) and pressure_unit(parts[1])]
    return sized[0] if len(sized) == 1 else None


def zero_levels_pa(
    said: PreambleValues, unit: str, turned: bool, highest_pa: float, told_pa: float | None
) -> dict[str, float]:
    """Zeros before and after, signed as the readings are: a bare number in their `unit`, `turned` with them.

    `told_pa` wins over the sheet for the one before. What is no pressure, or more than half of the highest
    reading, is doubted and left out.
    """
    levels: dict[str, float] = {}
    for name, text in said.zero.items():
        parts = split_quantity(text)
        try:
            level = parse_pressure(f"{text} {unit}" if parts and not parts[1] else text, "zero").value_pa
        except LeakdownError as error:
            said.left_out(f"zero {text!r} was not used ({error.what})")
            continue
        if abs(level) > _T.most_zero_share * highest_pa:
            what = f"zero {text!r} was not used: no gauge rests so far from zero; check it"
            said.remarks.append(Doubt("not-used", what, True))
            continue
        levels[name] = -level if turned else level
    if told_pa is not None:
        levels["zero_pa"] = -told_pa if turned else told_pa
    return levels


def settle(said: PreambleValues, strict: bool = False) -> None:
    """Work out the volume's uncertainty once the volume is known, and a zero that the note tells of."""
    note = said.values.get("note")
    if isinstance(note, str) and not said.zero and (level := zero_said(note)) is not None:
        said.zero["zero_pa"] = level
    volume = said.values.get("volume_m3")
    if said.uncertainty is None or not isinstance(volume, float):
        return
    try:
        said.values["volume_u_m3"] = parse_uncertainty(said.uncertainty, volume)
    except LeakdownError as error:
        if strict:
            raise
        said.left_out(f"volume uncertainty {said.uncertainty!r} was not used ({error.what})")


_ALTITUDE = re.compile(
    r"[~≈]?\s*(?:ca\.?|about|approx\.?)?\s*"
    r"([-+]?\d[\d.,' ]*)\s*(metres?|meters?|mtrs?|m|feet|foot|ft|km|')(?!\w)",
    re.IGNORECASE,
)


def altitude_m(text: str) -> float | None:
    """Metres of "6500 ft", "1500m a.s.l." or "6,500 ft"; None where it cannot be told or cannot be."""
    match = _ALTITUDE.match(tidy(text).strip())
    if match is None:
        return None
    digits, unit = match.group(1).replace(" ", "").replace("'", ""), match.group(2).lower()
    unit = "ft" if unit in ("'", "feet", "foot") else "m" if unit.startswith("m") else unit
    if re.fullmatch(r"[-+]?\d{1,2}[.,]\d{3}", digits):
        if unit == "km":
            return None
        digits = digits.replace(",", "").replace(".", "")  # nobody knows an altitude to the millimetre
    if unit not in LENGTH_M or digits.count(".") + digits.count(",") > 1:
        return None
    size = parse_length(f"{digits.rstrip('.,')} {unit}", "altitude")
    return size if _T.lowest_altitude_m <= size <= _T.highest_altitude_m else None


_ENGINE_SIZE = re.compile(
    r"(?<![\d.,])(\d+(?:[.,]\d+)?)\s*(ccm|cc|cm\u00b3|cm3|cm\^3|cu\.? ?in\.?|ci|in3|ml)(?!\w)", re.IGNORECASE
)
_LIMIT = re.compile(r"\d.*\bin\b.*\d|\d\s*(?:cm3|ccm|cc|ml|l|sccm)\s*/\s*(?:min|s|h)\b", re.IGNORECASE)
_MOST_SHOWN = 6


def _take_text(said: PreambleValues, name: str, key: str, value: str) -> None:
    """Note a displacement, an altitude, a limit and the like as text; the first one said counts."""
    if name == "displacement":
        _displacement(said, key, value)
    elif name == "sea_level":
        said.keep(key, value)
        said.left_out(
            f"{key}: {value!r} is the sea-level figure and was not used: give the station pressure or the altitude"
        )
    elif name == "altitude":
        said.keep("altitude", value)
    elif name in _SIZES:
        try:
            _SIZES[name](value, key)
        except LeakdownError as error:
            return said.left_out(f"{key}: {value!r} was not used ({error.what})")
        said.keep(name, value)
    elif not _LIMIT.search(tidy(value)):
        said.extra.append((key, value))
    else:
        said.keep("limit", re.sub(r"^max(?:imum|\.)?\s+(?=\d)", "", tidy(value)))
        remark = f"limit found in the sheet: {value!r}; analyse takes it unless --limit says otherwise"
        said.remarks.append(remark)


def engine_size(key: str, value: str) -> str | None:
    """ "52 cm3" of "Motor: 52 cm3 two-stroke" (an engine's size, never the volume under test), or None."""
    match = _ENGINE_SIZE.search(tidy(value)) if plain(key).strip(" .") in ENGINES else None
    return f"{match.group(1)} {match.group(2)}" if match else None


def _displacement(said: PreambleValues, key: str, value: str) -> None:
    match = _ENGINE_SIZE.search(tidy(value)) or re.match(r"(\d+(?:[.,]\d+)?)\s*(l|L|litre)\b", tidy(value))
    try:
        size = f"{match.group(1)} {match.group(2)}" if match else value
        parse_volume(size, "displacement")
    except LeakdownError as error:
        said.left_out(f"{key}: {value!r} was not used ({error.what})")
        return
    said.keep("displacement", size)
    said.remarks.append(f"{key} {size}: taken as the engine's displacement, not as the volume under test")


def barometer_from_altitude(said: PreambleValues, given: bool) -> float | None:
    """Pa of the sheet's altitude when no barometer is known (`given`), with a remark on what was done."""
    if (text := dict(said.extra).get("altitude")) is None:
        return None
    if (metres := altitude_m(text)) is None:
        said.left_out(f'altitude {text!r} was not used: write it as in "1500 m" or "6500 ft"')
    elif given:
        said.remarks.append(f"altitude {text!r} was not used: the barometer is given")
    else:
        barometer = standard_pressure_pa(metres)
        taken = f"barometer {barometer / 1e3:.1f} kPa taken from the altitude {text!r}"
        said.remarks.append(f"{taken} (standard atmosphere; the weather adds +/-3 %)")
        return barometer
    return None


def not_used(said: PreambleValues, lines: Iterable[str]) -> list[Doubt]:
    """One doubt that names the lines and keys around the table that nothing was made of, or none."""
    unused = [(k, v) for k, v in said.extra if k not in USED_EXTRA and known_key(k) != "sea_level"]
    kept = [f"{key}: {value}" for key, value in unused]
    names = [repr(" ".join(text.split())[:60]) for text in dict.fromkeys([*kept, *lines]) if text.strip()]
    more = f" and {len(names) - _MOST_SHOWN} more" if len(names) > _MOST_SHOWN else ""
    return [Doubt("not-used", f"not used: {', '.join(names[:_MOST_SHOWN])}{more}")] if names else []
