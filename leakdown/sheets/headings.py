"""What a column heading says: the role of its column, the unit and a factor, gauge or absolute, vacuum."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Literal

from leakdown.quantities import PressureUnit, pressure_unit, temperature_k, tidy, time_unit_s
from leakdown.vocabulary import BAROMETER, LOSS, PRESSURE, VACUUM, latin_units, plain, words, words_of

_PRESSURE = PRESSURE | words("pressure_in_headings")
_READING = words("reading")
_CLOCK = words("clock")
_TIME = words("time", "time_unit", "time_in_headings") | _CLOCK
_DATE, _ELAPSED, _REMARK = words("date"), words("elapsed"), words("remark")
_TEMPERATURE = words("temperature", "temperature_unit")
_AMBIENT = words("ambient", "ambient_in_headings")
_ABSOLUTE = words("absolute", "absolute_in_headings")
_GAUGE = words("gauge", "gauge_in_headings")
DERIVED = words("derived", "derived_in_headings", "quantity")
_LOSS_COMPOUND = re.compile(f"(?:{'|'.join(words('loss_compound_of'))})(?:{'|'.join(words('loss_compound'))})")
_ROW_NUMBERS = words("row_number"), words("row_number_of"), words("row_number_alone")

_TIMES = r"[x\u00d7*\u00b7\u22c5]"
_POWER = r"(10{1,5}|10 ?\^ ?-?\d)"
_FACTOR = re.compile(rf"(?<![\w.,]){_TIMES} ?{_POWER}(?![\d.,^])|(?<![\w.,]){_POWER} ?{_TIMES}(?!\w)", re.IGNORECASE)
_CLOSE = re.compile(rf"(?<=[a-z\"]){_TIMES} ?{_POWER}(?![\d.,^])")  # "mbar*100"
_UNCLEAR = re.compile(
    r"/ ?10+\b|\b1/10+\b|(?:^|[(\[{]) ?(?:10+|0[.,]0*1) ?(?=[a-z])|"
    r"\b(?:tenths?|hundredths?|tens|hundreds|thousands|thousandths?|zehntel|hundertstel|tausendstel|dixiemes?)\b",
    re.IGNORECASE,
)
_OF_THE_GAUGE = re.compile(r"range|gauge|dial|scale|full|resol|step|div", re.IGNORECASE)
_SUPERSCRIPTS = str.maketrans("\u2070\u00b9\u00b2\u00b3\u2074\u2075\u2076\u207b", "0123456-")


def plain_powers(text: str) -> str:
    """ "10\u00b3 Pa" as "10^3 Pa", before the small digit becomes a plain one."""
    return re.sub(
        "(?<![\\d.,])10([\u2070\u00b9\u00b2\u00b3\u2074\u2075\u2076\u207b]+)",
        lambda match: "10^" + match.group(1).translate(_SUPERSCRIPTS),
        text,
    )


def without_factor(text: str) -> tuple[str, float, bool]:
    """(heading without its factor, factor, whether a factor is there that cannot be told)."""
    found = [*_FACTOR.finditer(text), *_CLOSE.finditer(text)]
    if not found:
        return text, 1.0, _is_unclear(text)
    match = found[0]
    before, after = text[: match.start()], text[match.end() :]
    bare = " ".join(f"{before} {after}".split())
    if len(found) > 1 or not (_ends_in_unit(before) or _starts_with_unit(after)):
        return bare, 1.0, True
    return bare, _size(next(group for group in match.groups() if group)), False


def has_factor(text: str) -> bool:
    """Whether a cell that looks like a number is a unit with a factor: "100 x Pa", "1/10 bar"."""
    text = plain_powers(text)
    return without_factor(text)[1] != 1.0 or re.match(r" ?1/10+ ?[a-z]", text, re.IGNORECASE) is not None


def _is_unclear(text: str) -> bool:
    return _UNCLEAR.search(text) is not None and _OF_THE_GAUGE.search(text) is None


def _size(power: str) -> float:
    base, _, exponent = power.replace(" ", "").partition("^")
    return float(base) ** int(exponent) if exponent else float(base)


def _ends_in_unit(text: str) -> bool:
    parts = re.split(r"[\s(\[{,:]+", text.rstrip(" ([{,:)]}"))
    return any(pressure_unit(" ".join(parts[-n:])) is not None for n in (1, 2, 3) if len(parts) >= n)


def _starts_with_unit(text: str) -> bool:
    parts = re.split(r"[\s)\]},]+", text.lstrip(" "))
    return any(pressure_unit(" ".join(parts[:n])) is not None for n in (1, 2, 3) if len(parts) >= n)


Role = Literal["time", "date", "pressure", "temperature", "barometer", "remark", "number", "other"]
_BRACKETS = re.compile(r"[(\[{<]([^()\[\]{}<>]*)[)\]}>]")
_SPLIT = re.compile(r"[\s_,;:()\[\]{}]+")


@dataclass(frozen=True)
class Heading:
    """One column's heading: `text` as written and what it says."""

    text: str = ""
    role: Role = "other"
    unit: PressureUnit | None = None
    time_s: float | None = None
    temperature: str | None = None
    weak: bool = False
    vacuum: bool = False
    absolute: bool = False
    gauge: bool = False
    clock: bool = False
    elapsed: bool = False
    layout: str | None = None
    loss: bool = False
    factor: float = 1.0
    unclear: bool = False

    @property
    def name(self) -> str:
        """The heading for messages."""
        return self.text or "(no heading)"

    @property
    def unit_name(self) -> str | None:
        """Canonical name of the unit, or None."""
        return self.unit.name if self.unit else None


def heading(text: str) -> Heading:
    """The meaning of one heading; role "other" when it says nothing that is known."""
    shown = " ".join(tidy(plain_powers(text)).split())
    written = latin_units(shown)
    text, factor, unclear = without_factor(written)
    found = _plain_heading(text)
    if text == written and not unclear:
        return replace(found, text=shown)
    unit = found.unit and replace(found.unit, factor_pa=found.unit.factor_pa * factor)
    unclear = (unclear or found.role == "time") and found.role in ("time", "pressure", "other")
    return replace(found, text=shown, unit=unit, factor=factor, unclear=unclear)


def _plain_heading(text: str) -> Heading:
    """The meaning of a heading without a factor."""
    found = _heading(text)
    vague = found.role in ("other", "number") or (found.role == "pressure" and not found.unit)
    if vague and not found.time_s:
        apart = re.sub(r"(?<=[a-z]{3})(?=[A-Z])", " ", text)  # "PressureKPa", but never "pressurek Pa"
        if apart != text and set(words_of(apart)) & (_PRESSURE | VACUUM | _TIME - _CLOCK):
            return _heading(apart)
    return found


def _heading(text: str) -> Heading:
    known = set(words_of(text))
    unit = heading_pressure_unit(text)
    temperature = _temperature_unit(text, known)
    role, weak = _role(text, known, unit, temperature)
    reference = unit.reference if unit else None
    absolute = bool(known & _ABSOLUTE) or reference == "absolute"
    return Heading(
        text,
        role,
        unit if role in ("pressure", "barometer") else None,
        _time_unit(text) if role == "time" else None,
        temperature,
        weak,
        vacuum=bool(known & VACUUM),
        absolute=absolute,
        gauge=not absolute and (bool(known & _GAUGE) or reference == "gauge"),
        clock=bool(known & _CLOCK) or "time of day" in plain(text),
        elapsed=bool(known & _ELAPSED),
        layout=_layout(text) if role == "time" else None,
        loss=_is_loss(text, known) and role == "other",
    )


def _role(text: str, known: set[str], unit: PressureUnit | None, temperature: str | None) -> tuple[Role, bool]:
    """The role of a column, and whether it is a pressure only where no other column is."""
    if _counts_rows(words_of(text)):
        return "number", False
    if known & BAROMETER or (known & _AMBIENT and (unit or known & _PRESSURE)):
        return "barometer", False
    if known & _TEMPERATURE or (temperature and unit is None):
        return "temperature", False
    if known & DERIVED or _is_loss(text, known):
        return "other", False
    if unit is not None:
        return "pressure", False
    if known & _REMARK:
        return "remark", False
    return _plain_role(text, known)


def _counts_rows(names: list[str]) -> bool:
    number, of, alone = _ROW_NUMBERS
    if len(names) == 1:
        return names[0] in number | alone
    return len(names) == 2 and names[0] in of and names[1] in number


def _is_loss(text: str, known: set[str]) -> bool:
    return bool(known & LOSS or "δ" in plain(text) or _LOSS_COMPOUND.search(plain(text)))


def _plain_role(text: str, known: set[str]) -> tuple[Role, bool]:
    """Role of a heading without a pressure unit or a temperature."""
    if known & (_PRESSURE | VACUUM) and not known & _TIME:
        return "pressure", False
    if known & _DATE and not known & _TIME:
        return "date", False
    if known & _TIME or _layout(text) or _time_unit(text):
        return "time", False
    if known & _READING:
        return "pressure", True
    return "other", False


def _pieces(text: str) -> list[str]:
    """Runs of up to four words of a heading, longest first, slashes kept and then split."""
    pieces = [text]
    for tokens in (_SPLIT.split(text), _SPLIT.split(text.replace("/", " "))):
        tokens = [token for token in tokens if token]
        for size in (4, 3, 2, 1):
            pieces += [" ".join(tokens[i : i + size]) for i in range(len(tokens) - size + 1)]
    return pieces


def heading_pressure_unit(text: str) -> PressureUnit | None:
    """The pressure unit inside a heading such as "p / kPa", "Druck (bar)" or "pressure, in. w.c."."""
    bracketed = _BRACKETS.findall(text)
    found: PressureUnit | None = None
    for piece in [*bracketed, *_pieces(text)]:
        bare = plain(piece).strip(". ")
        if (bare == "at" and piece not in (text, *bracketed)) or bare.startswith("p "):
            continue  # "pressure at start" names no technical atmosphere, "p a" no pascal
        unit = pressure_unit(_without_accents(piece))
        if unit is not None and (found is None or (unit.name == found.name and unit.reference)):
            found = unit
            if unit.reference:
                break
    return found


def _without_accents(text: str) -> str:
    return text.replace("ü", "u").replace("Ü", "U").replace("é", "e")


def _time_unit(text: str) -> float | None:
    found = (time_unit_s(piece) for piece in [*_BRACKETS.findall(text), *reversed(_tokens(text))])
    return next((unit for unit in found if unit is not None), None)


def _tokens(text: str) -> list[str]:
    return [token for token in _SPLIT.split(text.replace("/", " ")) if token]


def _temperature_unit(text: str, known: set[str]) -> str | None:
    bracketed: list[str] = _BRACKETS.findall(text)
    tokens = _tokens(text)
    named = bool(known & _TEMPERATURE)
    for piece in [*bracketed, *(reversed(tokens) if len(tokens) != 1 else []), text]:
        letter = piece in bracketed and piece in ("C", "F", "K")
        signed = "°" in piece or len(piece.strip()) > 1 or named or letter
        if signed and piece.strip() and temperature_k(0.0, piece) is not None:
            return piece
    return None


def _layout(text: str) -> str | None:
    """ "m:s", "h:m" or "h:m:s" for a heading that spells the layout of its times."""
    match = re.search(r"\b(hh?:mm?:ss?|hh?:mm?|mm?[:.]ss?|min[:.]sec?|min:s)\b", plain(text))
    if not match:
        return None
    return ":".join(part[0] for part in re.split("[:.]", match.group(1)))


def merged(headings: list[str]) -> str:
    """One heading from the cells of several heading rows, repeats left out."""
    seen: list[str] = []
    for text in headings:
        if text and text not in seen:
            seen.append(text)
    return " ".join(seen)
