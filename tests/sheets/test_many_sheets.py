"""Hundreds of random hand sheets of known truth: each is read right or refused, and few are refused."""

from __future__ import annotations

import numpy as np
import pytest

from leakdown.errors import InputError
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions
from tests.sheets.generated import Sheet, sheet

SEEDS = 600
MOST_REFUSED = 18


def _right(made: Sheet) -> bool | None:
    """Whether a sheet is read as it was meant; None where it is refused."""
    try:
        recording = read_bytes(made.text.encode(), "sheet.csv", ReadingOptions(**made.options))
    except InputError as error:
        assert error.remedy
        return None
    if recording.time_s.size != len(made.seconds):
        return False
    conditions = recording.conditions
    return bool(
        np.allclose(recording.time_s - recording.time_s[0], made.seconds, atol=1e-3)
        and np.allclose(recording.pressure_pa / 1e3, made.kpa, rtol=1e-5, atol=1e-9)
        and (conditions.volume_m3 or 0.0) == pytest.approx(made.conditions.get("volume_m3", 0.0))
        and (conditions.barometer_pa or 0.0) == pytest.approx(made.conditions.get("barometer_pa", 0.0), rel=1e-4)
        and ("displacement" in dict(conditions.extra)) == made.displacement
    )


@pytest.mark.slow
def test_every_sheet_is_read_right_or_refused() -> None:
    results = {seed: _right(sheet(seed)) for seed in range(SEEDS)}
    wrong = [seed for seed, result in results.items() if result is False]
    assert wrong == []
    assert sum(result is None for result in results.values()) <= MOST_REFUSED
