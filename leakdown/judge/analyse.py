"""One recording in, one `Analysis` out. The circuit's question picks the judge before anything is fitted.

holds               does it hold? (and first: does it build up at all?)      tightness, pumping
lets air in         does enough air get in through a tank's vent?            vent
holds or relieves   what does that vent do outward?                          vent
opens and closes    does an inlet needle open where it should, and close?    needle
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

from leakdown.analysis import Analysis, Flag, Limit
from leakdown.circuits import circuit
from leakdown.errors import InputError
from leakdown.hold.parts import Parts, parts_of
from leakdown.judge.flags import far_above_caution
from leakdown.judge.idle_air import idle_share_of
from leakdown.judge.judged import FittedTest, Judged, fitted_test
from leakdown.judge.lax_limit import with_strict
from leakdown.judge.marks import with_marks
from leakdown.judge.needle import judged_openings
from leakdown.judge.pumping import judged_pumping
from leakdown.judge.rig import without_rig
from leakdown.judge.settings import Settings
from leakdown.judge.supply import pump_unsaid
from leakdown.judge.tightness import judged_tightness
from leakdown.judge.vent import judged_filling, judged_inward, judged_outward
from leakdown.recording import Doubt, Recording


def analyse(recording: Recording, settings: Settings | None = None) -> Analysis:
    """Everything that one recording says; settings None takes what the shop has set.

    Raises InputError or UsageError when nothing can be said.
    """
    return judged(recording, settings).analysis


def judged(recording: Recording, settings: Settings | None = None) -> Judged:
    """The analysis, and the fit of the hold that it rests on. Raises what `analyse` raises."""
    settings = Settings.of_shop() if settings is None else settings
    recording = settings.filled_in(recording)
    hold = _last_hold(recording) if settings.hold_s is None else recording
    parts = parts_of(hold, settings.hold_s)

    def by_limit(limit: Limit | None) -> Judged:
        return _finished(_judged(hold, parts, limit, settings), recording, settings)

    found = by_limit(settings.limit_for(recording))
    result = with_strict(found.analysis, lambda strict: by_limit(strict).analysis)
    return replace(found, analysis=with_marks(result, found.fit))


def _finished(found: Judged, recording: Recording, settings: Settings) -> Judged:
    """What was judged with all that belongs to the result besides its hold and its marks."""
    result = replace(found.analysis, recording=recording)
    rig = settings.rig_for(recording)
    if rig is not None:
        result = without_rig(result, rig)
    result = replace(result, flags=(*result.flags, *pump_unsaid(result)))
    share = idle_share_of(result, settings.swept_m3)
    if share is not None:
        result = replace(result, findings=(*result.findings, share))
    doubts = (*far_above_caution(result), *_open_doubts(recording, settings.hold_s))
    return Judged(_doubted(result, doubts), found.fit)


def _last_hold(recording: Recording) -> Recording:
    """The last hold of a sheet that holds several: what was pumped up again was to be read then."""
    return recording.between(*recording.holds[-1]) if recording.holds else recording


def _open_doubts(recording: Recording, hold_s: tuple[float, float] | None) -> tuple[Doubt, ...]:
    """The reader's doubts without those that a hold chosen by hand, inside one of several, settles."""
    chosen = hold_s is not None and any(a <= hold_s[0] and hold_s[1] <= b for a, b in recording.holds)
    return tuple(d for d in recording.doubts if not (chosen and d.code == "pumped-again"))


def _doubted(result: Analysis, doubts: tuple[Doubt, ...]) -> Analysis:
    """The result with the reader's doubts as flags; a barring doubt leaves no pass."""
    flags = tuple(Flag(doubt.code, doubt.text) for doubt in doubts)
    result = replace(result, flags=(*result.flags, *flags))
    barred = next((doubt for doubt in doubts if doubt.bars_pass), None)
    if barred is None or result.verdict is None or result.verdict.word != "pass":
        return result
    verdict = replace(result.verdict, word="undecided", reason=_sentence(barred.text), remedy="")
    return replace(result, verdict=verdict)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:].rstrip(".") + ("" if text.endswith("?") else ".")


def fitted(recording: Recording, settings: Settings | None = None) -> FittedTest:
    """Analyse one recording for a comparison. Raises what `analyse` raises, and when it has no hold."""
    return fitted_test(judged(recording, settings))


def _judged(recording: Recording, parts: Parts, limit: Limit | None, settings: Settings) -> Judged:
    way = circuit(recording.circuit).way(recording.direction)
    question = "holds" if way is None else way.question
    if question == "lets air in":
        return judged_inward(recording, parts, limit, settings)
    if question == "opens and closes":
        opened = judged_openings(recording, parts, limit, settings)
        if opened is not None:
            return opened
    return _held_or_pumped(recording, parts, limit, settings, question == "holds or relieves")


def _held_or_pumped(
    recording: Recording, parts: Parts, limit: Limit | None, settings: Settings, relieves: bool
) -> Judged:
    """Judged by its hold, or by what a vent does; by the strokes when it did not build up; else the trouble."""
    held, trouble = None, None
    try:
        held = judged_tightness(recording, parts, limit, settings)
    except InputError as error:
        trouble = error
    pumped = judged_pumping(recording, parts, limit, settings, held)
    if pumped is not None and relieves and parts.pumping is not None:
        pumped = judged_filling(pumped, parts.pumping.held_pa, settings.vent_kind)
    elif relieves:
        with suppress(InputError):  # too little of the vent alone: its hold counts
            held = judged_outward(parts, held, limit, settings)
    found = pumped or held
    if found is None:
        raise trouble or InputError("nothing can be said of it", where=recording.source)
    return found
