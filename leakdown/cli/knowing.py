"""What a command knows besides the test: the engine's size and the rig's own leak, kept by name."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from leakdown.cli.present import tell
from leakdown.errors import UsageError
from leakdown.quantities import parse_volume
from leakdown.recording import circuit_named

if TYPE_CHECKING:
    from leakdown.analysis import Analysis
    from leakdown.judge.analyse import Also
    from leakdown.judge.rig import Rig


def also_from(displacement: str | None, rig: str | None, rigs: Path | None, circuit: str | None) -> Also:
    """As typed. Raises UsageError, RecordError for a rig that is not kept."""
    from leakdown.judge.analyse import Also
    from leakdown.judge.rig_store import folder_of, load, path_of

    swept = parse_volume(displacement, "--displacement") if displacement else None
    if swept is not None and not swept > 0.0:
        raise UsageError(f"--displacement {displacement!r} is not above zero", remedy='Give it as "50 cm3".')
    if rig is None:
        return Also(swept)
    itself = circuit is not None and circuit_named(circuit) == "rig"
    if itself:
        path_of(rig, folder_of(rigs))  # a name that cannot be kept is said before the work
        return Also(swept)
    return Also(swept, rig=load(rig, folder_of(rigs)))


def keep_rig(name: str, rigs: Path | None, result: Analysis, silent: bool) -> Rig:
    """Keep what the capped rig leaked, by name. Raises UsageError when the test has no leak rate."""
    from leakdown.judge.rig import rig_leak, with_leak
    from leakdown.judge.rig_store import folder_of, load_or_new, save

    folder = folder_of(rigs)
    c = result.recording.conditions
    leak = rig_leak(result, c.started or datetime.date.today().isoformat())
    rig = with_leak(load_or_new(name, folder), leak, c.volume_m3, c.volume_u_m3)
    tell(f"Rig {name} kept: {save(rig, folder)}", silent)
    return rig
