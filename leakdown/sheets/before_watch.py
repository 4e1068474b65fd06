"""What lies between the pump and the watch: valve shut, topped up, waited, pump off; as keys, remarks and rows.

A sheet tells of it in lines ("reading when the valve was shut: 40.0 kPa"), in rows named instead of timed
("shut, 40.0"), in rows before zero (-30 s) or in a first block ending where the watch was started. None of these
are readings of the hold: they become `Conditions.shut_pa`, `waited_s`, `topped_up` and `pump_off`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from leakdown.circuits import procedure
from leakdown.errors import LeakdownError
from leakdown.quantities import parse_pressure, parse_time, pressure_unit, show_pressure, split_quantity, tidy
from leakdown.recording import Doubt
from leakdown.sheets.grid import text
from leakdown.tuned import tuned
from leakdown.vocabulary import known_key, latin_units, phrases, plain, words

_T = tuned("sheets")
STEPS = frozenset({"shut", "topped_up", "watch", "waited", "pump_off"})
"""Keys of the steps before the watch, by the vocabulary's names."""
_PUMP_ON, _NOT, _YES = phrases("pump_on"), words("no"), words("yes")
_FILLERS, _START = words("filler_in_steps"), words("start") - {"zero", "go"}
_PIECE = re.compile(r";|\||\s/\s|\u2192|[-=]+>|,(?!\d)|(?<=\w)\.\s+(?=[^\W\d])")
_JOINED = re.compile(r"\b(?:and|then|und|dann|et|puis|y|luego|e|poi|en|och)\b", re.IGNORECASE)
_TICK = re.compile(
    r"\s*(?:\[\s*[xXvV\u2713\u2714]\s*\]|[\u2611\u2612\u2713\u2714]|(?P<empty>\[\s*\]|[\u2610\u25a1]))\s*"
)
_AFTER = re.compile(
    r"[\s(]*\b(?:after|at|nach|apr\u00e8s|dopo)\s+(\d+(?:[.,]\d+)?\s*(?:s|secs?|seconds?|min)\b)\)?", re.I
)
_CLOCK = re.compile(r"[\s,(]+(?:(?:at|um|\u00e0)\s+)?\d{1,2}:\d\d(?::\d\d)?\)?$")
_SIZED = re.compile(
    r"(?P<key>[^\d:=]*?[^\W\d])[\s:=.?]*(?:\b(?:at|to|was|is|of|with|in|after|for|bei|mit|auf|nach|\u00e0|a|en|op|vid|till)\s+)*"
    r"(?P<size>[-+~]?\d+(?:[.,]\d+)?(?::\d\d)?\s*(?:[^\W\d][\w/.\"]*(?:\s?hg)?)?)\s*$",
    re.IGNORECASE,
)  # fmt: skip


def step_of(name: str) -> str | None:
    """The step that a text is the name of, and nothing else, or None."""
    name = name.strip(" :=.?")
    if not name[:1].isalpha() or len(name) > 80:
        return None
    for key in (name, _bare(name)):
        if (step := known_key(key)) in STEPS:
            return step
    return None


def _bare(name: str) -> str:
    """A name without the words that change nothing: "reading when the valve was shut" -> "valve shut"."""
    return " ".join(word for word in re.split(r"[\s'\u2019]+", plain(name)) if word not in _FILLERS)


def steps_in(line: str) -> list[tuple[str, str]]:
    """(step, value) of a line or remark: "valve shut at 40 kPa, topped up, pump off"; a bare step says "yes"."""
    return [step for _, steps in _pieces(line) for step in steps]


def left_of(line: str) -> str:
    """What a line with steps in it says besides, where that has numbers; the whole of any other line."""
    pieces = _pieces(line)
    if not any(steps for _, steps in pieces):
        return line
    return ", ".join(piece.strip() for piece, steps in pieces if not steps and any(c.isdigit() for c in piece))


def _pieces(line: str) -> list[tuple[str, list[tuple[str, str]]]]:
    if "(common practice" in line:
        return []  # the printed sheet's own advice
    found = []
    for piece in _PIECE.split(latin_units(tidy(line))):
        ticked = _TICK.match(piece)
        if ticked and ticked["empty"]:
            continue
        bare = piece[ticked.end() :] if ticked else piece
        steps = _step(bare)
        found += [(bare, steps)] if steps else [(part, _step(part)) for part in _JOINED.split(bare)]
    return found


def _step(part: str) -> list[tuple[str, str]]:
    piece = " ".join(part.split()).strip(" .:-*#")
    if len(piece) > _T.longest_said:
        return []
    after = _AFTER.search(piece)
    if after and (found := _step(piece[: after.start()] + piece[after.end() :])):
        return [*found, *([("waited", after[1])] if found[0][0] == "watch" else [])]
    first, _, rest = piece.partition(" ")
    before, _, last = piece.rpartition(" ")
    if _bare(piece.strip("?")) in _PUMP_ON:
        return [("pump_off", "no")]
    if name := step_of(piece):
        return [(name, "yes")]
    if plain(first) in _NOT and (name := step_of(rest)) in _ANSWERED:
        return [(name, "no")]
    if is_yes(last) is not None and (pair := asked(before, last)) and pair[0] in _ANSWERED:
        return [pair]
    sized = _SIZED.fullmatch(piece)
    name = step_of(sized["key"]) if sized else None
    return [(name, sized["size"].strip())] if sized and name else []


_ANSWERED = ("topped_up", "pump_off")


def asked(key: str, value: str) -> tuple[str, str] | None:
    """The step that a key asks for and the value that it gets: "pump on the circuit: no" is one off it."""
    if _bare(key.strip(" ?:")) in _PUMP_ON and (answer := is_yes(value)) is not None:
        return "pump_off", "no" if answer else "yes"
    name = step_of(key)
    return None if name is None else (name, value)


def steps_of_pair(name: str | None, key: str, value: str, strict: bool = False) -> list[tuple[str, str]]:
    """The steps in a key with its value, `name` being the known one that it names, or None.

    None where the value is of another kind ("closed: exhaust, intake"); `strict` raises LeakdownError there.
    """
    if name is not None and name not in STEPS and name != "started":
        return []
    first, *more = _PIECE.split(value)
    after = _AFTER.search(first)
    first = _AFTER.sub("", first).strip()
    pair = ("watch", first) if name == "started" and _is_pressure(first) else asked(key, first)
    if pair is not None and (pair[0] in _ANSWERED or split_quantity(first) is not None):
        waited = [("waited", after[1])] if after and pair[0] == "watch" else []
        return [pair, *waited, *(step for piece in more for step in steps_in(piece))]
    if strict and name in STEPS:
        raise LeakdownError(f"{key} {value!r} cannot be read")
    return []


def _is_pressure(value: str) -> bool:
    parts = split_quantity(value)
    return bool(parts and pressure_unit(parts[1]) is not None)


def is_yes(value: str) -> bool | None:
    """True and False of yes and no, as people write and tick them; None for any other text."""
    said = plain(value).strip(" .!")
    if said in _YES or re.fullmatch(r"[x\u2713\u2714\u2611\u2612]", said):
        return True
    return False if said in _NOT else None


@dataclass(frozen=True)
class BeforeWatch:
    """What rows and lines say: shut_pa and watch_pa gauge magnitudes, waited_s, topped_up, pump_off; what is unclear.

    rows: how many readings of the table lie before the watch. at_s: when it was started, on the sheet's own clock.
    """

    shut_pa: float | None = None
    watch_pa: float | None = None
    waited_s: float | None = None
    topped_up: bool | None = None
    pump_off: bool | None = None
    said: tuple[str | Doubt, ...] = ()
    rows: int = 0
    at_s: float = 0.0

    def over(self, other: BeforeWatch) -> BeforeWatch:
        """What this says, and of the rest what `other` says."""
        names = ("shut_pa", "watch_pa", "waited_s", "topped_up", "pump_off")
        own = {name: getattr(self if getattr(self, name) is not None else other, name) for name in names}
        return BeforeWatch(**own, said=(*self.said, *other.said))


@dataclass
class _Lines:
    """The keys of a sheet as they are read one by one."""

    unit: str
    ambient_pa: float
    sizes: dict[str, float] = field(default_factory=dict)
    answers: dict[str, bool] = field(default_factory=dict)
    unclear: list[str | Doubt] = field(default_factory=list)

    def level(self, value: str) -> float:
        """A gauge pressure's size; a bare number in the readings' unit. Raises LeakdownError."""
        parts = split_quantity(value)
        read = parse_pressure(f"{value} {self.unit}" if parts and not parts[1] else value, "reading")
        return abs(read.value_pa - self.ambient_pa)

    def waited(self, value: str) -> float:
        """Seconds; a bare number is seconds. Raises LeakdownError."""
        parts = split_quantity(value)
        return parse_time(f"{value} s" if parts and not parts[1] and ":" not in value else value, "waited")

    def take(self, name: str, value: str) -> None:
        """One key. Raises LeakdownError for a value that is none of its kind."""
        value = re.sub(r"[()]", "", latin_units(value))
        value = value if name == "waited" else _CLOCK.sub("", value)
        answer = is_yes(value)
        if name in ("topped_up", "pump_off") and answer is not None:
            self.answers.setdefault(name, answer)
        elif name == "topped_up":
            _ = self.waited(value) if _is_time(value) else self.level(value)
            self.answers.setdefault(name, True)
        elif name == "waited" or (name == "watch" and _is_time(value)):
            self.sizes["waited_s"] = self.waited(value)  # of several the last: the one before the watch
        elif name == "pump_off":
            raise LeakdownError("neither yes nor no")
        elif answer is None:
            self.sizes.setdefault(f"{name}_pa", self.level(value))


def _is_time(value: str) -> bool:
    parts = split_quantity(value)
    return bool(parts and parts[1] and pressure_unit(parts[1]) is None)


def of_lines(pairs: Iterable[tuple[str, str]], unit: str, ambient_pa: float = 0.0) -> BeforeWatch:
    """What the lines around a table say, `unit` being that of the readings, which are absolute above `ambient_pa`."""
    lines = _Lines(unit, ambient_pa)
    for name, value in pairs:
        try:
            lines.take(name, value)
        except LeakdownError as error:
            what = text("step unread", name=text(f"step {name}"), value=value, why=error.what)
            lines.unclear.append(Doubt("not-used", what))
    return BeforeWatch(**lines.sizes, **lines.answers, said=tuple(lines.unclear))  # type: ignore[arg-type]


def of_rows(
    time_s: NDArray[np.float64], gauge_pa: NDArray[np.float64], remarks: Sequence[str], lines: Sequence[int]
) -> BeforeWatch:
    """What the first rows of a sheet say: those before zero, or of a first block with the steps beside it."""
    named = [dict(steps_in(remark)) | ({"watch": "yes"} if plain(remark) in _START else {}) for remark in remarks]
    size = np.abs(gauge_pa)
    first = _first_of_hold(time_s, named)
    closings = [i for i in range(first) if "shut" in named[i] or "topped_up" in named[i] or _stands(size, i)]
    if first and not closings:
        return BeforeWatch()  # filled until the watch was started
    if not first:
        at_once = bool(named) and "shut" in named[0] and time_s[0] == 0.0
        return BeforeWatch(float(size[0]), None, 0.0) if at_once else BeforeWatch()
    shut = closings[0]
    topped = [
        i for i in range(shut + 1, first) if "topped_up" in named[i] or size[i] > (1 + _T.odd_share) * size[i - 1]
    ]
    last = topped[-1] if topped else shut
    at_s = float(time_s[first]) if time_s[0] >= 0.0 else 0.0  # rows before zero: the sheet's zero is the watch
    waited = at_s - float(time_s[last])
    rise = size[first] > (1 + _T.odd_share) * size[first - 1]
    known = waited if waited >= 0.0 and not (rise and not topped) else None
    place = f"line {lines[0]}" if first == 1 else f"lines {lines[0]} to {lines[first - 1]}"
    said = text("before the watch", place=place)
    return BeforeWatch(float(size[shut]), None, known, True if topped or rise else None, None, (said,), first, at_s)


def _stands(size: NDArray[np.float64], i: int) -> bool:
    """Whether a row before the watch is no longer pumped up: the next is not higher, and it is far from zero."""
    return bool(size[i + 1] <= size[i] and size[i] > _T.small_reading * size.max())


def _first_of_hold(time_s: NDArray[np.float64], named: Sequence[dict[str, str]]) -> int:
    """Index of the reading at which the watch was started; 0 where nothing lies before it."""
    started = [i for i, steps in enumerate(named) if i and "watch" in steps]
    if started:
        return started[0]
    if time_s.size and time_s[0] < 0.0 <= time_s.max():
        return int(np.argmax(time_s >= 0.0))
    again = np.flatnonzero(np.diff(time_s) < 0.0)
    first = int(again[0]) + 1 if again.size else 0
    return first if 0 < first <= _T.most_steps and all(STEPS & steps.keys() for steps in named[:first]) else 0


def pump_doubts(pump_off: bool | None) -> list[Doubt]:
    """A pump that was left on the circuit may have kept the reading up: no pass can rest on it."""
    return [Doubt("pump-on", text("pump on"), True)] if pump_off is False else []


def conditions_of(
    found: BeforeWatch, first_s: float, first_pa: float, unit: str
) -> tuple[dict[str, object], list[str | Doubt]]:
    """Values for `Conditions` beside a hold that begins with `first_pa` at `first_s`, and what is to be said.

    Where both readings are there and nothing is said of the wait, the sheet's own procedure was followed.
    """
    said, shut, waited, level = (
        [*found.said, *pump_doubts(found.pump_off)],
        found.shut_pa,
        found.waited_s,
        abs(first_pa),
    )
    if shut is not None and not _T.least_shut * level <= shut <= _T.most_shut * level:
        shown = (show_pressure(one, unit) for one in (shut, level))
        said.append(Doubt("not-used", text("shut far off", **dict(zip(("shut", "first"), shown, strict=True)))))
        shut = None
    if waited is not None and waited > _T.longest_wait_s:
        said.append(Doubt("not-used", text("waited long", waited_s=waited)))
        waited = None
    if shut is not None and found.topped_up is not True and level > (1 + _T.odd_share) * shut:
        levels = {"shut": show_pressure(shut, unit), "first": show_pressure(level, unit)}
        said.append(Doubt("rose-unexplained", text("rose", **levels), True))
    followed = shut is not None and first_s == 0.0 and waited is None
    if followed and (found.topped_up or not math.isclose(shut or 0.0, level, rel_tol=1e-6)):
        waited = procedure().start_s
        said.append(text("followed", waited_s=waited))
    signed = None if shut is None else math.copysign(shut, first_pa)
    values = {"shut_pa": signed, "waited_s": waited, "topped_up": found.topped_up, "pump_off": found.pump_off}
    return {name: value for name, value in values.items() if value is not None}, said


def with_watch(
    time_s: NDArray[np.float64], gauge_pa: NDArray[np.float64], found: BeforeWatch, unit: str
) -> tuple[BeforeWatch, bool]:
    """Whether the reading at the start of the watch is wanting in the rows; a doubt where it is there and differs."""
    if found.watch_pa is None or not time_s.size or time_s[0] < 0.0:
        return found, False
    if time_s[0] > 0.0:
        return found, True
    first = float(abs(gauge_pa[0]))
    if abs(first - found.watch_pa) <= _T.odd_share * first:
        return found, False
    shown = {"one": show_pressure(found.watch_pa, unit), "two": show_pressure(first, unit)}
    return replace(found, said=(*found.said, Doubt("watch-reading", text("two starts", **shown), True))), False
