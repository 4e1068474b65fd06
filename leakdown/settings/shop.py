"""What the shop has set, read: text as kept, and the same in SI. Nothing set is a value of its own: None."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from leakdown.errors import UsageError
from leakdown.physics.air import standard_pressure_pa
from leakdown.settings.keys import KEYS, NAMES, Checks, key_named, key_of, near
from leakdown.settings.kinds import Value, shortened
from leakdown.shop_files import Keys, leaves, parsed, settings_path, source, spelled


@dataclass(frozen=True)
class ShopSettings:
    """The settings in force. `texts`: (dotted name, text as written) of those that are set and readable.

    `path` is where they are kept, whether there is a file or not; `warnings` say what in it does not count.
    """

    path: Path
    texts: tuple[tuple[str, str], ...] = ()
    warnings: tuple[str, ...] = ()

    def text(self, name: str) -> str | None:
        """A setting by its dotted name, as written."""
        return dict(self.texts).get(name)

    def _value(self, name: str) -> Value | None:
        text, key = self.text(name), key_of(name)
        return None if text is None or key is None else key.value(text, name)

    def _number(self, name: str) -> float | None:
        return cast("float | None", self._value(name))

    def _words(self, name: str) -> str | None:
        return cast("str | None", self._value(name))

    def _folder(self, name: str) -> Path | None:
        return cast("Path | None", self._value(name))

    @property
    def unit(self) -> str | None:
        """Pressure unit for showing, in its usual spelling; no sheet is ever read by it."""
        return self._words("unit")

    @property
    def barometer_pa(self) -> float | None:
        """Air pressure at the bench, Pa absolute: as set, else by the altitude (weather +/-3 %)."""
        if self.text("barometer") is None and self.altitude_m is not None:
            return standard_pressure_pa(self.altitude_m)
        return self._number("barometer")

    @property
    def altitude_m(self) -> float | None:
        """Height above sea level, m."""
        return self._number("altitude")

    @property
    def temperature_k(self) -> float | None:
        """Of engine and room, K."""
        return self._number("temperature")

    @property
    def gauge(self) -> str | None:
        """Gauge profile, a name or a file's whole path."""
        return self._words("gauge")

    @property
    def port(self) -> str | None:
        """Serial port of the gauge."""
        return self._words("port")

    @property
    def resolution_pa(self) -> float | None:
        """Smallest step read off the gauge, Pa."""
        return self._number("resolution")

    @property
    def rig(self) -> str | None:
        """Name of the rig whose own leak is taken off."""
        return self._words("rig")

    @property
    def rigs(self) -> Path | None:
        """Folder with the rigs."""
        return self._folder("rigs")

    @property
    def jobs(self) -> Path | None:
        """Folder with the job records."""
        return self._folder("jobs")

    @property
    def shop(self) -> str | None:
        """Name of the shop."""
        return self._words("shop")

    @property
    def mechanic(self) -> str | None:
        """Who tests."""
        return self._words("mechanic")

    @property
    def pump_stroke_m3(self) -> float | None:
        """Air that one stroke of the hand pump moves, m3."""
        return self._number("pump_stroke")

    @property
    def air_needed_m3_s(self) -> float | None:
        """Air that a tank's vent must let in, m3/s at 20 degC and 101.325 kPa."""
        return self._number("air_needed")

    def limit_text(self, circuit: str, direction: str) -> str | None:
        """The shop's limit of a circuit and direction, as written."""
        return self.text(f"limit.{circuit}.{direction}")

    def volume_text(self, circuit: str) -> str | None:
        """The usual volume of a circuit, as written."""
        return self.text(f"volume.{circuit}")

    def volume_m3(self, circuit: str) -> float | None:
        """The usual volume of a circuit, m3."""
        return self._number(f"volume.{circuit}")


def read_settings(path: Path | None = None, checks: Checks | None = None) -> ShopSettings:
    """The settings in `path`, else where the user's are; none without a file. Raises InputError.

    What is unknown or unreadable in it warns and does not count. `checks` go further than this module can:
    {"limit": parse_limit} also reads the limits.
    """
    at = settings_path() if path is None else path
    tables = parsed(source(at), at)
    found: dict[str, str] = {}
    warnings = ["is a link to nowhere; nothing is set"] if at.is_symlink() and not at.exists() else []
    for keys, value in leaves(tables):
        warnings += _taken(found, keys, value, checks)
    warnings += _rivals(found)
    texts = tuple((name, found[name]) for name in NAMES if name in found)
    return ShopSettings(at, texts, tuple(f"{at}: {text}" for text in warnings))


def _taken(found: dict[str, str], keys: Keys, value: Any, checks: Checks | None) -> Iterator[str]:
    """Put a value of the file into `found`, or say why it does not count."""
    name = ".".join(keys)
    key = key_of(name) if all("." not in part for part in keys) else None
    if isinstance(value, dict) and not value:
        return
    if key is None:
        yield _unknown(keys)
    elif not isinstance(value, str):
        quoted = f'write it in quotes, such as {name} = "{key.example}"'
        yield f"{name} does not count: {shortened(value)} is no text; {quoted}"
    else:
        try:
            key.value(value, name, checks)
            found[name] = value.strip()
        except UsageError as error:
            yield f"{name} does not count: {error.what.removeprefix(f'{name}: ')}"


def _unknown(keys: Keys) -> str:
    name = spelled(keys)
    try:
        close = [key_named(name)[1]]
    except UsageError:
        close = near(name)
    hint = f" (near: {' or '.join(close)})" if close else ""
    return f"{name} is no setting of this version and is left alone{hint}"


def _rivals(found: dict[str, str]) -> Iterator[str]:
    """Of two settings that exclude each other the first in the table counts."""
    for key in KEYS:
        other = key.instead_of
        if other in found and key.name in found and other is not None:
            yield f"{key.name} and {other} are both set; {key.name} counts"
            del found[other]
