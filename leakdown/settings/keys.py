"""Every setting there is: one row each, from which reading, `show`, `set` and the help are made.

CIRCUIT and DIRECTION in a name stand for any of theirs. To add a setting, add its row here and, when it is
read in SI, its accessor in `shop.py`.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from leakdown.circuits import CIRCUITS, circuit_named
from leakdown.errors import UsageError
from leakdown.settings import kinds

Checks = Mapping[str, Callable[[str], object]]
"""First word of a setting ("limit") -> a further check of its text, for those who can import it."""

DIRECTIONS = ("pressure", "vacuum")


@dataclass(frozen=True)
class Key:
    """One setting. `name` is dotted as in the file; `used` says when it counts; `instead_of` names the
    setting that cannot stand beside it; `canonical`: keep the usual spelling, not the text as written.
    """

    name: str
    means: str
    used: str
    example: str
    read: kinds.Read
    instead_of: str | None = None
    canonical: bool = False

    @property
    def first(self) -> str:
        """The first word of its name: "limit" of "limit.CIRCUIT.DIRECTION"."""
        return self.name.split(".")[0]

    @property
    def is_pattern(self) -> bool:
        """Whether CIRCUIT or DIRECTION stand in its name."""
        return self.name != self.name.lower()

    def names(self) -> tuple[str, ...]:
        """Every setting that this row stands for."""
        choices = [_CHOICES.get(part, (part,)) for part in self.name.split(".")]
        return tuple(".".join(parts) for parts in itertools.product(*choices))

    def value(self, text: str, name: str, checks: Checks | None = None) -> kinds.Value:
        """The value that `text` says. Raises UsageError with the accepted form."""
        try:
            found = self.read(kinds.checked_text(text, name), name)
            if checks and self.first in checks:
                checks[self.first](str(found))
        except UsageError as error:
            form = f'Example: leakdown settings set {name} "{self.example}"'
            raise UsageError(error.what, remedy=f"{error.remedy} {form}".strip()) from error
        return found

    def kept(self, text: str, name: str, checks: Checks | None = None) -> str:
        """The text to keep for `text`. Raises UsageError as `value` does."""
        found = self.value(text, name, checks)
        return str(found) if self.canonical else text.strip()


def _direction_named(text: str) -> str:
    plain = text.strip().lower()
    if plain not in DIRECTIONS:
        raise UsageError(f"{text!r} is neither pressure nor vacuum", remedy="Say pressure or vacuum.")
    return plain


_CHOICES = {"CIRCUIT": CIRCUITS, "DIRECTION": DIRECTIONS}
_NAMED = {"CIRCUIT": circuit_named, "DIRECTION": _direction_named}

KEYS = (
    Key(
        "unit",
        "pressure unit that results are shown in",
        "for showing only: a sheet still says its own unit",
        "inHg",
        kinds.unit,
        canonical=True,
    ),
    Key(
        "barometer",
        "air pressure at the bench, not at sea level",
        "used where no --barometer, no --altitude and no file says one",
        "98.2 kPa",
        kinds.barometer_pa,
        instead_of="altitude",
    ),
    Key(
        "altitude",
        "height of the bench, where no barometer is",
        "used where no --barometer, no --altitude and no file says one",
        "850 m",
        kinds.altitude_m,
        instead_of="barometer",
    ),
    Key(
        "temperature",
        "of engine and room",
        "used where neither --temperature nor the file says one",
        "20 degC",
        kinds.temperature_k,
    ),
    Key(
        "gauge",
        "its profile, as `leakdown gauges` lists them",
        "used where --gauge says none",
        "auto",
        kinds.profile,
    ),
    Key("port", "where the gauge is plugged in", "used where no port is given", "/dev/ttyUSB0", kinds.words),
    Key(
        "resolution",
        "smallest step read off the gauge",
        "used where neither --resolution nor the file says one",
        "0.25 psi",
        kinds.step_pa,
    ),
    Key(
        "rig",
        "the rig whose own leak is taken off",
        "used where --rig says none",
        "bench-1",
        kinds.words,
    ),
    Key(
        "rigs",
        "folder with the rigs",
        "used where neither --rigs nor LEAKDOWN_RIGS says one",
        "~/leakdown/rigs",
        kinds.folder,
    ),
    Key(
        "jobs",
        "folder with the job records",
        "used where neither --folder nor LEAKDOWN_JOBS says one",
        "~/leakdown/jobs",
        kinds.folder,
    ),
    Key("shop", "name of the shop", "printed on reports and sheets", "Mill Lane Repairs", kinds.words),
    Key("mechanic", "who tests", "printed on reports and sheets", "A. Smith", kinds.words),
    Key(
        "pump_stroke",
        "air moved by one stroke of the hand pump",
        "used where --stroke says none",
        "15 cm3",
        kinds.volume_m3,
    ),
    Key(
        "air_needed",
        "air that a tank's vent must let in",
        "used to judge a vent",
        "12 cm3/min",
        kinds.air_m3_s,
    ),
    Key(
        "limit.CIRCUIT.DIRECTION",
        "what is too much, under pressure or vacuum",
        "used where neither --limit nor the file nor the job says one",
        "6 kPa in 60 s",
        kinds.words,
    ),
    Key(
        "volume.CIRCUIT",
        "usual volume, hoses and gauge included",
        "used where neither --volume nor the file says one",
        "250 cm3",
        kinds.volume_m3,
    ),
)
_BY_NAME = {name: key for key in KEYS for name in key.names()}
NAMES = tuple(_BY_NAME)
"""Every setting's dotted name, in the order of the rows."""


def key_of(name: str) -> Key | None:
    """The row of a setting whose name is spelled as in the file, or None."""
    return _BY_NAME.get(name)


def key_named(text: str) -> tuple[Key, str]:
    """The row that `text` names and the setting's name, synonyms of circuits included. Raises UsageError."""
    parts = text.strip().split(".")
    for key in KEYS:
        pattern = key.name.split(".")
        if len(parts) == len(pattern) and _plain(parts[0]) == pattern[0]:
            rest = (_NAMED[word](part) for word, part in zip(pattern[1:], parts[1:], strict=True))
            return key, ".".join((pattern[0], *rest))
    raise UsageError(f"no setting {kinds.shortened(text)}", remedy=_nearest(text))


def _plain(word: str) -> str:
    return word.strip().lower().replace("-", "_")


def near(text: str) -> list[str]:
    """Known names that look like `text`, the closest first."""
    import difflib

    return difflib.get_close_matches(text.strip().lower()[: kinds.LONGEST], NAMES, n=3, cutoff=0.55)


def _nearest(text: str) -> str:
    close = near(text)
    known = ", ".join(key.name for key in KEYS)
    return f"Did you mean {' or '.join(close)}?" if close else f"Known settings: {known}."
