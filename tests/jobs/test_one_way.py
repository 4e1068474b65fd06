"""Tests of parts that must pass air, and of circuits that will not pump up, in a job's record."""

import numpy as np
import pytest

from tests.cli.program import leakdown

pytestmark = pytest.mark.slow


def sheet(size_kpa, every, *head):
    rows = "\n".join(f"{k * every:.2f},{p:.3f}" for k, p in enumerate(size_kpa))
    return "\n".join([*(f"# {line}" for line in head), "time_s,pressure_kpa", rows]) + "\n"


TANK = ("circuit: tank", "direction: vacuum", "volume: 500 cm3")
T = np.arange(0.0, 60.0, 0.5)


def test_a_blocked_vent_is_at_fault_and_names_no_place_of_a_leak(tmp_path):
    (tmp_path / "vent.csv").write_text(sheet(-8.0 + 0.01 * np.sin(T), 0.5, *TANK))
    leakdown("job", "new", "J", cwd=tmp_path)
    ran = leakdown("job", "add", "J", "vent.csv", cwd=tmp_path)
    assert ran.status == 0 and "BLOCKED" in ran.out
    shown = leakdown("job", "show", "J", cwd=tmp_path).out
    assert "The tank and vent is at fault" in shown and "Finding" not in shown
    page = (tmp_path / "jobs" / "J" / "report.html").read_text()
    assert "BLOCKED" in page


def test_a_healthy_vent_does_what_it_must(tmp_path):
    (tmp_path / "vent.csv").write_text(sheet(-1.5 - 6.5 * np.exp(-T / 4.0), 0.5, *TANK))
    leakdown("job", "new", "J", cwd=tmp_path)
    assert leakdown("job", "add", "J", "vent.csv", cwd=tmp_path).out.startswith("PASS")
    record = (tmp_path / "jobs" / "J" / "job.json").read_text()
    assert '"kind": "inflow"' in record


def test_the_file_s_own_limit_counts(tmp_path):
    held = 45.0 * np.exp(-T / 300.0)
    (tmp_path / "case.csv").write_text(
        sheet(held, 0.5, "circuit: crankcase", "volume: 250 cm3", "limit: 3 kPa in 30 s")
    )
    leakdown("job", "new", "J", cwd=tmp_path)
    assert "3 kPa in 30 s" in leakdown("job", "add", "J", "case.csv", cwd=tmp_path).out
