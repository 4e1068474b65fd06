"""One time cell -> what it says: a bare number, an elapsed time, a clock time or a date and time."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Literal, NamedTuple

from leakdown.quantities import tidy, time_unit_s
from leakdown.sheets.grid import Cell, is_plain
from leakdown.sheets.numbers import Written, plain_fractions, possible_marks, written
from leakdown.vocabulary import MONTHS, known_key, latin_units, plain, words

Kind = Literal["bare", "elapsed", "pair", "triple", "twelve", "stamp", "date"]


class Moment(NamedTuple):
    """kind and value in seconds (a pair: as minutes and seconds); `number` of a bare one; `date` of a stamp.

    `zone` says whether a stamp's seconds are already UTC seconds.
    """

    kind: Kind
    seconds: float = 0.0
    number: Written | None = None
    date: str | None = None
    zone: bool = False


_LEAD = re.compile(r"^(?:t\s*[+=]\s*|t\s*(?=-)|\+|at |after |um |kl\.? ?|nach )(?=-?\d)", re.IGNORECASE)
_BEFORE = re.compile(r"-\s*(\d.*[^\W\d].*)")  # "-30 s", seconds before zero
_COMPACT = re.compile(r"(\d{4})(\d\d)(\d\d)T(\d\d)(\d\d)(\d\d.*)")
_PAIR = re.compile(r"(-?\d{0,4}):(\d{1,2}(?:[.,]\d+)?)")
_TRIPLE = re.compile(r"(\d{1,3}):(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)")
_DOTTED = re.compile(r"(\d{1,2})\.(\d{2})\.(\d{2}(?:[.,]\d+)?)")
_TWELVE = re.compile(r"(\d{1,2})(?:[:.](\d{2}))?(?:[:.](\d{2}(?:[.,]\d+)?))?\s*([ap])\.?\s?m?\.?", re.IGNORECASE)
_FRENCH = re.compile(r"(\d{1,2})\s?h\s?(\d{2})(?:\s?(?:m|min|mn)?\s?(\d{2})\s?s?)?")
_PART = re.compile(r"(\d+(?:[.,]\d+)?|[.,]\d+)\s*([a-z.]+|''|\"|')?\s*(?:and|und|et|y|,)?\s*")
_START = words("start")
_MONTH = rf"(?:{'|'.join(MONTHS)})[a-z]*"
_DATE = (
    rf"(?:\d{{4}}[-/.]\d{{1,2}}[-/.]\d{{1,2}}|\d{{1,2}}[-/.] ?\d{{1,2}}[-/.] ?\d{{2,4}}"
    rf"|\d{{1,2}}\.?[-/. ]{_MONTH}[-/. ,]*\d{{2,4}}|{_MONTH} \d{{1,2}},? \d{{4}})"
)
_STAMP = re.compile(rf"(?:[a-z]{{2,9}}[.,]*\s+)?({_DATE})(?:[ t,;_]+(\d.*?))?", re.IGNORECASE)


def moment(cell: Cell) -> Moment | None:
    """What a time cell says, or None when it is no time."""
    if not isinstance(cell, str):
        number = written(cell)
        return Moment("bare", number=number) if number else None
    if is_plain(cell):
        return Moment("bare", number=Written(cell))
    text = _COMPACT.sub(r"\1-\2-\3T\4:\5:\6", _LEAD.sub("", latin_units(tidy(plain_fractions(cell))).strip()))
    if not text or len(text) > 60:
        return None
    if not text[0].isdigit() and text[0] not in "-+.,:":
        started = plain(text).removeprefix("at ") in _START or known_key(text) == "watch"
        return Moment("bare", number=Written("0")) if started else _stamp(text)
    if before := _BEFORE.fullmatch(text):
        found = _elapsed(before.group(1))
        return found._replace(seconds=-found.seconds) if found and found.kind == "elapsed" else None
    return _elapsed(text) or _clock(text) or _stamp(text)


def _elapsed(text: str) -> Moment | None:
    number = written(text)
    if number and not number.rest and not number.about and possible_marks([number]):
        return Moment("bare", number=number)
    size = time_unit_s(number.rest) if number and number.added else None
    if number and size:
        return Moment("elapsed", (number.value(".") or 0.0) * size)
    if _FRENCH.fullmatch(text.lower()) and "h" in text.lower():
        return None
    total, position, last = 0.0, 0, None
    lower = text.lower().replace("''", '"')
    while position < len(lower):
        match = _PART.match(lower, position)
        if not match or match.end() == position:
            return None
        size = time_unit_s(match.group(2)) if match.group(2) else {60.0: 1.0, 3600.0: 60.0}.get(last or 0.0)
        if size is None or (last is not None and size >= last):
            return None
        total += float(match.group(1).replace(",", ".")) * size
        position, last = match.end(), size
    return Moment("elapsed", total)


def _clock(text: str) -> Moment | None:
    bare = re.sub(r"\s*(?:uhr|o'?clock|hrs?)$", "", text, flags=re.IGNORECASE)
    bare = re.sub(r"(?<=\d)\s*(?:min(?:utes)?|m:s|mm:ss)$", "", bare)
    match = _TWELVE.fullmatch(bare)
    if match:
        hour, minute, second, half = match.groups()
        seconds = _of_day(int(hour) % 12 + 12 * (half.lower() == "p"), minute, second)
        return Moment("twelve", seconds) if seconds is not None and 1 <= int(hour) <= 12 else None
    match = _TRIPLE.fullmatch(bare) or _DOTTED.fullmatch(bare) or _FRENCH.fullmatch(bare.lower())
    if match:
        triple = _of_day(int(match.group(1)), match.group(2), match.group(3))
        return None if triple is None else Moment("triple", triple)
    match = _PAIR.fullmatch(bare)
    if match:
        minutes, part = int(match.group(1).lstrip("-") or 0), float(match.group(2).replace(",", "."))
        if part >= 60:
            return None
        seconds = minutes * 60 + part
        return Moment("pair", -seconds if match.group(1).startswith("-") else seconds)
    return None


def _of_day(hour: int, minute: str | None, second: str | None) -> float | None:
    minutes, seconds = float(minute or 0), float((second or "0").replace(",", "."))
    return hour * 3600 + minutes * 60 + seconds if minutes < 60 and seconds < 60 else None


def _stamp(text: str) -> Moment | None:
    match = _STAMP.fullmatch(text)
    if not match:
        return None
    date, time = match.groups()
    if not time:
        return Moment("date", date=date)
    zoned = _zoned(text, time)
    if zoned:
        return zoned
    clock = _clock(time.strip())
    if clock is None or clock.kind not in ("pair", "triple", "twelve"):
        return None
    seconds = clock.seconds * 60 if clock.kind == "pair" else clock.seconds  # 14:05 beside a date is a clock
    return Moment("stamp", seconds, date=date) if seconds < 86_400 else None


def _zoned(text: str, time: str) -> Moment | None:
    if not re.search(r"(?:Z|[-+]\d{2}:?\d{2}|[-+]\d{2}|UTC|GMT)$", time):
        return None
    try:
        stamp = datetime.fromisoformat(re.sub(r"\s*(?:UTC|GMT)$", "+00:00", text).replace(",", "."))
        seconds = stamp.replace(tzinfo=stamp.tzinfo or UTC).timestamp()
    except (ValueError, OverflowError):
        return None
    return Moment("stamp", seconds, zone=True)


def ordinals(dates: list[str]) -> list[int] | None:
    """Day numbers of dates as written; of the orders that fit all of them, the one with the least span."""
    found = []
    for order in ("ymd", "dmy", "mdy"):
        days = [_ordinal(date, order) for date in dates]
        whole = [day for day in days if day is not None]
        if len(whole) == len(days):
            found.append(whole)
    return min(found, key=lambda days: max(days) - min(days)) if found else None


def _ordinal(text: str, order: str) -> int | None:
    parts = re.findall(r"\d+|[a-z]{3,}", text.lower())
    if len(parts) != 3:
        return None
    named = [part for part in parts if part.isalpha()]
    if named:
        order = "mdy" if parts[0].isalpha() else "dmy"
        parts = [str(MONTHS.get(part[:3], 0)) if part.isalpha() else part for part in parts]
    elif len(parts[0]) == 4:
        order = "ymd"
    elif order == "ymd" and len(parts[2]) == 4:
        return None
    values = dict(zip(order, map(int, parts), strict=True))
    year = values["y"] + 2000 if values["y"] < 100 else values["y"]
    try:
        return datetime(year, values["m"], values["d"]).toordinal()
    except ValueError:
        return None
