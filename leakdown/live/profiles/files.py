"""Gauge profiles from small TOML files, every key checked: where they are looked for; users add their own."""

from __future__ import annotations

import os
import re
import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

from leakdown.disk import plain_bytes
from leakdown.errors import UsageError
from leakdown.live.profiles.modbus_frames import REGISTER_TYPES, Register
from leakdown.live.profiles.profile import AUTO, Columns, Framing, Profile, checked_points
from leakdown.quantities import PressureUnit, pressure_unit, time_unit_s
from leakdown.shop_files import user_folder

_KEYS = {
    "": "about mode unit reference pattern no_reading scale offset calibration checksum time_unit "
    "columns serial poll modbus",
    "columns": "separator pressure time temperature count",
    "serial": "baud bits parity stop end",
    "poll": "command interval_s",
    "modbus": "unit_id function register type words interval_s",
}


_MOST_BYTES = 200_000


def read_profile(path: Path) -> Profile:
    """A profile from its file. Raises UsageError that names the file, the key and the cure."""
    try:
        data = tomllib.loads(plain_bytes(path, _MOST_BYTES).decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:  # ValueError: no TOML, no text, an integer without end
        why = _shown(error) or "no plain file of a reasonable size"
        raise UsageError(f"cannot read this gauge profile: {why}", where=str(path)) from error
    try:
        return _profile(path, data)
    except (KeyError, TypeError, ValueError, OverflowError, re.error) as error:
        raise UsageError(
            f"gauge profile: {_shown(error)}", where=str(path), remedy="See profiles/README.md."
        ) from error


def _shown(error: Exception) -> str:
    """An error on one line, however much of the file it quotes."""
    text = "".join(char if char.isprintable() else "?" for char in str(error))
    return text if len(text) <= 200 else f"{text[:200]}..."


def _profile(path: Path, data: dict[str, Any]) -> Profile:
    _check_keys(data)
    mode: Any = data.get("mode", "stream")
    if mode not in ("stream", "poll", "modbus"):
        raise ValueError(f"mode {mode!r} is none of stream, poll, modbus")
    poll, bus = data.get("poll", {}), data.get("modbus", {})
    pattern = re.compile(data["pattern"]) if "pattern" in data else None
    if pattern is not None and "pressure" not in pattern.groupindex:
        raise ValueError("the pattern has no group (?P<pressure>...)")
    if mode == "poll" and not poll.get("command"):
        raise ValueError("mode poll needs [poll] command")
    return Profile(
        name=path.name.removesuffix(".toml"),
        about=str(data.get("about", "")),
        mode=mode,
        unit=_unit(data.get("unit")),
        absolute=_one_of(data["reference"], ("gauge", "absolute")) == "absolute" if "reference" in data else None,
        pattern=pattern,
        columns=_columns(data["columns"]) if "columns" in data else None,
        no_reading=re.compile(data["no_reading"]) if "no_reading" in data else None,
        checksum=_one_of(data.get("checksum", ""), ("", "xor")),
        time_unit_s=_time_unit(data.get("time_unit", "ms")),
        scale=float(data.get("scale", 1.0)),
        offset=float(data.get("offset", 0.0)),
        calibration=checked_points(data["calibration"], str(path)) if "calibration" in data else (),
        framing=_framing(data.get("serial", {})),
        command=str(poll.get("command", "")).encode("latin-1"),
        interval_s=_positive(poll.get("interval_s", bus.get("interval_s", 0.1)), "interval_s"),
        register=_register(bus) if mode == "modbus" else None,
        source=str(path),
    )


def _check_keys(data: dict[str, Any]) -> None:
    for table, known in _KEYS.items():
        part = data if not table else data.get(table, {})
        if not isinstance(part, dict):
            raise TypeError(f"[{table}] is not a table")
        for key in part:
            if key not in known.split():
                place = f" in [{table}]" if table else ""
                raise ValueError(f"unknown key {key!r}{place}; known: {', '.join(sorted(known.split()))}")


def _unit(text: str | None) -> PressureUnit | None:
    if text is not None and not isinstance(text, str):
        raise TypeError(f"unit = {text!r} is no text")
    unit = pressure_unit(text) if text is not None else None
    if text is not None and unit is None:
        raise ValueError(f"unknown pressure unit {text!r}")
    return unit


def _one_of(text: str, allowed: tuple[str, ...]) -> str:
    if text not in allowed:
        raise ValueError(f"{text!r} is none of {', '.join(repr(a) for a in allowed)}")
    return text


def _time_unit(text: str) -> float:
    unit = time_unit_s(str(text))
    if unit is None:
        raise ValueError(f"unknown time unit {text!r}")
    return unit


def _positive(value: float, name: str) -> float:
    if not float(value) > 0:
        raise ValueError(f"{name} must be above zero")
    return float(value)


def _columns(table: dict[str, Any]) -> Columns:
    def place(key: str) -> int | None:
        if key not in table:
            return None
        if int(table[key]) < 1:
            raise ValueError(f"columns are counted from 1: {key} = {table[key]}")
        return int(table[key]) - 1

    pressure = place("pressure")
    if pressure is None:
        raise ValueError("[columns] needs pressure")
    return Columns(str(table.get("separator", ",")), pressure, table.get("count"), place("time"), place("temperature"))


def _framing(table: dict[str, Any]) -> Framing:
    baud, bits, stop = int(table.get("baud", 115_200)), int(table.get("bits", 8)), float(table.get("stop", 1))
    parity = _one_of(str(table.get("parity", "N")), ("N", "E", "O", "M", "S"))
    end = str(table.get("end", "\n"))
    return Framing(baud, bits, parity, stop, None if end in ("\r\n", "\n", "\r") else end.encode("latin-1"))


def _register(table: dict[str, Any]) -> Register:
    kind = _one_of(table.get("type", "int16"), tuple(REGISTER_TYPES))
    words = _one_of(table.get("words", "high-first"), ("high-first", "low-first"))
    function = int(table.get("function", 4))
    if function not in (3, 4):
        raise ValueError("function must be 3 (holding registers) or 4 (input registers)")
    return Register(int(table.get("unit_id", 1)), function, int(table["register"]), kind, words == "low-first")


FOLDER_VARIABLE = "LEAKDOWN_GAUGES"


def profile_named(name: str) -> Profile:
    """The profile `name`, or the one in the file that `name` is the path of. Raises UsageError."""
    if name == "auto":
        return AUTO
    if name.endswith(".toml"):
        return read_profile(Path(name))
    files = _files()
    if name in files:
        return read_profile(files[name])
    known = ", ".join(["auto", *sorted(files)])
    raise UsageError(f"no gauge profile {name!r}", remedy=f"Known: {known}. Your own go to {own_folder()}.")


def profiles() -> list[Profile]:
    """Every profile that can be used, `auto` first. Raises UsageError for a damaged one."""
    return [AUTO, *(read_profile(path) for _, path in sorted(_files().items()))]


def own_folder() -> Path:
    """Where a user's own profiles are looked for."""
    if given := os.environ.get(FOLDER_VARIABLE):
        return Path(given)
    return user_folder("config") / "gauges"


def _files() -> dict[str, Path]:
    """Each profile's file by its name; the user's own win."""
    bundled = Path(str(resources.files("leakdown.live.profiles")))
    return {path.name[:-5]: path for folder in (bundled, own_folder()) for path in folder.glob("*.toml")}
