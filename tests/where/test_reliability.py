"""Do the probabilities mean what they say? Virtual engines drawn from the knowledge file.

The draw and the odds share the file, so this checks the arithmetic and what the measurement costs, not
the trade's judgement. `python -m tests.where.reliability 200` prints the table for the README.
"""

from __future__ import annotations

import pytest

from tests.where.reliability import MODES, study


@pytest.mark.slow
@pytest.mark.slow
def test_probabilities_are_reliable(full: bool) -> None:
    rows = study(150 if full else 12)
    for mode in MODES[:-1]:
        told = rows[mode]
        if full:
            assert abs(told.mean_top - told.top_right) < 0.10, mode
    slack = 0.0 if full else 0.05
    assert rows["both"].truth_given >= rows["pressure only"].truth_given - slack
    assert rows["both + section"].truth_given > rows["both"].truth_given - slack
    if full:  # a false ratio, firmly believed, claims more than it knows
        over = {mode: rows[mode].mean_top - rows[mode].top_right for mode in ("both", "exponentials")}
        assert over["exponentials"] > over["both"]
