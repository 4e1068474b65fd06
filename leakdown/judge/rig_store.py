"""Rigs on disk: one small JSON file per rig, written whole or not at all, refused when damaged."""

from __future__ import annotations

import datetime
import json
import math
import os
import re
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from leakdown.analysis import Analysis, KnownLeak
from leakdown.circuits import DIRECTIONS
from leakdown.disk import write_whole
from leakdown.errors import RecordError, UsageError
from leakdown.file_names import trouble
from leakdown.judge.rig import Rig, RigLeak, rig_leak, with_leak
from leakdown.shop_files import user_folder
from leakdown.uncertainty import Interval

VERSION = 1
FOLDER_VARIABLE = "LEAKDOWN_RIGS"
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _.-]{0,59}")


def folder_of(given: Path | None = None) -> Path:
    """Where rigs are kept: as given, else LEAKDOWN_RIGS, else the user's data folder."""
    if given is not None:
        return given
    named = os.environ.get(FOLDER_VARIABLE)
    return Path(named) if named else user_folder("data") / "rigs"


def path_of(name: str, folder: Path) -> Path:
    """The file of a rig. Raises UsageError for a name that is no plain file name."""
    if not _NAME.fullmatch(name) or trouble(name):
        raise UsageError(f"{name!r} is no name for a rig", remedy="Use letters, digits, blanks, - and _, 60 at most.")
    return folder / f"{name}.json"


def load(name: str, folder: Path) -> Rig:
    """A rig by name. Raises RecordError when there is none, or its file is damaged or newer."""
    path = path_of(name, folder)
    try:
        text = path.read_text("utf-8")
    except FileNotFoundError:
        known = ", ".join(names(folder)) or "none"
        raise RecordError(f"no rig {name!r} is kept in {folder}", remedy=f"Kept there: {known}.") from None
    except (OSError, UnicodeDecodeError) as error:
        what = getattr(error, "strerror", None) or error
        raise RecordError(f"cannot be read: {what}", where=str(path), remedy="Check the file.") from error
    try:
        return _rig(json.loads(text))
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise RecordError(
            f"this rig's file is damaged ({error})", where=str(path), remedy="Test the rig again and keep it anew."
        ) from error


def keep(name: str, folder: Path, capped: Analysis) -> tuple[Rig, Path]:
    """Keep what the capped rig leaked, by name. Raises UsageError when the test has no leak rate."""
    c = capped.recording.conditions
    leak = rig_leak(capped, c.started or datetime.date.today().isoformat())
    rig = with_leak(load_or_new(name, folder), leak, c.volume_m3, c.volume_u_m3)
    return rig, save(rig, folder)


def keep_known(name: str, folder: Path, known: KnownLeak) -> tuple[Rig, Path]:
    """Keep a test of a known leak beside the earlier ones; one of the same day, file and direction takes its place."""
    rig = load_or_new(name, folder)
    mark = (known.direction, known.measured_on, known.file)
    others = tuple(one for one in rig.known if (one.direction, one.measured_on, one.file) != mark)
    rig = replace(rig, known=(*others, known))
    return rig, save(rig, folder)


def load_or_new(name: str, folder: Path) -> Rig:
    """A rig by name, or a new one of that name."""
    return load(name, folder) if path_of(name, folder).exists() else Rig(name)


def save(rig: Rig, folder: Path) -> Path:
    """Write a rig's file. Raises OutputError."""
    path = path_of(rig.name, folder)
    text = json.dumps(_object(rig), indent=2, allow_nan=False, ensure_ascii=False) + "\n"
    write_whole(path, text.encode("utf-8"), "Choose another --rigs folder.")
    return path


def names(folder: Path) -> list[str]:
    """Names of the rigs kept."""
    return sorted(p.stem for p in folder.glob("*.json")) if folder.is_dir() else []


def _object(rig: Rig) -> dict[str, Any]:
    lists = {"leaks": [_leak_object(leak) for leak in rig.leaks], "known": [asdict(known) for known in rig.known]}
    return {"version": VERSION, **vars(rig), **lists}


def _leak_object(leak: RigLeak) -> dict[str, Any]:
    throughput = {f"{name}_pa_m3_s": size for name, size in vars(leak.throughput_pa_m3_s).items()}
    row = {"direction": leak.direction, "at_pa": leak.at_pa, **throughput}
    return {**row, "measured": leak.measured, "source": leak.source}


def _rig(row: dict[str, Any]) -> Rig:
    if row["version"] != VERSION:
        raise ValueError(f"its version is {row['version']}, this program knows {VERSION}")
    leaks = tuple(_leak(leak) for leak in row["leaks"])
    known = tuple(_known(one) for one in row.get("known", ()))  # files of rigs without any know no such key
    return Rig(str(row["name"]), _size(row["volume_m3"]), _size(row["volume_u_m3"]), leaks, known)


def _known(row: dict[str, Any]) -> KnownLeak:
    told = {name: str(row[name]) for name in ("direction", "kind", "text", "source", "measured_on", "file")}
    if told["direction"] not in DIRECTIONS:
        raise ValueError(f"direction {told['direction']!r}")
    datetime.date.fromisoformat(told["measured_on"])
    sizes = {name: _interval(row[name], "") for name in ("stated_pa_m3_s", "measured_pa_m3_s", "rate_pa_s")}
    at_pa, volume_m3 = float(row["at_pa"]), _size(row["volume_m3"])
    return KnownLeak(at_pa=at_pa, volume_m3=volume_m3, **told, **sizes)  # type: ignore[arg-type]


def _leak(row: dict[str, Any]) -> RigLeak:
    if row["direction"] not in ("pressure", "vacuum"):
        raise ValueError(f"direction {row['direction']!r}")
    leak = _interval(row, "_pa_m3_s")
    return RigLeak(row["direction"], float(row["at_pa"]), leak, str(row["measured"]), str(row["source"]))


def _interval(row: dict[str, Any], unit: str) -> Interval:
    low, high, value = float(row[f"low{unit}"]), float(row[f"high{unit}"]), _size(row[f"value{unit}"])
    if not 0.0 <= low <= (low if value is None else value) <= high < math.inf:
        raise ValueError("an interval that is none")
    return Interval(value, low, high)


def _size(value: object) -> float | None:
    if value is None:
        return None
    number = float(value)  # type: ignore[arg-type]
    if not 0.0 < number < math.inf:
        raise ValueError(f"{number} where a size belongs")
    return number
