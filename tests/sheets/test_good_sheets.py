"""Every sheet of `cases` gives the readings that a person would read from it."""

from __future__ import annotations

import numpy as np
import pytest

from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions
from tests.sheets.cases import GOOD, Good


@pytest.mark.parametrize("case", GOOD, ids=lambda case: case.name)
def test_reads_what_a_person_reads(case: Good) -> None:
    data = case.text if isinstance(case.text, bytes) else case.text.encode()
    recording = read_bytes(data, "sheet.csv", ReadingOptions(**case.options))
    np.testing.assert_allclose(recording.time_s, case.seconds, atol=1e-3)
    # Five digits: the factors of the cases are the rounded ones that the source prints.
    np.testing.assert_allclose(recording.pressure_pa / 1e3, case.kpa, rtol=2e-5, atol=2e-4)
    assert recording.by_hand
