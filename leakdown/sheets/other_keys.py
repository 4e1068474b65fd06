"""What a head says beyond the common conditions: engine size, altitude, limit; and what was not used."""

from __future__ import annotations

import re
from collections.abc import Iterable

from leakdown.errors import LeakdownError
from leakdown.quantities import LENGTH_M, parse_length, parse_volume, tidy
from leakdown.sheets.keys import ENGINES, USED_EXTRA, PreambleValues, known_key
from leakdown.sheets.words import plain

LOWEST_M, HIGHEST_M = -500.0, 6000.0
_SIZE = re.compile(
    r"[~≈]?\s*(?:ca\.?|about|approx\.?)?\s*"
    r"([-+]?\d[\d.,' ]*)\s*(metres?|meters?|mtrs?|m|feet|foot|ft|km|')(?!\w)",
    re.IGNORECASE,
)


def altitude_m(text: str) -> float | None:
    """Metres of "6500 ft", "1500m a.s.l." or "6,500 ft"; None where it cannot be told or cannot be."""
    match = _SIZE.match(tidy(text).strip())
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
    return size if LOWEST_M <= size <= HIGHEST_M else None


def barometer_at_pa(altitude_m: float) -> float:
    """Standard-atmosphere pressure, Pa absolute, at a geometric altitude up to 11 000 m.

    U.S. Standard Atmosphere 1976 eq. 33a with the geopotential altitude of eq. 18; the weather adds +/-3 %.
    The reader stands below the physics, so the law stands here once more; a test compares the two.
    """
    geopotential_m = 6_356_766.0 * altitude_m / (6_356_766.0 + altitude_m)
    return float(101_325.0 * (1.0 - 0.0065 * geopotential_m / 288.15) ** 5.255877)


_ENGINE_SIZE = re.compile(
    r"(?<![\d.,])(\d+(?:[.,]\d+)?)\s*(ccm|cc|cm\u00b3|cm3|cm\^3|cu\.? ?in\.?|ci|in3|ml)(?!\w)", re.IGNORECASE
)
_LIMIT = re.compile(r"\d.*\bin\b.*\d|\d\s*(?:cm3|ccm|cc|ml|l|sccm)\s*/\s*(?:min|s|h)\b", re.IGNORECASE)
_MOST_SHOWN = 6


def take_other(said: PreambleValues, name: str, key: str, value: str) -> None:
    """Note a displacement, an altitude, a limit or a sea-level barometer; the first one said counts."""
    if name == "displacement":
        _displacement(said, key, value)
    elif name == "sea_level":
        said.keep(key, value)
        said.remarks.append(
            f"{key}: {value!r} is the sea-level figure and was not used: give the station pressure "
            "or the altitude"
        )
    elif name == "altitude":
        said.keep("altitude", value)
    elif not _LIMIT.search(tidy(value)):
        said.extra.append((key, value))
    else:
        said.keep("limit", re.sub(r"^max(?:imum|\.)?\s+(?=\d)", "", tidy(value)))
        said.remarks.append(
            f"limit found in the sheet: {value!r}; analyse takes it unless --limit says otherwise"
        )


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
        said.remarks.append(f"{key}: {value!r} was not used ({error.what})")
        return
    said.keep("displacement", size)
    said.remarks.append(f"{key} {size}: taken as the engine's displacement, not as the volume under test")


def barometer_from_altitude(said: PreambleValues, given: bool) -> float | None:
    """Pa of the sheet's altitude when no barometer is known (`given`), with a remark on what was done."""
    text = dict(said.extra).get("altitude")
    if text is None:
        return None
    metres = altitude_m(text)
    if metres is None:
        said.remarks.append(f'altitude {text!r} was not used: write it as in "1500 m" or "6500 ft"')
        return None
    if given:
        said.remarks.append(f"altitude {text!r} was not used: the barometer is given")
        return None
    barometer = barometer_at_pa(metres)
    said.remarks.append(
        f"barometer {barometer / 1e3:.1f} kPa taken from the altitude {text!r} (standard atmosphere; the "
        "weather adds +/-3 %)"
    )
    return barometer


def not_used(said: PreambleValues, lines: Iterable[str]) -> str | None:
    """One remark that names the lines and keys around the table that nothing was made of, or None."""
    kept = [
        f"{key}: {value}"
        for key, value in said.extra
        if key not in USED_EXTRA and known_key(key) != "sea_level"
    ]
    names = [repr(" ".join(text.split())[:60]) for text in dict.fromkeys([*kept, *lines]) if text.strip()]
    if not names:
        return None
    more = f" and {len(names) - _MOST_SHOWN} more" if len(names) > _MOST_SHOWN else ""
    return f"not used: {', '.join(names[:_MOST_SHOWN])}{more}"
