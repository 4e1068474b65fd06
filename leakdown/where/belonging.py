"""Whether the tests are of one engine as it stood: what notes, dates, volumes and the readings tell of it."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import combinations

import numpy as np

from leakdown.analysis import Flag
from leakdown.judge.judged import FittedTest
from leakdown.tuned import tuned
from leakdown.where.located import Ratio, warning
from leakdown.where.tests import RIG

_T = tuned("where")
_BEFORE = re.compile(r"\b(?:before|prior to|as it came|as received|old)\b")
_AFTER = re.compile(r"\b(?:after|since|repaired|retest|replaced|fixed|new|fitted)\b")
_ENGINES = ("engine", "machine", "serial", "model")
"""Keys of a recording that say whose engine it is."""

NAMED_DOUBTS = ("copied", "two-volumes")
"""Codes of doubts that no answer removes: the files themselves show them."""


@dataclass(frozen=True)
class Belonging:
    """usual: probability, before the readings are compared, that the tests belong together. most: no more than this,
    whatever they show. doubts: what speaks against it, by code and text. asked: somebody said that they do.
    """

    usual: float = 1.0
    most: float = 1.0
    doubts: tuple[Flag, ...] = ()
    asked: bool = False


def belonging(
    tests: Sequence[FittedTest], inside: Sequence[frozenset[str]], said: str | None = None, ratio: Ratio | None = None
) -> Belonging:
    """What is known of it. said: "yes" or "no" where somebody was asked whether it was one set-up without a repair.

    ratio: of the directions. Where they differ and nothing else speaks, what they say rests on one engine alone.
    """
    if len(tests) < 2:
        return Belonging(asked=said is not None)
    if said == "no":
        return Belonging(_T.strangers, 1.0, (warning("not-together/said"),), True)
    pairs = list(combinations(range(len(tests)), 2))
    doubts: dict[str, tuple[float, Flag]] = {}
    for i, j in pairs:
        same = inside[i] == inside[j]
        for odds, flag in _doubts(tests[i], tests[j], same):
            if odds < doubts.get(flag.code + flag.text, (math.inf, flag))[0]:
                doubts[flag.code + flag.text] = (odds, flag)
    usual = _T.together_usual if said is None else _T.together_said
    odds = usual / (1.0 - usual)
    count = [(factor, flag) for factor, flag in doubts.values() if said is None or flag.code in NAMED_DOUBTS]
    odds *= math.prod(factor for factor, _ in count)
    shut = any(inside[i] == inside[j] and _shut(tests[i], tests[j]) for i, j in pairs)
    alone = len({s for h, s in zip(tests, inside, strict=True) if h.analysis.circuit != RIG}) == 1
    rests = shut or (alone and ratio is not None and not about_one(ratio))
    most = _T.together_unasked if rests and said is None else 1.0
    if any(flag.code in NAMED_DOUBTS for _, flag in count):
        most = _T.strangers_below
    return Belonging(odds / (1.0 + odds), most, tuple(flag for _, flag in count), said is not None)


def about_one(ratio: Ratio) -> bool:
    """Whether both directions leak alike, as a fixed hole does."""
    size = ratio.value or ratio.at_least or ratio.high or 1.0
    return bool(_T.fixed_hole_least <= size <= _T.fixed_hole_most)


def _shut(one: FittedTest, other: FittedTest) -> bool:
    """One direction leaks and the other holds: a lip does that, and so does a repair between them."""
    if one.inward == other.inward or any(h.has("pressure-rises") for h in (one, other)):
        return False
    failing = [h.analysis.verdict is None or h.analysis.verdict.word != "pass" for h in (one, other)]
    leaking = [h for h, fails in zip((one, other), failing, strict=True) if h.detected and fails]
    return len(leaking) == 1 and (one.tight or other.tight)


def _doubts(one: FittedTest, other: FittedTest, same_sections: bool) -> list[tuple[float, Flag]]:
    """(factor on the odds of belonging together, what is said) for two tests."""
    names = {"first": one.analysis.recording.source, "second": other.analysis.recording.source}
    found = []
    if _copied(one, other):
        found.append((_T.copied, warning("copied", **names)))
    if same_sections and RIG not in (one.analysis.circuit, other.analysis.circuit) and _two_volumes(one, other):
        volumes = {"one": 1e6 * (one.volume_m3 or 0.0), "other": 1e6 * (other.volume_m3 or 0.0)}
        found.append((_T.two_volumes, warning("two-volumes", **names, **volumes)))
    if RIG in (one.analysis.circuit, other.analysis.circuit):
        return found
    a, b = (h.analysis.recording.conditions for h in (one, other))
    if any(_key(a, key) and _key(b, key) and _key(a, key) != _key(b, key) for key in _ENGINES):
        found.append((_T.other_engine, warning("not-together/engine", **names)))
    told = {_stage(h) for h in (one, other)}
    if told == {"before", "after"}:
        found.append((_T.repair_between, warning("not-together/repair", **names)))
    elif "after" in told and len(told) == 2:
        found.append((_T.perhaps_repaired, warning("not-together/perhaps", **names)))
    apart = _hours_apart(a.started, b.started)
    if apart is not None and apart > _T.one_session_h:
        found.append((_T.other_day, warning("not-together/day", **names, days=max(round(apart / 24.0), 1))))
    return found


def _key(conditions: object, key: str) -> str:
    return str(dict(getattr(conditions, "extra", ())).get(key, "")).strip().lower()


def _stage(h: FittedTest) -> str:
    """ "before" or "after" a repair, as a note, a key or the file's name says; "" where none does."""
    c, source = h.analysis.recording.conditions, h.analysis.recording.source
    stem = re.sub(r"[^a-z]+", " ", source.lower().rsplit(".", 1)[0])
    for text in (_key(c, "stage"), (c.note or "").lower(), stem):
        before, after = bool(_BEFORE.search(text)), bool(_AFTER.search(text))
        if before != after:
            return "before" if before else "after"
    return ""


def _hours_apart(one: str | None, other: str | None) -> float | None:
    times = []
    for text in (one, other):
        try:
            times.append(datetime.fromisoformat(text or "").replace(tzinfo=None))
        except ValueError:
            return None
    return abs((times[0] - times[1]).total_seconds()) / 3600.0


def _two_volumes(one: FittedTest, other: FittedTest) -> bool:
    a, b = one.volume_m3, other.volume_m3
    if not a or not b:
        return False
    doubts = [(h.analysis.used.volume_u_m3.value or 0.0) / v for h, v in ((one, a), (other, b))]
    return bool(abs(math.log(a / b)) > max(_T.one_volume, math.hypot(*doubts)))


def _copied(one: FittedTest, other: FittedTest) -> bool:
    """The readings of one are those of the other, turned about or scaled, closer than any two holds scatter."""
    a, b = (h.analysis.recording for h in (one, other))
    if one.inward == other.inward or a.time_s.size != b.time_s.size:
        return False
    if not np.allclose(np.diff(a.time_s), np.diff(b.time_s), rtol=0.0, atol=1e-3):
        return False
    x, y = a.pressure_pa, b.pressure_pa
    bends = [np.diff(z, 2) for z in (x, y)]
    if min(int(np.count_nonzero(bend)) for bend in bends) < _T.copied_least:
        return False  # too few readings; two holds that stand, or fall evenly, are alike by nature
    scatter = float(np.linalg.norm(bends[1])) / math.sqrt(6.0)  # white noise: its second differences are 6 times it
    apart = y - x * (float(x @ y) / float(x @ x))
    return bool(np.linalg.norm(apart) < _T.copied_alike * scatter)
