"""Changes to an input: of its bytes, its words, its lines, and of what is packed inside a workbook."""

from __future__ import annotations

import io
import random
import re
import zipfile

MOST_BYTES = 6_000
WORDS = [
    b"0", b"-1", b"1e999", b"nan", b"inf", b"9" * 30, b"1,5", b"1.5", b"0x1F", b"1e-320", b"-0", b"1:30", b"25:61:99",
    b"2024-02-31", b"2024-05-01T14:05:00Z", b"11:59 pm", b"kPa", b"psi", b"inHg", b"bar abs", b"250 cm3", b"40 kPa",
    b"6 kPa in 60 s from 40 kPa", b"vacuum", b"time (s)", b"p (kPa)", b"# volume: ", b"# direction: vacuum\n", b"\n",
    b"\r\n", b"\r", b"\t", b";", b",", b"|", b'"', b"'", b"\\", b"=", b":", b"[", b"]", b"{", b"}", b"(", b")", b"<",
    b">", b"&", b"%", b"$", b"\x00", b"\x1b[31m", b"\xff", b"\xef\xbb\xbf", b"\xff\xfe", "\u2212".encode(),
    "\u00bd".encode(), "\u0663".encode(), "\u202e".encode(), "\u2028".encode(), b"true", b"null", b'"x"', b"[[a]]",
    b"a.b.c = 1", b"'''", b'"""', b"[" * 2000, b"{a=" * 60, b"*" * 400, b"(a+)+$", b"(?P<pressure>.*)", b"1" * 5000,
]  # fmt: skip
_TOKEN = re.compile(rb"[A-Za-z_]+|[0-9]+(?:[.,:][0-9]+)*|\s+|[^A-Za-z_0-9\s]")


def mutated(data: bytes, dice: random.Random, others: list[bytes]) -> bytes:
    """The input with one to eight changes; `others` lend their parts."""
    if data[:2] == b"PK" and dice.random() < 0.8:
        return _inside(data, dice, others)
    for _ in range(1 << dice.randrange(4)):
        data = dice.choice(_CHANGES)(data, dice, others)
    return data[:MOST_BYTES] if data[:2] not in (b"PK", b"\xff\xd8", b"\x89P") else data


def _place(data: bytes, dice: random.Random) -> int:
    return dice.randrange(len(data) + 1)


def _bits(data: bytes, dice: random.Random, others: list[bytes]) -> bytes:
    if not data:
        return bytes([dice.randrange(256)])
    at = dice.randrange(len(data))
    return data[:at] + bytes([data[at] ^ 1 << dice.randrange(8)]) + data[at + 1 :]


def _word(data: bytes, dice: random.Random, others: list[bytes]) -> bytes:
    at, word = _place(data, dice), dice.choice(WORDS)
    return data[:at] + word + data[at + dice.choice((0, 0, len(word), 1)) :]


def _token(data: bytes, dice: random.Random, others: list[bytes]) -> bytes:
    """A word or number of the input becomes another: of its own, of another input, or an odd one."""
    tokens = list(_TOKEN.finditer(data))
    if not tokens:
        return data
    old = dice.choice(tokens)
    lender = dice.choice([data, data, *others]) if others else data
    new = dice.choice([*WORDS, *[found[0] for found in _TOKEN.finditer(lender[:4000])]])
    return data[: old.start()] + new + data[old.end() :]


def _cut(data: bytes, dice: random.Random, others: list[bytes]) -> bytes:
    a, b = sorted((_place(data, dice), _place(data, dice)))
    return data[:a] + data[b:] if b - a < len(data) // 2 else data[a:b]


def _twice(data: bytes, dice: random.Random, others: list[bytes]) -> bytes:
    a, b = sorted((_place(data, dice), _place(data, dice)))
    return data[:b] + data[a:b] * dice.choice((1, 1, 2, 20)) + data[b:]


def _lines(data: bytes, dice: random.Random, others: list[bytes]) -> bytes:
    """Lines leave, come twice or change places."""
    lines = data.splitlines(keepends=True)
    if len(lines) < 2:
        return data
    a, b = dice.randrange(len(lines)), dice.randrange(len(lines))
    kind = dice.randrange(3)
    if kind == 0:
        del lines[min(a, b) : max(a, b)]
    elif kind == 1:
        lines.insert(a, lines[b])
    else:
        lines[a], lines[b] = lines[b], lines[a]
    return b"".join(lines)


def _joined(data: bytes, dice: random.Random, others: list[bytes]) -> bytes:
    other = dice.choice(others) if others else data
    return data[: _place(data, dice)] + other[_place(other, dice) :]


_CHANGES = (_bits, _word, _token, _token, _token, _cut, _twice, _lines, _joined)


def _inside(data: bytes, dice: random.Random, others: list[bytes]) -> bytes:
    """One file in a zip changed, the zip whole again."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as old:
            parts = {info.filename: old.read(info) for info in old.infolist() if info.file_size < 200_000}
    except Exception:  # a zip fails in many ways, and is then bytes like any other
        return _bits(data, dice, others)
    if not parts:
        return data
    name = dice.choice(list(parts))
    if dice.random() < 0.1:
        del parts[name]
    else:
        for _ in range(1 << dice.randrange(3)):
            parts[name] = dice.choice(_CHANGES[:-1])(parts[name], dice, [])[:200_000]
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for each, content in parts.items():
            new.writestr(each, content)
    return out.getvalue()
