"""Inlet needle: does it open where it should, the same each time, close again and stay closed?"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from leakdown.analysis import Figure, Finding, Flag, Limit, Verdict, VerdictWord
from leakdown.circuits import Way, circuit
from leakdown.hold.parts import Parts
from leakdown.judge.judged import Judged, without_size
from leakdown.judge.limits import WHOSE, Source
from leakdown.judge.pop_offs import PopOff, pop_offs
from leakdown.judge.settings import Settings
from leakdown.quantities import parse_pressure
from leakdown.recording import Recording
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval, student_95

Kind = Literal["carburettor-inlet", "float-inlet"]

_T = tuned("judge")
REPEATS: int = _T.openings_wanted
SPREAD: float = _T.openings_spread


@dataclass(frozen=True)
class Opens:
    """Where a needle must open, Pa (lowest, highest), and who says so; None: it is held, never popped."""

    pa: tuple[float, float] | None
    whose: Source = "practice"

    @property
    def words(self) -> str:
        """ "70 to 200 kPa, common practice" """
        low, high = (f"{end / 1e3:.3g}" for end in self.pa or (0.0, 0.0))
        return f"{low} to {high} kPa, {'the maker' if self.whose == 'given' else WHOSE[self.whose]}"


@dataclass(frozen=True)
class NeedleResult:
    """Openings of one recording. spread: (highest - lowest) / mean of the openings, None below two."""

    pops: tuple[PopOff, ...]
    opening_pa: Interval | None
    reseat_pa: Interval | None
    spread: float | None
    highest_pa: float
    word: VerdictWord
    reason: str
    flags: tuple[Flag, ...]

    @property
    def hold_at_pa(self) -> float | None:
        """Where to hold a minute next: 70 % of the reseat pressure (common practice)."""
        if self.reseat_pa is None or self.reseat_pa.value is None:
            return None
        return float(_T.hold_at * self.reseat_pa.value)


def needle(
    recording: Recording, kind: Kind = "carburettor-inlet", range_pa: float | None = None, opens: Opens | None = None
) -> NeedleResult:
    """Judge a log of pop-offs. range_pa: the end of the gauge's scale, beyond which nothing was measured.

    opens: where it must open; as the circuit has it where not given.
    """
    known = circuit(kind).ways[0]
    p, t = recording.pressure_pa, recording.time_s
    pops = pop_offs(t, p, range_pa)
    measured = [pop for pop in pops if not pop.clipped]
    openings = np.array([pop.opening_pa for pop in measured])
    spread = float(np.ptp(openings) / openings.mean()) if openings.size > 1 else None
    highest = float(p.max(initial=0.0))
    found = NeedleResult(
        pops=pops,
        opening_pa=_mean(openings),
        reseat_pa=_mean(np.array([x.reseat_pa for x in measured if x.reseat_pa is not None])),
        spread=spread,
        highest_pa=highest,
        word="undecided",
        reason="",
        flags=_flags(recording, pops, highest, known, range_pa),
    )
    opens = opens or Opens(known.opens_pa)
    if not pops:
        word, reason = _without_pop(highest, known, range_pa)
    elif opens.pa is None:
        word, reason = _popped(found, known)
    else:
        word, reason = _judged(found, opens)
    return replace(found, word=word, reason=reason)


def _mean(values: np.ndarray) -> Interval | None:
    """Mean of repeats with its 95 % interval (Student); one value alone has no interval of its own."""
    if values.size == 0:
        return None
    mean = float(values.mean())
    if values.size == 1:
        return Interval(mean, mean * (1.0 - SPREAD), mean * (1.0 + SPREAD))
    half = student_95(values.size - 1) * float(values.std(ddof=1)) / values.size**0.5
    return Interval(mean, max(mean - half, 0.0), mean + half)


def _judged(found: NeedleResult, opens: Opens) -> tuple[VerdictWord, str]:
    pops, spread = found.pops, found.spread
    fault = _not_closed(pops)
    if fault is not None:
        return fault
    if any(pop.clipped for pop in pops):
        return "undecided", "It opened at the end of the gauge's range: use a gauge that reaches further."
    if spread is not None and spread > SPREAD:
        return (
            "fail",
            f"The openings differ by {100 * spread:.0f} % (more than {100 * SPREAD:.0f} %): dirt, a dry or "
            "worn needle. Wet it and repeat before changing it.",
        )
    if len(pops) < REPEATS:
        return "undecided", f"Only {len(pops)} of {REPEATS} openings: repeat, wet."
    word, reason = _where_it_opens(found, opens)
    if word == "pass" and not _stays_closed(pops):
        return "undecided", f"{reason} Whether it stays closed was not watched: wait a few seconds after each opening."
    return word, reason


def _stays_closed(pops: tuple[PopOff, ...]) -> bool:
    """Whether the openings together show that it does not dribble."""
    watched = np.array([pop.fall_per_s for pop in pops if pop.fall_per_s[1] < math.inf])
    if not watched.size:
        return False
    least, most = watched.T
    half = float(np.sqrt(np.sum(np.square(most - least)))) / 2.0 / most.size
    return bool(float(np.mean(least + most)) / 2.0 + half <= _T.dribbles_per_s)


def _not_closed(pops: tuple[PopOff, ...]) -> tuple[VerdictWord, str] | None:
    """What is wrong with its closing; None where nothing is. One dribble among several may have been dirt."""
    open_ = sum(pop.reseat_pa is None for pop in pops)
    if open_:
        return "fail", f"It does not close again ({open_} of {len(pops)} openings ran empty): seat, needle or dirt."
    dribbling = sum(pop.fall_per_s[0] > _T.dribbles_per_s for pop in pops)
    if not dribbling:
        return None
    after = f"after {dribbling} of {len(pops)} openings the pressure fell on by more than 1 % a second below"
    if 2 * dribbling < max(len(pops), 4):
        return "undecided", f"It may dribble: {after} the reseat pressure. Wet it and repeat."
    return "fail", f"It dribbles: {after} the reseat pressure."


def _where_it_opens(found: NeedleResult, opens: Opens) -> tuple[VerdictWord, str]:
    """Five openings that agree and close: are they where they should be?"""
    opening, reseat = found.opening_pa, found.reseat_pa
    assert opens.pa is not None and opening is not None and reseat is not None
    (low, high), at = opens.pa, opening.value or 0.0
    closes = (reseat.value or 0.0) / at
    said = f"It opens at {at / 1e3:.3g} kPa and closes at {100.0 * closes:.0f} % of that"
    least = low if opens.whose != "practice" else _T.far_below_usual * low
    if opening.high < least or (opening.low > high and opens.whose != "practice"):
        return "fail", f"{said}, however well it repeats: it must open at {opens.words}. Spring, lever or needle."
    if closes < _T.far_below_usual * _T.reseat_least:
        return "fail", f"{said}: a healthy one closes at half or more (common practice). Needle or seat worn or dirty."
    inside = low <= opening.low and opening.high <= high
    if not (inside if opens.whose != "practice" else low <= at <= high):
        return "undecided", f"{said}; it should open at {opens.words}. The maker's range decides (--opens)."
    if closes < _T.reseat_least:
        return "undecided", f"{said}; a healthy one closes at half or more (common practice). Clean, wet, repeat."
    agree = f"{len(found.pops)} openings agree within {100 * (found.spread or 0.0):.0f} %; each closes"
    return "pass", f"{agree}. {said} (wanted: {opens.words})."


def _popped(found: NeedleResult, known: Way) -> tuple[VerdictWord, str]:
    """A needle that is held and never popped was popped all the same."""
    at, target = found.pops[0].opening_pa, known.target_pa
    instead = f"Such a needle is held at {target / 1e3:g} kPa, at {known.caution_pa / 1e3:g} kPa at most, never popped"
    said = f"It opened at {at / 1e3:.3g} kPa"
    if found.highest_pa > _T.over_caution * known.caution_pa:
        return "undecided", f"{said}, forced. {instead}: hold it so, and judge it by that."
    fault = _not_closed(found.pops)
    if fault is not None:
        return fault
    if found.opening_pa is not None and found.opening_pa.high < _T.far_below_usual * target:
        return "fail", f"{said}, far below the {target / 1e3:g} kPa that it must hold (common practice)."
    return "undecided", f"{said}. {instead}."


def _without_pop(highest_pa: float, known: Way, range_pa: float | None) -> tuple[VerdictWord, str]:
    top, most = f"{highest_pa / 1e3:.3g} kPa", known.caution_pa
    if known.opens_pa is None:
        return "undecided", f"A float needle need not open: it held up to {top}; judge it by its hold."
    if range_pa is not None and highest_pa >= _T.full_scale * range_pa:
        return "undecided", f"It did not open up to the gauge's end ({top}): use one that reaches further."
    if highest_pa >= most:
        return "fail", f"It does not open up to {top}: needle stuck, lever or spring wrong, passage blocked."
    reach = f"slowly, to {most / 1e3:g} kPa at most and within the gauge's range"
    return "undecided", f"It did not open up to {top}; pump on, {reach}."


def _flags(
    recording: Recording, pops: tuple[PopOff, ...], highest_pa: float, known: Way, range_pa: float | None
) -> tuple[Flag, ...]:
    slow = recording.time_s.size > 1 and float(np.median(np.diff(recording.time_s))) > _T.slow_log_s
    held = "float" if known.opens_pa is None else "diaphragm"
    holds = {
        "slow-log": slow,
        "range-unknown": range_pa is None,
        "over-range": any(pop.clipped for pop in pops),
        f"over-caution-pressure/{held}": highest_pa > _T.over_caution * known.caution_pa,
    }
    figures = {"kpa": highest_pa / 1e3, "caution_kpa": known.caution_pa / 1e3}
    return tuple(Flag.of("judge", code, **figures) for code, so in holds.items() if so)


def judged_openings(recording: Recording, parts: Parts, limit: Limit | None, settings: Settings) -> Judged | None:
    """A log in which an inlet needle was pumped open, judged by its openings; None when it was not.

    A limit of its own, or a hold chosen by hand, asks for the hold instead. One that does not open at the
    ceiling is judged by that, however well it holds.
    """
    own = limit is not None and limit.source != "practice"
    if own or settings.hold_s is not None or recording.direction != "pressure":
        return None
    opens = Opens(*settings.opens_for(recording))
    found = needle(recording, recording.circuit, _range_pa(recording, settings), opens)  # type: ignore[arg-type]
    if not found.pops and found.word != "fail":
        return None
    words = Limit(_wanted(opens), "words", opens.whose)
    verdict = Verdict(found.word, words, None, "reading", found.reason)
    span = float(recording.time_s[0]), float(recording.time_s[-1])
    return Judged(without_size(recording, parts.resolution, span, verdict, (_opened(found),), found.flags), None)


def _wanted(opens: Opens) -> str:
    """What counts, as the text of a limit."""
    if opens.pa is None:
        return "held, never popped"
    closing = f"each closing at {100 * _T.reseat_least:.0f} % of it or more"
    return f"{REPEATS} openings within {100 * SPREAD:.0f} %, at {opens.words}, {closing}"


def _range_pa(recording: Recording, settings: Settings) -> float | None:
    """The end of the gauge's scale: as given, else as the file's head says it ("range: 100 kPa")."""
    said = recording.conditions.other("range")
    if settings.gauge_range_pa is not None or not said:
        return settings.gauge_range_pa
    return abs(parse_pressure(said, "range").value_pa)


def _opened(found: NeedleResult) -> Finding:
    rows = [
        Figure(key, label, "kPa", interval.scaled(1e-3))
        for key, label, interval in (
            ("opening_kpa", "Opens at", found.opening_pa),
            ("reseat_kpa", "Closes at", found.reseat_pa),
        )
        if interval is not None
    ]
    if found.spread is not None:
        percent = 100.0 * found.spread
        rows.append(Figure("spread_percent", "Openings differ by", "%", Interval(percent, percent, percent)))
    opened = ", ".join(map(_opening_words, found.pops))
    sentence = f"Opened and closed at, kPa: {opened}." if opened else f"Pumped up to {found.highest_pa / 1e3:.3g} kPa."
    if found.hold_at_pa is not None:
        sentence += f" Next: hold {found.hold_at_pa / 1e3:.3g} kPa (70 % of where it closes) for a minute."
    return Finding("openings", "Openings of the needle", sentence, tuple(rows), instead=True)


def _opening_words(pop: PopOff) -> str:
    opened = f"{'over ' if pop.clipped else ''}{pop.opening_pa / 1e3:.3g}"
    return f"{opened}, not closed" if pop.reseat_pa is None else f"{opened} to {pop.reseat_pa / 1e3:.3g}"
