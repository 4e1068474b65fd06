"""What the lines around a table said, collected before it becomes the Conditions of a Recording."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from leakdown.circuits import Direction, circuit_named
from leakdown.errors import LeakdownError
from leakdown.quantities import (
    parse_pressure,
    parse_temperature,
    parse_uncertainty,
    parse_volume,
    pressure_unit,
    split_quantity,
    tidy,
)
from leakdown.sheets.keys import ENGINES, PreambleValues, known_key
from leakdown.sheets.other_keys import engine_size, take_other
from leakdown.sheets.words import plain

_SIZE = r"[-+]?\d[\d.,]*\s*(?:\u00b0\s?[cf]\b|['\"]|[a-z][^\s,;()]*)(?:\s?hg\b)?"
_DOUBT = r"(?:\s*(?:\+/-|\u00b1)\s*\d[\d.,]*\s*(?:%|[a-z][^\s,;()]*)?)?"
_KEY_AND_SIZE = re.compile(
    rf"(?<!\w)([^\W\d_][^\d:=;,()]{{0,40}}?)[\s.]+(?:(?:is|was|of|at|ca|about|approx)\.?\s+)?({_SIZE}{_DOUBT})",
    re.IGNORECASE,
)
_LIMIT = re.compile(r"\W*(limit|test limit|leak limit|grenzwert)\s+(\d.*)", re.IGNORECASE)
_WITH_A_SIZE = frozenset(
    {"barometer", "volume", "temperature", "displacement", "altitude", "sea_level", "resolution"}
)
_FILLERS = frozenset(
    {"the", "and", "with", "at", "by", "in", "on", "our", "a", "cold", "dry", "warm", "day", "today", "room"}
    | {
        "workshop",
        "shop",
        "measured",
        "local",
        "station",
        "und",
        "bei",
        "mit",
        "am",
        "im",
        "der",
        "die",
        "das",
    }
)
_SEA_LEVEL = frozenset({"sea", "level", "reduced", "qnh", "nn", "msl"})


def loose_size_pairs(text: str) -> list[tuple[str, str]]:
    """(key, value) of known keys with a number behind them; "oil temperature 90 C" is no known key."""
    text = tidy(text)
    limit = _LIMIT.fullmatch(text.strip())
    if limit:
        return [(limit.group(1), limit.group(2))]
    found = [(_named(key), size.rstrip(".,;)")) for key, size in _KEY_AND_SIZE.findall(text)]
    return [(key, size) for key, size in found if key is not None]


def left_over(text: str) -> str:
    """What a line says besides its known keys and their sizes, where numbers are left in it; else ""."""
    if _LIMIT.fullmatch(text.strip()):
        return ""
    rest = _KEY_AND_SIZE.sub(lambda match: "" if _named(match.group(1)) else match.group(0), tidy(text))
    return rest.strip(" ,;.") if any(c.isdigit() for c in rest) else ""


def _named(key: str) -> str | None:
    """The part of `key` that is a known key, or None where a word before it makes it something else."""
    words = key.strip(" .").split()
    for start in range(len(words)):
        before = {plain(word).strip(".,-") for word in words[:start]}
        rest = " ".join(words[start:])
        name = known_key(rest)
        if name is None and plain(rest) in ENGINES and not before - _FILLERS:
            return rest
        if name not in _WITH_A_SIZE or len(rest) < 2:
            continue
        if name == "barometer":
            return "sea level pressure" if before & _SEA_LEVEL else rest
        return rest if not before - _FILLERS else None
    return None


_PAIR = re.compile(r"\W*([^\W\d][^:=;\t]{0,40}?)\s*[:=]\s*(\S.*)", re.DOTALL)
_UNIT_IN_KEY = re.compile(r"^(.*?)\s*[(\[]([^)\]]+)[)\]]\s*$")
_IN_UNIT = re.compile(r"(?:\bin|\bunits?|\beinheit(?:en)?)\s+(\S+(?:\s\S+)?)\s*$", re.IGNORECASE)
_NEXT_PAIR = re.compile(r"[,;]\s*(?=[A-Za-z_ ]{3,20}[:=])")
_READS_TO = re.compile(
    r"(?:reads? to|readable to|resol\w*|aufl\w*|graduat\w*(?: (?:of|in|every))?|divisions?(?: of)?|"
    r"least count|"
    r"to the nearest|teilung|ablesbar auf)\W{0,3}((?:\d+(?:[.,]\d+)?|[.,]\d+)\s*[a-z\"'][\w.\"'/ ]{0,12})"
)


def pairs(text: str) -> list[tuple[str, str]]:
    """(key, value) pairs of one line, keys as written: "Temp: 21 C" -> [("Temp", "21 C")]."""
    found = [_PAIR.fullmatch(piece) for piece in _NEXT_PAIR.split(text.strip())]
    return [(match.group(1).strip(), match.group(2).strip().rstrip(",; ")) for match in found if match]


def loose_pairs(text: str) -> list[tuple[str, str]]:
    """(key, value) of words without a colon: "cold, barometer 1006 mbar"."""
    return [] if pairs(text) else loose_size_pairs(text)


def unit_said(text: str) -> str | None:
    """The unit of a title such as "all readings in psi", or None."""
    match = _IN_UNIT.search(tidy(text).rstrip(" .,;)"))
    if match is None or any(c.isdigit() for c in text[: match.start()]):
        return None
    return next(
        (piece for piece in (match.group(1), match.group(1).split()[0]) if pressure_unit(piece)), None
    )


def row_pairs(cells: Iterable[str]) -> list[tuple[str, str]]:
    """Pairs of a row that stands outside the table, "Barometer;1006;mbar" included."""
    texts = [text for text in cells if text.strip()]
    found = [pair for text in texts for pair in pairs(text)]
    if found or len(texts) < 2:
        return found
    starts = [i for i, text in enumerate(texts) if _bare_key(text)]
    if not starts or starts[0] != 0:
        return []
    ends = [*starts[1:], len(texts)]
    return [
        (texts[i].strip().rstrip(":=").strip(), " ".join(part.strip() for part in texts[i + 1 : end]))
        for i, end in zip(starts, ends, strict=True)
        if end > i + 1
    ]


def _bare_key(text: str) -> bool:
    key = text.strip().rstrip(":=").strip()
    match = _UNIT_IN_KEY.match(key)
    return known_key(match.group(1) if match else key) is not None


def note_pair(said: PreambleValues, key: str, value: str, strict: bool = False) -> None:
    """Add one pair to `said`. `strict`: an unreadable value of a known key raises, else it is remarked on."""
    match = _UNIT_IN_KEY.match(key)
    if match and split_quantity(value) and not (split_quantity(value) or (0, ""))[1]:
        key, value = match.group(1), f"{value} {match.group(2)}"
    name = known_key(key)
    size = engine_size(key, value) if name is None else None
    if size is not None:
        name, value = "displacement", size
    if name is None:
        said.extra.append((key, value))
        return
    if name in OTHER:
        take_other(said, name, key, value)
        return
    if name == "volume":
        value = _apart(said, value)
    if name == "note" and "note" in said.values:
        value = f"{said.values['note']}; {value}"
    elif CONDITION.get(name) in said.values or (name == "unit" and said.unit):
        return
    try:
        _take(said, name, value)
    except LeakdownError as error:
        if strict:
            raise
        if name in ("direction", "circuit"):
            said.extra.append((f"{plain(key)} as written", value))
        else:
            said.remarks.append(f"{key}: {value!r} was not used ({error.what})")


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
    elif name == "unit":
        said.unit = value if pressure_unit(value) else said.unit
    else:
        said.values[CONDITION[name]] = _READERS.get(name, str)(value)


CONDITION = {
    "circuit": "circuit",
    "direction": "direction",
    "volume": "volume_m3",
    "barometer": "barometer_pa",
    "temperature": "temperature_k",
    "gauge": "gauge",
    "resolution": "resolution_pa",
    "includes": "includes",
    "blocked": "blocked",
    "note": "note",
    "started": "started",
}


OTHER = frozenset({"displacement", "altitude", "limit", "sea_level"})

OWN_KEYS = frozenset(CONDITION) | {"volume_uncertainty"}
"""The keys that an own recording must spell right; all others are kept as text."""


def direction_named(text: str) -> Direction:
    """ "vacuum" or "pressure" of a direction as people name it. Raises LeakdownError."""
    first = plain(text).strip()
    if re.match(r"(vac|vak|neg|suction|unterdruck|depress|vide|under|vuoto)", first):
        return "vacuum"
    if re.match(r"(press?|pos|druck|uberdruck|ueberdruck|over|boost)", first):
        return "pressure"
    raise LeakdownError(f"direction {text!r} is neither pressure nor vacuum")


def _barometer(text: str) -> float:
    pressure = parse_pressure(_comma_free(text), "barometer").value_pa
    if not 30e3 <= pressure <= 110e3:
        raise LeakdownError(f"barometer {text!r} is outside 30..110 kPa")
    return pressure


def _comma_free(text: str) -> str:
    """A quantity with a thousands comma or blank ("1,013 mbar") written plainly."""
    return re.sub(r"^\s*(1)[, '](\d{3})(?=[^\d])", r"\1\2", tidy(text))


def _resolution(text: str) -> float:
    size = abs(parse_pressure(text.lstrip("±+-/ "), "resolution").value_pa)
    if not 0 < size < 1e6:
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


def resolution_said(text: str) -> float | None:
    """Pa of "reads to 2 kPa" anywhere in a line, or None."""
    match = _READS_TO.search(plain(tidy(text)))
    if not match:
        return None
    words = match.group(1).split()
    for size in range(len(words), 0, -1):
        try:
            return _resolution(" ".join(words[:size]).rstrip(".,;)"))
        except LeakdownError:
            continue
    return None


def settle(said: PreambleValues, strict: bool = False) -> None:
    """Work out the volume's uncertainty once the volume is known."""
    volume = said.values.get("volume_m3")
    if said.uncertainty is None or not isinstance(volume, float):
        return
    try:
        said.values["volume_u_m3"] = parse_uncertainty(said.uncertainty, volume)
    except LeakdownError as error:
        if strict:
            raise
        said.remarks.append(f"volume uncertainty {said.uncertainty!r} was not used ({error.what})")
