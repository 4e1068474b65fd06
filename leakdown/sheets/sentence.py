"""Hand records in a sentence: "7 to 5 psi in 40 s", "40 kPa, no movement in 60 s" -> two readings."""

from __future__ import annotations

import re
from typing import NamedTuple

from leakdown.quantities import pressure_unit, tidy, time_unit_s
from leakdown.sheets.before_watch import steps_in
from leakdown.sheets.grid import Cell, Grid, Row, is_rule, is_value, shown
from leakdown.sheets.numbers import plain_fractions
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.preamble import left_over, loose_size_pairs, pairs, row_pairs
from leakdown.sheets.time_cells import moment
from leakdown.tuned import tuned
from leakdown.vocabulary import LOSS, VACUUM, known_key, words_of

_T = tuned("sheets")
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
    text: str
    first: str
    last: str
    time: str
    rest: str


def sentence_grid(grid: Grid, lines: list[tuple[int, str]], options: ReadingOptions) -> tuple[Grid, str] | None:
    """A sheet of two readings and what was understood, where a sentence is all that `lines` hold, or None.

    Of several sentences the one that goes the way of `options.direction`. Raises InputError for a sentence
    that leaves something open.
    """
    if any(len(text) > _T.longest_said for _, text in lines):
        return None
    tidied = [(number, " ".join(tidy(plain_fractions(text)).split())) for number, text in lines]
    lines = _blocks_as_sentences([(number, text) for number, text in tidied if text])
    if not 0 < len(lines) <= _MOST_LINES:
        return None
    found = [said for number, text in lines if (said := _said(number, text)) is not None]
    rest = [(number, text) for number, text in lines if number not in {said.line for said in found}]
    if not found:
        _refuse_half(grid, rest)
        return None
    if any(_is_table(text) for _, text in rest):
        return None
    fitting = [said for said in found if len(found) == 1 or _way(said) == options.direction]
    if len(fitting) != 1:
        raise grid.refuse("several results", found[1].line, count=len(found), one=found[0].text, two=found[1].text)
    said = fitting[0]
    if options.unit is None and not said.first[-1:].isalpha() and '"' not in said.first:
        raise grid.refuse("sentence without unit", said.line, text=said.text)
    others = "".join(f"; left out: {other.text!r}" for other in found if other != said)
    remark = f"understood from {said.text!r}: {said.first} at 0 s and {said.last} after {said.time}{others}"
    told = [*loose_size_pairs(said.rest), *steps_in(said.rest.replace(" | ", "; "))]
    beside = [Row(said.line, [f"{key.replace('_', ' ')}: {value}"]) for key, value in told]
    rows = [*(Row(n, [text]) for n, text in rest), *beside, *_table(said)]
    return Grid(rows, [], grid.source, "\t"), remark


_START = r"(?:start\w*|begin\w*|initial|beginn|anfang|d\u00e9but|inicio|inizio|von)"
_END = r"(?:end|ended|final|finish\w*|last|ende|schluss|fin|fine|bis)"
_LASTING = (
    r"(?:time|duration|held|hold|after|in|over|for|zeit|dauer|nach|dur\u00e9e|temps|apr\u00e8s|tiempo|"
    r"durata|tempo)"
)
_NAMED = r"(?:\s(?:pressure|vacuum|reading|druck|unterdruck|pression|presi\u00f3n))?[\s:=,;]{1,3}"
_BLOCK = re.compile(
    rf"\b{_START}{_NAMED}(?P<one>{_NUMBER})\s?(?P<unit1>{_UNIT})?[\s,;/|]+"
    rf"{_END}{_NAMED}(?P<two>{_NUMBER})\s?(?P<unit2>{_UNIT})?[\s,;/|]+"
    rf"(?:{_LASTING}[\s:=,;]{{1,3}})?(?P<time>{_TIME})(?!\w)",
    re.IGNORECASE,
)
_BLOCK_LINES = 3


def _blocks_as_sentences(lines: list[tuple[int, str]]) -> list[tuple[int, str]]:
    """Lines with "start 8 psi / end 5.75 psi / 3 min", in one line or three, written as one sentence."""
    for i, (number, _) in enumerate(lines):
        for count in range(1, _BLOCK_LINES + 1):
            part = [text for _, text in lines[i : i + count]]
            joined = " / ".join(part)
            found = _BLOCK.search(joined)
            if found is None or found.start() > len(part[0]) or len(part) < count:
                continue
            one, two = (f"{found[name]} {_unit(found[unit])}".rstrip() for name, unit in _BLOCK_PARTS)
            said = f"{joined[: found.start()]}{one} to {two} in {found['time']}{joined[found.end() :]}"
            return [*lines[:i], (number, said), *lines[i + count :]]
    return lines


_BLOCK_PARTS = (("one", "unit1"), ("two", "unit2"))


def _said(line: int, text: str) -> Sentence | None:
    """The two readings of a line that is a result and nothing else, or None."""
    bare = text.lstrip('#*>"\u2022 ')
    if any(known_key(key) is not None for key, _ in pairs(bare)):
        return None
    fall = _FALL.search(bare)
    used = fall or next((m for p in _LEVEL if (m := p.search(bare))), None)
    if used is None:
        return None
    before, after = bare[: used.start()], bare[used.end() :]
    apart = f"{before} | {after}"
    if _UNCERTAIN.search(apart) or (fall and set(words_of(before)) & (LOSS - {"dropped", "fallen", "drop"})):
        return None
    loose = left_over(apart) if loose_size_pairs(apart) else apart
    if re.search(r"\d", _without_names(loose)) or moment(used["time"]) is None:
        return None
    last, own = (fall["two"], _unit(fall["unit2"])) if fall else (used["one"], "")
    bracketed = re.match(r"\s*\(([^)]*)\)", after)
    unit = _unit(used["unit1"]) or own or _unit(bracketed and bracketed.group(1))
    one, two = (
        re.sub(r"(\d)\s?-\s?(\d)", r"\1 \2", number) + f" {name}".rstrip()
        for number, name in ((used["one"], unit), (last, own or unit))
    )
    return Sentence(line, text, one, two, used["time"], apart)


def _without_names(text: str) -> str:
    """Text without numbers that only name something: "job 4711", "saw no. 7", a date."""
    text = re.sub(r"\b\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}\b", "", text)
    return re.sub(r"\b(?:job|no|nr|saw|engine|test|order|auftrag|serial)\.?\s?#?\d+\b", "", text, flags=re.IGNORECASE)


def _unit(text: str | None) -> str:
    return text.strip() if text and pressure_unit(text) is not None else ""


def _is_table(text: str) -> bool:
    """Whether a line without a sentence holds readings of its own."""
    if pairs(text) or loose_size_pairs(text) or steps_in(text):
        return False
    return sum(is_value(cell) for cell in re.split(r"[\s,;|]+", text) if cell) > 1 and not is_rule(Row(0, [text]))


def _way(said: Sentence) -> str:
    """ "vacuum" where the words, the sign or the trade's unit say so, else "pressure"."""
    unit = pressure_unit(re.sub(r"^[-+\d.,/ ]+", "", said.last))
    in_mercury = unit is not None and unit.name == "inHg"
    return "vacuum" if _heading(said) == "vacuum" or said.first.startswith("-") or in_mercury else "pressure"


def _heading(said: Sentence) -> str:
    return "vacuum" if set(words_of(said.rest)) & VACUUM else "pressure"


def _table(said: Sentence) -> list[Row]:
    cells: list[list[Cell]] = [["time", _heading(said)], ["0 s", said.first], [said.time, said.last]]
    return [Row(said.line, row) for row in cells]


def _refuse_half(grid: Grid, lines: list[tuple[int, str]]) -> None:
    """Refuse sentences that are nearly a result, with what they lack."""
    _refuse_stuck(grid, lines)
    for number, text in lines if len(lines) <= 3 else []:
        if known_key(next((key for key, _ in pairs(text)), "")) is not None:
            return
        shown, lost = repr(text[:60]), set(words_of(text)) & LOSS
        if re.search(rf"(?:{_STILL}|{_HELD})\s{_WITHIN}\s{_TIME}", text, re.IGNORECASE):
            raise grid.refuse("no level", number, text=shown)
        if lost and re.search(rf"{_NUMBER}\s?{_UNIT}\s{_WITHIN}\s{_TIME}", text, re.IGNORECASE):
            raise grid.refuse("only the loss", number, text=shown)
        if any(_is_table(other) for at, other in lines if at != number):
            continue
        if _FALL.search(text) or any(pattern.search(text) for pattern in _LEVEL) or _is_told(text):
            raise grid.refuse("untold", number, text=shown)


_STUCK = re.compile(
    r"(?:\bnot|n[\'\u2019]?t|\bnever|\bcannot|\bnicht|\bkein\w*|\bpas|\bno)\s(?:be\s|want to\s|se\s)?"
    r"(?:build|built|pump|go|get|rise|come|climb|reach|make|hold|pull|mehr als|"
    r"\u00fcber|au-dessus|d[e\u00e9]passe|sube)"
    rf"[^\d]{{0,30}}?(?P<held>{_NUMBER}\s?{_UNIT})|"
    rf"\b(?:stuck|stalls?|stalled|stays|stops|stopped|bleibt|h\u00e4ngt)\s(?:at|bei)\s(?P<at>{_NUMBER}\s?{_UNIT})",
    re.IGNORECASE,
)
_COUNTS = {"one": 1, "a": 1, "two": 2, "three": 3, "ein": 1, "eine": 1, "zwei": 2, "un": 1, "deux": 2}
_STROKE = r"(?:strokes?|pumps?|hub|h\u00fcbe|coups?|golpes?)"
_PACE = re.compile(
    rf"(?P<count>\d+(?:[.,]\d+)?|{'|'.join(_COUNTS)})\s{_STROKE}\s?(?:/|an?|per|every|each|in|pro|je|par|por)\s?"
    r"(?P<time>\d+(?:[.,]\d+)?\s?)?(?P<unit>s|sec\w*|sek\w*|min\w*)\b",
    re.IGNORECASE,
)
_PUMP = re.compile(r"(\d+(?:[.,]\d+)?)\s?(cm3|cm\u00b3|cc|ccm|ml)(?!\w)", re.IGNORECASE)


def _refuse_stuck(grid: Grid, lines: list[tuple[int, str]]) -> None:
    """Refuse "would not build above 3 psi, one stroke a second" with the command that sizes it."""
    whole = ", ".join(text for _, text in lines)
    stuck, pace, volume = _STUCK.search(whole), _PACE.search(whole), _PUMP.search(whole)
    held = str((stuck["held"] or stuck["at"]) if stuck else "").strip()
    pumped = re.search(_STROKE, whole, re.IGNORECASE)
    if not pressure_unit(re.sub(r"^[-+\d.,/ ]+", "", held)) or pumped is None or _FALL.search(whole):
        return
    if any(_is_row(text) for _, text in lines):
        return
    sign = "-" if set(words_of(whole)) & VACUUM and not held.startswith("-") else ""
    stroke = f' --stroke "{volume[1]} cm3"' if volume else ""
    command = f'leakdown reckon pump --held "{sign}{held}" {_paced(pace)}{stroke}'
    raise grid.refuse("not built up", lines[0][0], text=whole[:80], command=command)


def _is_row(text: str) -> bool:
    """Whether a line is a row of numbers and nothing else."""
    cells = [cell for cell in re.split(r"[\s,;|]+", text) if cell]
    return len(cells) > 1 and all(map(is_value, cells))


def _paced(pace: re.Match[str] | None) -> str:
    """The strokes and their time as options; over a minute where a pace was told."""
    if pace is None:
        return '--strokes COUNT --in "TIME s"'
    count = float(_COUNTS.get(pace["count"].lower(), 0) or pace["count"].replace(",", "."))
    size = 60.0 if pace["unit"].lower().startswith("min") else 1.0
    took = size * float((pace["time"] or "1").replace(",", "."))
    if pace["time"] is None:
        count, took = count * 60.0 / took, 60.0
    return f'--strokes {count:g} --in "{took:g} s"'


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
