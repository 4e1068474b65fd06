"""Do the probabilities mean what they say? Virtual engines drawn from the knowledge file.

The draw and the odds share the file, so this checks the arithmetic and what the measurement costs, not
the trade's judgement. `python -m tests.diagnose.reliability 200` prints the table for the README.
"""

from __future__ import annotations

import pytest

from tests.diagnose.reliability import MODES, study


@pytest.mark.slow
def test_probabilities_are_reliable(full: bool) -> None:
    rows = study(150 if full else 12)
    for mode in MODES:
        told = rows[mode]
        if full:
            assert abs(told.mean_top - told.top_right) < 0.10, mode
    assert rows["both"].truth_given >= rows["pressure only"].truth_given - (0.0 if full else 0.05)
    assert rows["both + section"].truth_given > rows["both"].truth_given - (0.0 if full else 0.05)
    if full:
        assert rows["both"].group_right > rows["exponentials"].group_right
