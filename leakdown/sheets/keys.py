"""The keys of the lines around a table, as people write them, and the conditions that they name.

Common usage in workshops; no printed source. Keys are compared without accents, signs and capitals.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from leakdown.sheets.words import plain

USED_EXTRA = frozenset({"displacement", "limit", "altitude", "pump", "range"})
"""Keys without a condition of their own that later steps look up by name."""


@dataclass
class PreambleValues:
    """What preamble lines said so far: values for Conditions, the rest as text, and remarks."""

    values: dict[str, object] = field(default_factory=dict)
    extra: list[tuple[str, str]] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    uncertainty: str | None = None
    unit: str | None = None
    absolute: bool = False

    def keep(self, key: str, value: str) -> None:
        """Keep a value as text under `key`, the first one said."""
        if key not in dict(self.extra):
            self.extra.append((key, value))


_DISPLACEMENT = (
    "displacement",
    "engine displacement",
    "engine volume",
    "engine size",
    "engine capacity",
    "cubic capacity",
    "swept volume",
    "swept",
    "cylinder volume",
    "cylinder capacity",
    "hubraum",
    "hubvolumen",
    "motorvolumen",
    "zylindervolumen",
    "cylindree",
    "cilindrada",
    "cilindrata",
    "slagvolume",
    "slagvolym",
    "cilinderinhoud",
)
_ALTITUDE = (
    "altitude",
    "elevation",
    "height above sea level",
    "hohe",
    "meereshohe",
    "hohe uber meer",
    "hohe u m",
    "seehohe",
    "ortshohe",
    "altitud",
    "altitudine",
    "altura",
    "hoogte",
)
_LIMIT = (
    "limit",
    "test limit",
    "leak limit",
    "pressure limit",
    "vacuum limit",
    "decay limit",
    "limit value",
    "grenzwert",
    "max loss",
    "max drop",
    "maximum loss",
    "maximum drop",
    "allowed loss",
    "allowed drop",
    "permitted loss",
    "limite",
)


ENGINES = frozenset(
    {"engine", "motor", "moteur", "motore", "saw", "machine", "maschine", "engine type", "sage", "trimmer"}
)
"""Keys that name the engine; a size behind them is its displacement."""


def _all_as(name: str, *keys: str) -> dict[str, str]:
    return {key: name for key in keys}


KEYS: dict[str, str] = {
    "circuit": "circuit",
    "test circuit": "circuit",
    "kreis": "circuit",
    "direction": "direction",
    "test direction": "direction",
    "test type": "direction",
    "test": "direction",
    "mode": "direction",
    "richtung": "direction",
    "volume": "volume",
    "vol": "volume",
    "volumen": "volume",
    "test volume": "volume",
    "volume under test": "volume",
    "volume uncertainty": "volume_uncertainty",
    "barometer": "barometer",
    "baro": "barometer",
    "barometric pressure": "barometer",
    "atmospheric pressure": "barometer",
    "ambient pressure": "barometer",
    "station pressure": "barometer",
    "luftdruck": "barometer",
    "pression atmospherique": "barometer",
    "presion atmosferica": "barometer",
    "qfe": "barometer",
    "atmosphere": "barometer",
    "ambient": "barometer",
    "barometre": "barometer",
    "barometro": "barometer",
    "temperature": "temperature",
    "temp": "temperature",
    "room temperature": "temperature",
    "room temp": "temperature",
    "ambient temperature": "temperature",
    "ambient temp": "temperature",
    "temperatur": "temperature",
    "raumtemperatur": "temperature",
    "air temp": "temperature",
    "air temperature": "temperature",
    "gas temperature": "temperature",
    "temperatura": "temperature",
    "gauge": "gauge",
    "instrument": "gauge",
    "manometer": "gauge",
    "gage": "gauge",
    "resolution": "resolution",
    "gauge resolution": "resolution",
    "auflosung": "resolution",
    "reads to": "resolution",
    "includes": "includes",
    "sections": "includes",
    "blocked": "blocked",
    "blanked": "blocked",
    "note": "note",
    "notes": "note",
    "remark": "note",
    "remarks": "note",
    "comment": "note",
    "started": "started",
    "start time": "started",
    "date": "started",
    "datum": "started",
    "unit": "unit",
    "units": "unit",
    "pressure unit": "unit",
    "pressure units": "unit",
    "einheit": "unit",
    "unite": "unit",
    **_all_as(
        "barometer",
        "umgebungsdruck",
        "umgebungsluftdruck",
        "atmospharendruck",
        "atmospharischer druck",
        "barometerstand",
        "stationsdruck",
        "barometer reading",
        "barometric",
        "local barometer",
        "pression ambiante",
        "pression barometrique",
        "presion ambiente",
        "presion barometrica",
        "pressione atmosferica",
        "pressao atmosferica",
        "lufttryck",
        "lufttrykk",
        "luchtdruk",
        "ilmanpaine",
    ),
    **_all_as("volume", "total volume", "volume total", "prufvolumen", "testvolumen", "gesamtvolumen", "v"),
    **_all_as("displacement", *_DISPLACEMENT),
    **_all_as("altitude", *_ALTITUDE),
    **_all_as("limit", *_LIMIT),
    **_all_as("sea_level", "qnh", "sea level pressure", "barometer (sea level)", "barometer sea level"),
}


def known_key(key: str) -> str | None:
    """The condition that a key names ("Baro." -> "barometer"), or None."""
    return KEYS.get(re.sub(r"[\s._-]+", " ", plain(key)).strip())
