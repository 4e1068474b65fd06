"""An estimate carried on with the readings that came since: one fit from where the last one stood. Pure.

The full analysis tries many starts and shapes; a hold that looked like a plain leak a moment ago needs only
the last of these fits again. Its interval leaves out what other views would add (altitude, odd shapes).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Analysis
from leakdown.estimate.inputs import temperature_k
from leakdown.estimate.leak import Vessel, size
from leakdown.estimate.model import GROWTH, OPENING, HoldModel
from leakdown.estimate.readings import prepare
from leakdown.estimate.search import Found, search
from leakdown.physics.balance import NotSolved

Array = NDArray[np.float64]
LEAST = 20
"""Readings in the hold from which a refit is worth while."""


def can_be_carried_on(last: Analysis, found: Found) -> bool:
    """A plain leak, sized: neither opening nor growing."""
    return last.leak is not None and not found.fit.parameters[[OPENING, GROWTH]].any()


def carried_on(
    last: Analysis, found: Found, time_s: Array, pressure_pa: Array
) -> tuple[Analysis, Found] | None:
    """`last` with its leak estimated anew, and the new fit; None where only a full analysis will do."""
    after = time_s >= last.hold.closed_s
    if not can_be_carried_on(last, found) or int(after.sum()) < LEAST:
        return None
    resolution_pa = last.used.resolution_pa.value or 0.0
    readings = prepare(time_s[after] - last.hold.closed_s, pressure_pa[after], resolution_pa, False)
    before = found.model
    model = HoldModel(readings, before.ambient_pa, before.inward, before.quote_pa, before.priors)
    try:
        again = search(model, "plain", found.fit.parameters)
        if not again.fit.converged:
            return None
        sized = size(again, before.quote_pa, _vessel(last))
    except NotSolved:
        return None
    return (replace(last, leak=sized.estimate), sized.found) if sized.complete else None


def _vessel(last: Analysis) -> Vessel:
    used = last.used
    return Vessel(
        used.volume_m3.value,
        used.volume_u_m3.value,
        temperature_k(used),
        used.discharge_coefficient.value or 1.0,
    )
