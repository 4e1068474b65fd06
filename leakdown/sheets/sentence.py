"""Hand records in a sentence: "7 to 5 psi in 40 s", "40 kPa, no movement in 60 s" -> two readings."""

from __future__ import annotations

import re
from typing import NamedTuple

from leakdown.quantities import pressure_unit, tidy, time_unit_s
from leakdown.sheets.grid import Grid, Row, is_rule, is_value, shown
from leakdown.sheets.moments import moment
from leakdown.sheets.numbers import plain_fractions
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.preamble import loose_size_pairs, pairs, row_pairs
from leakdown.vocabulary import LOSS, VACUUM, known_key, words_of

_NUMBER = r"(?<![\d.,/])[-+]?(?:\d+(?:[.,]\d+)?(?:(?:\s?-\s?|\s+)\d{1,2}/\d{1,2})?|\d{1,2}/\d{1,2})(?![\d/])"
_UNIT = r"(?:[a-z\"][\w.\"/\u00b2]*(?:\s(?:of\s)?(?:hg|h2o|abs|gauge|mercury|water|absolute))?(?:\([ag]\))?)"
_TIME = r"(?:\d{1,3}:\d{2}|\d+(?:[.,]\d+)?(?:\s\d/\d)?\s?[a-z]+\.?(?:\s\d+\s?s(?:ec\w*)?\.?)?)"
_TO = r"(?:(?:to|down to|bis|auf|\u00e0|a|until)\s|(?:-->|->|=>|\u2192)\s?)"
_WITHIN = r"(?:,|;|in|within|over|after|for|during|binnen|innerhalb|nach|w\u00e4hrend|en|in the first)"
_STILL = (
    r"(?:no|without(?: any)?|not any|zero|keine?)\s(?:visible\s|measurable\s|apparent\s)?"
    r"(?:movement|change|drop|loss|fall|decay|leak(?:age)?|bewegung|\u00e4nderung|abfall)"
)
_HELD = r"(?:held|holds|hold|steady|stood|stays?|stayed|standing|constant|h\u00e4lt|hielt|stabil)"
_FALL = re.compile(
    rf"(?P<one>{_NUMBER})\s?(?P<unit1>{_UNIT})?\s?{_TO}(?P<two>{_NUMBER})\s?(?P<unit2>{_UNIT})??\s?,?\s?"
    rf"{_WITHIN}\s?(?P<time>{_TIME})",
    re.IGNORECASE,
)
_LEVEL = (
    re.compile(
        rf"(?P<one>{_NUMBER})\s?(?P<unit1>{_UNIT})\s?[,;:]?\s?(?:{_STILL}|{_HELD})\s{_WITHIN}\s(?P<time>{_TIME})",
        re.IGNORECASE,
    ),
    re.compile(
        rf"(?:{_STILL}|{_HELD})\s{_WITHIN}\s(?P<time>{_TIME})[,;]?\s(?:at|from|with|bei|on)\s"
        rf"(?P<one>{_NUMBER})\s?(?P<unit1>{_UNIT})",
        re.IGNORECASE,
    ),
    re.compile(
        rf"{_HELD}\s(?:at\s|on\s|bei\s)?(?P<one>{_NUMBER})\s?(?P<unit1>{_UNIT})\s?,?\s{_WITHIN}\s(?P<time>{_TIME})",
        re.IGNORECASE,
    ),
)
_UNCERTAIN = re.compile(
    r"\?|\b(?:limit|max\w*|min(?:imum)?|allow\w*|permit\w*|spec\w*|must|should|shall|may|would|could|can|soll\w*|"
    r"darf|muss|target|not|never|didn|doesn|wouldn|won|cannot|unable|fail\w*|if|unless|or|expected|normal\w*|"
    r"grenz\w*|nicht|example|e\.g|about|approx\w*|nearly|almost|ca|vac\w*\s*(?:and|then|,)\s*press\w*)\b",
    re.IGNORECASE,
)
_MOST_LINES = 40


class Sentence(NamedTuple):
    """What one sentence says: two pressure texts with their unit, and the time between them as text."""

    line: int
    first: str
    last: str
    time: str
    rest: str


def sentence_grid(
    grid: Grid, lines: list[tuple[int, str]], options: ReadingOptions
) -> tuple[Grid, str] | None:
    """A sheet of two readings and what was understood, where a sentence is all that `lines` hold, or None.

    Of several sentences the one that goes the way of `options.direction`. Raises InputError for a sentence
    that leaves something open.
    """
    tidied = [(number, " ".join(tidy(plain_fractions(text)).split())) for number, text in lines]
    lines = [(number, text) for number, text in tidied if text]
    if not 0 < len(lines) <= _MOST_LINES:
        return None
    found = [(said, number, text) for number, text in lines if (said := _said(number, text)) is not None]
    rest = [(number, text) for number, text in lines if number not in {n for _, n, _ in found}]
    if not found:
        _refuse_half(grid, rest)
        return None
    if any(_is_table(text) for _, text in rest):
        return None
    fitting = [one for one in found if len(found) == 1 or _way(one[0]) == options.direction]
    if len(fitting) != 1:
        raise grid.refuse(
            f"{len(found)} results in one file: {found[0][2]!r} and {found[1][2]!r}",
            found[1][1],
            "Give --direction pressure or --direction vacuum, or save each of them as a file of its own.",
        )
    others = "".join(f"; left out: {text!r}" for said, _, text in found if said != fitting[0][0])
    found = fitting
    said = found[0][0]
    if options.unit is None and not said.first[-1:].isalpha() and '"' not in said.first:
        raise grid.refuse(
            f"no pressure unit in {found[0][2]!r}",
            found[0][1],
            "Say --unit, or write psi, kPa, mbar or inHg.",
        )
    table = _table(said)
    remark = f"understood from {found[0][2]!r}: {said.first} at 0 s and {said.last} after {said.time}{others}"
    return Grid([*(Row(n, [text]) for n, text in rest), *table], [], grid.source, "\t"), remark


def _said(line: int, text: str) -> Sentence | None:
    """The two readings of a line that is a result and nothing else, or None."""
    bare = text.lstrip('#*>"\u2022 ')
    for key, _ in pairs(bare):
        if known_key(key) is not None:
            return None
    match = _FALL.search(bare)
    level = None if match else next((m for p in _LEVEL if (m := p.search(bare))), None)
    used = match or level
    if used is None:
        return None
    before, after = bare[: used.start()], bare[used.end() :]
    apart = f"{before} | {after}"
    if _UNCERTAIN.search(apart) or (match and set(words_of(before)) & (LOSS - {"dropped", "fallen", "drop"})):
        return None
    if re.search(r"\d", _without_names(apart)) or moment(used["time"]) is None:
        return None
    unit = _unit(used["unit1"]) or (_unit(match["unit2"]) if match else "") or _bracketed(after)
    ends = [used["one"], match["two"] if match else used["one"]]
    units = [_unit(used["unit1"]) or unit, (_unit(match["unit2"]) if match else "") or unit]
    if match and not _unit(used["unit1"]):
        units[0] = units[1]
    one, two = (f"{_plain(number)} {name}".strip() for number, name in zip(ends, units, strict=True))
    return Sentence(line, one, two, used["time"], apart)


def _without_names(text: str) -> str:
    """Text without numbers that only name something: "job 4711", "saw no. 7", a date."""
    text = re.sub(r"\b\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}\b", "", text)
    return re.sub(
        r"\b(?:job|no|nr|saw|engine|test|order|auftrag|serial)\.?\s?#?\d+\b", "", text, flags=re.IGNORECASE
    )


def _unit(text: str | None) -> str:
    return text.strip() if text and pressure_unit(text) is not None else ""


def _bracketed(text: str) -> str:
    found = re.match(r"\s*\(([^)]*)\)", text)
    return _unit(found.group(1)) if found else ""


def _plain(number: str) -> str:
    return re.sub(r"(\d)\s?-\s?(\d)", r"\1 \2", number)


def _is_table(text: str) -> bool:
    """Whether a line without a sentence holds readings of its own."""
    if pairs(text) or loose_size_pairs(text):
        return False
    return sum(is_value(cell) for cell in re.split(r"[\s,;|]+", text) if cell) > 1 and not is_rule(
        Row(0, [text])
    )


def _way(said: Sentence) -> str:
    """ "vacuum" where the words, the sign or the trade's unit say so, else "pressure"."""
    unit = pressure_unit(re.sub(r"^[-+\d.,/ ]+", "", said.last))
    in_mercury = unit is not None and unit.name == "inHg"
    vacuum = set(words_of(said.rest)) & VACUUM or said.first.startswith("-") or in_mercury
    return "vacuum" if vacuum else "pressure"


def _table(said: Sentence) -> list[Row]:
    heading = "vacuum" if set(words_of(said.rest)) & VACUUM else "pressure"
    return [
        Row(said.line, ["time", heading]),
        Row(said.line, ["0 s", said.first]),
        Row(said.line, [said.time, said.last]),
    ]


def _refuse_half(grid: Grid, lines: list[tuple[int, str]]) -> None:
    """Refuse sentences that are nearly a result, with what they lack."""
    for number, text in lines if len(lines) <= 3 else []:
        if known_key(next((key for key, _ in pairs(text)), "")) is not None:
            return
        if re.search(rf"(?:{_STILL}|{_HELD})\s{_WITHIN}\s{_TIME}", text, re.IGNORECASE):
            raise grid.refuse(
                f"{text[:60]!r} does not say at what pressure",
                number,
                'Write it as in "40 kPa, no movement in 60 s".',
            )
        lost = set(words_of(text)) & LOSS
        if lost and re.search(rf"{_NUMBER}\s?{_UNIT}\s{_WITHIN}\s{_TIME}", text, re.IGNORECASE):
            raise grid.refuse(
                f"{text[:60]!r} says what was lost, not from what pressure",
                number,
                'Write both pressures, as in "7 to 5 psi in 40 s".',
            )
        if any(_is_table(other) for at, other in lines if at != number):
            continue
        if _FALL.search(text) or any(pattern.search(text) for pattern in _LEVEL) or _is_told(text):
            raise grid.refuse(
                f"cannot tell what {text[:60]!r} says",
                number,
                'Write no more than the result, as in "7 to 5 psi in 40 s", or a table.',
            )


def _is_told(text: str) -> bool:
    """Whether a line tells of a pressure and a time in words, not in columns."""
    sizes = re.findall(rf"{_NUMBER}\s?([a-z\"][\w\"/]*)", text, re.IGNORECASE)
    words = [w for w in re.findall(r"[^\W\d_]{3,}", text) if pressure_unit(w) is None and not time_unit_s(w)]
    told = any(pressure_unit(size) for size in sizes) and any(time_unit_s(size) for size in sizes)
    return told and bool(words)


def sheet_lines(grid: Grid) -> list[tuple[int, str]]:
    """The lines of a workbook's sheet as text, for sentences that stand in cells."""
    rows = [(row.line, _as_line([shown(cell) for cell in row.cells if cell != ""])) for row in grid.rows]
    return sorted(rows + grid.comments)


def _as_line(cells: list[str]) -> str:
    return "; ".join(f"{key}: {value}" for key, value in row_pairs(cells)) or ", ".join(cells)


def plain_lines(text: str) -> list[tuple[int, str]]:
    """The first lines of a text with their numbers, one more than a sentence file may have."""
    return [
        (number, line.lstrip("# "))
        for number, line in enumerate(text.split("\n", 4 * _MOST_LINES)[: 4 * _MOST_LINES], 1)
        if line.strip()
    ]
