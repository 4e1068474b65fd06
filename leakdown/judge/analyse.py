"""The order in which a recording is examined, and nothing else."""

from __future__ import annotations

from dataclasses import dataclass, replace

from leakdown.analysis import Analysis
from leakdown.errors import InputError
from leakdown.judge.idle_air import idle_share_of
from leakdown.judge.marks import with_marks
from leakdown.judge.one_way import is_inflow, openings, outward_judged, sized_inflow
from leakdown.judge.pumping import not_building
from leakdown.judge.rig import Rig, without_rig
from leakdown.judge.tightness import Settings, analyse
from leakdown.recording import Recording


@dataclass(frozen=True)
class Also:
    """What is known besides the test: the engine's swept volume (m3) and the rig's own leak."""

    swept_m3: float | None = None
    rig: Rig | None = None


def examine(recording: Recording, settings: Settings | None = None, also: Also | None = None) -> Analysis:
    """Everything that one recording says. Raises InputError or UsageError when nothing can be said."""
    settings, also = settings or Settings(), also or Also()
    result = _judged(recording, settings)
    if recording.marks and result.leak is not None:
        result = with_marks(result, settings)
    if also.rig is not None:
        result = without_rig(result, also.rig)
    share = idle_share_of(result, also.swept_m3)
    return result if share is None else replace(result, findings=(*result.findings, share))


def _judged(recording: Recording, settings: Settings) -> Analysis:
    """Sized and judged as the circuit asks: parts that must pass air one way are judged by that."""
    if is_inflow(recording):
        return sized_inflow(recording, settings)
    popped = openings(recording, settings)
    if popped is not None:
        return popped
    result: Analysis | None = None
    trouble: InputError | None = None
    try:
        result = outward_judged(analyse(recording, settings), settings)
    except InputError as error:
        trouble = error
    stuck = not_building(recording, settings, result)
    if stuck is None and result is None:
        assert trouble is not None
        raise trouble
    return stuck or result  # type: ignore[return-value]
