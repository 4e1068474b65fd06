"""Headings with a factor: "kPa x 10" and "(x100 Pa)" as on a dial, where the reading is to be multiplied."""

from __future__ import annotations

import re

from leakdown.quantities import pressure_unit

_TIMES = r"[x\u00d7*\u00b7\u22c5]"
_POWER = r"(10{1,5}|10 ?\^ ?-?\d)"
_FACTOR = re.compile(
    rf"(?<![\w.,]){_TIMES} ?{_POWER}(?![\d.,^])|(?<![\w.,]){_POWER} ?{_TIMES}(?!\w)", re.IGNORECASE
)
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
    match = _UNCLEAR.search(text)
    return match is not None and not re.search(
        r"range|gauge|dial|scale|full|resol|step|div", text, re.IGNORECASE
    )


def _size(power: str) -> float:
    base, _, exponent = power.replace(" ", "").partition("^")
    return float(base) ** int(exponent) if exponent else float(base)


def _ends_in_unit(text: str) -> bool:
    words = re.split(r"[\s(\[{,:]+", text.rstrip(" ([{,:)]}"))
    return any(pressure_unit(" ".join(words[-n:])) is not None for n in (1, 2, 3) if len(words) >= n)


def _starts_with_unit(text: str) -> bool:
    words = re.split(r"[\s)\]},]+", text.lstrip(" "))
    return any(pressure_unit(" ".join(words[:n])) is not None for n in (1, 2, 3) if len(words) >= n)
