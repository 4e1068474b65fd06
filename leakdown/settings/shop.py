"""What the shop has set, read: text as kept, and the same in SI. Nothing set is a value of its own: None."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar, cast

from leakdown.errors import UsageError
from leakdown.physics.air import standard_pressure_pa
from leakdown.settings.keys import KEYS, NAMES, Checks, key_named, key_of, near
from leakdown.settings.kinds import shortened
from leakdown.shop_files import Keys, leaves, parsed, settings_path, source, spelled

V = TypeVar("V")


class _Setting(Generic[V]):
    """A setting of `ShopSettings` by its dotted name, in SI; None where nothing is set."""

    def __init__(self, name: str, means: str = "") -> None:
        self._name, self.__doc__ = name, means

    def of(self, shop: ShopSettings) -> V | None:
        text, key = shop.text(self._name), key_of(self._name)
        return None if text is None or key is None else cast(V, key.value(text, self._name))

    def __get__(self, shop: ShopSettings, owner: type[ShopSettings]) -> V | None:
        return self.of(shop)


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

    unit = _Setting[str]("unit", "Pressure unit for showing, in its usual spelling; no sheet is ever read by it.")
    altitude_m = _Setting[float]("altitude", "Height above sea level, m.")
    temperature_k = _Setting[float]("temperature", "Of engine and room, K.")
    gauge = _Setting[str]("gauge", "Gauge profile, a name or a file's whole path.")
    port = _Setting[str]("port", "Serial port of the gauge.")
    resolution_pa = _Setting[float]("resolution", "Smallest step read off the gauge, Pa.")
    rig = _Setting[str]("rig", "Name of the rig whose own leak is taken off.")
    rigs = _Setting[Path]("rigs", "Folder with the rigs.")
    jobs = _Setting[Path]("jobs", "Folder with the job records.")
    shop = _Setting[str]("shop", "Name of the shop.")
    mechanic = _Setting[str]("mechanic", "Who tests.")
    pump_stroke_m3 = _Setting[float]("pump_stroke", "Air that one stroke of the hand pump moves, m3.")
    air_needed_m3_s = _Setting[float]("air_needed", "Air that a tank's vent must let in, m3/s at 20 degC, 101.325 kPa.")

    @property
    def barometer_pa(self) -> float | None:
        """Air pressure at the bench, Pa absolute: as set, else by the altitude (weather +/-3 %)."""
        if self.text("barometer") is None and self.altitude_m is not None:
            return standard_pressure_pa(self.altitude_m)
        return _Setting[float]("barometer").of(self)

    def limit_text(self, circuit: str, direction: str) -> str | None:
        """The shop's limit of a circuit and direction, as written."""
        return self.text(f"limit.{circuit}.{direction}")

    def volume_m3(self, circuit: str) -> float | None:
        """The usual volume of a circuit, m3."""
        return _Setting[float](f"volume.{circuit}").of(self)


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
