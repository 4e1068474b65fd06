"""Random sheets with two tests, and random logs about an atmosphere: picked, refused or read."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest

from leakdown.errors import InputError
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions
from tests.sheets.generated_pairs import log, pair


def _read(text: str, direction: Literal["pressure", "vacuum"] | None = None) -> list[float] | None:
    try:
        recording = read_bytes(text.encode(), "sheet.csv", ReadingOptions(direction=direction))
    except InputError:
        return None
    return (recording.pressure_pa / 1e3).tolist()


@pytest.mark.slow
def test_a_direction_picks_its_test_and_none_is_picked_without() -> None:
    for seed in range(200):
        made = pair(seed)
        assert _read(made.text) is None, seed
        for direction, kpa in (("pressure", made.pressure_kpa), ("vacuum", made.vacuum_kpa)):
            found = _read(made.text, direction)  # type: ignore[arg-type]
            assert found is not None, seed
            np.testing.assert_allclose(found, kpa, rtol=1e-5)


@pytest.mark.slow
def test_logs_about_an_atmosphere_are_refused_and_gauge_logs_are_read() -> None:
    for seed in range(100):
        air = float(np.random.default_rng(seed).uniform(85.0, 104.5))
        for head, mark in (("time (s);kPa\n", ";"), ("time_s,pressure_kpa\n", ",")):
            for level, refused in ((air, True), (0.0, False)):
                time_s, kpa = log(seed, level)
                rows = (f"{t:.2f}{mark}{p:.2f}\n" for t, p in zip(time_s, kpa, strict=True))
                assert (_read(head + "".join(rows)) is None) == refused, (seed, level)
