"""The words that sheets and gauges put beside their numbers, by meaning: one vocabulary for all readers.

The words are in vocabulary.toml, by meaning and by language, a shop's own on top. Here they are without capitals
and accents.
"""

from __future__ import annotations

import re
import unicodedata

from leakdown.knowledge import knowledge_table
from leakdown.quantities import tidy

_TABLES = knowledge_table("leakdown", "vocabulary.toml")
_UNITS: dict[str, str] = _TABLES["latin_units"]
_LETTERS: dict[str, str] = _TABLES["latin_letters"]
_UNIT = re.compile(rf"(?<![^\W\d_])(?:{'|'.join(_UNITS)})(?![^\W\d_])")
_LETTER = re.compile(rf"(?<=[(\[,/])(\s*)({'|'.join(_LETTERS)})(?=\s*(?:[)\]]|$))")


def plain(text: str) -> str:
    """Lower case without accents: "Überdruck" -> "uberdruck"."""
    if text.isascii():
        return text.lower()
    folded = tidy(text).lower().replace("ß", "ss").replace("ı", "i")
    bare = "".join(c for c in unicodedata.normalize("NFKD", folded) if not "\u0300" <= c <= "\u036f")
    return unicodedata.normalize("NFC", bare)


def words_of(text: str) -> list[str]:
    """The words of a text, plain, digits kept with their letters: "p1 (kPa)" -> p1, kpa."""
    return re.findall(r"(?:[^\W_]|#)+", plain(text).replace("n°", "no"))


def latin_units(text: str) -> str:
    """A text with its units in Latin letters: "Давление, кПа" -> "Давление, kPa"."""
    if text.isascii():
        return text
    return _LETTER.sub(lambda m: m[1] + _LETTERS[m[2]], _UNIT.sub(lambda m: _UNITS[m[0]], text))


def words(*meanings: str) -> frozenset[str]:
    """All words of some meanings in every language, plain. KeyError for a meaning that the table lacks."""
    return frozenset(plain(word) for meaning in meanings for line in _TABLES[meaning].values() for word in line.split())


def phrases(meaning: str) -> frozenset[str]:
    """All texts of a meaning whose texts have several words, plain."""
    return _phrases(_TABLES[meaning])


def _phrases(languages: dict[str, str]) -> frozenset[str]:
    texts = ";".join(languages.values()).split(";")
    return frozenset(" ".join(re.sub(r"[._-]", " ", plain(text)).split()) for text in texts)


PRESSURE = words("pressure")
VACUUM = words("vacuum")
TEMPERATURE = words("temperature")
BAROMETER = words("barometer")
LOSS = words("loss", "loss_in_headings")
MONTHS = {plain(name): int(number) for number, line in _TABLES["month"].items() for name in line.split()}
KEYS: dict[str, str] = {
    **dict.fromkeys(BAROMETER, "barometer"),
    **dict.fromkeys(TEMPERATURE, "temperature"),
    **{text: name for name, languages in _TABLES["key"].items() for text in _phrases(languages)},
}
"""The condition that a key of the lines around a table names, by the key's plain text."""


def known_key(key: str) -> str | None:
    """The condition that a key names ("Baro." -> "barometer"), or None."""
    return KEYS.get(re.sub(r"[\s.,_-]+", " ", plain(key)).strip())
