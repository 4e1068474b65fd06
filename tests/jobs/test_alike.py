"""Like with like: a test with a part blocked off is no "before", and speaks for nothing but its own parts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from leakdown.jobs.alike import last_before, set_ups
from leakdown.jobs.job_verdict import job_verdict
from leakdown.jobs.store import load
from leakdown.jobs.trend import kinds, trend
from tests.cli.program import leakdown
from tests.where.engines import Engine, Leak, run

pytestmark = pytest.mark.slow

TORN = Engine((Leak(500.0, 0.2, 0.8, "boot"), Leak(40.0, 0.9, 1.0, "case")))
CURED = Engine((Leak(40.0, 0.9, 1.0, "case"),))


def _log(folder: Path, name: str, engine: Engine, seed: int, sign: float = 1.0, blocked: bool = False) -> Path:
    log = run(engine, np.random.default_rng(seed), sign, sections=("case",) if blocked else ("boot", "case"))
    lines = ["# circuit: crankcase", f"# direction: {'pressure' if sign > 0 else 'vacuum'}"]
    lines += [f"# volume: {1e6 * (log.conditions.volume_m3 or 0):.0f} cm3", *(["# blocked: boot"] if blocked else [])]
    rows = [f"{t:.2f},{1e-3 * p:.3f}" for t, p in zip(log.time_s, log.pressure_pa, strict=True)]
    path = folder / name
    path.write_text("\n".join([*lines, "time_s,pressure_kpa", *rows]) + "\n", "utf-8")
    return path


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("alike")
    leakdown("job", "new", "B1", "--serial", "S7", "--folder", root / "jobs")
    before = [_log(root, "all.csv", TORN, 1), _log(root, "blocked.csv", TORN, 2, blocked=True)]
    leakdown("job", "add", "B1", *before, "--stage", "before", "--folder", root / "jobs")
    leakdown("job", "note", "B1", "--repair", "new boot", "--folder", root / "jobs")
    leakdown("job", "add", "B1", _log(root, "after.csv", CURED, 3), "--stage", "after", "--folder", root / "jobs")
    return root


def test_the_change_is_against_the_whole_circuit(shop: Path) -> None:
    job = load(shop / "jobs" / "B1")
    whole, blocked, after = job.tests
    assert set_ups(job.tests)[blocked.number].without == ("boot",)
    assert last_before(job, after) == (whole, (blocked,))
    assert after.change is not None and after.change.against == whole.number
    assert (after.change.value or 1.0) < 0.15  # 500 of 540 Pa/s went through the boot
    told = leakdown("job", "show", "B1", "--folder", shop / "jobs").out
    assert "% smaller" in told and "pressure test without boot, before the repair" in told


def test_verdict_and_trend_keep_the_parts_apart(shop: Path) -> None:
    job = load(shop / "jobs" / "B1")
    (circuit,) = job_verdict(job).circuits
    assert [t.recording.name for t in circuit.tests] == ["after.csv"]
    visits, _ = trend(shop / "jobs", "S7")
    assert {label for _, label in kinds(visits)} == {"pressure", "pressure, without boot"}


def test_no_like_pair_is_said(shop: Path) -> None:
    folder = shop / "jobs"
    leakdown("job", "new", "B2", "--folder", folder)
    leakdown("job", "add", "B2", shop / "blocked.csv", "--stage", "before", "--folder", folder)
    ran = leakdown("job", "add", "B2", shop / "after.csv", "--stage", "after", "--folder", folder)
    assert "no test before the repair is like it" in " ".join(ran.err.split())
    assert load(folder / "B2").tests[-1].change is None


def test_a_part_alone_is_no_pass_of_the_circuit(shop: Path) -> None:
    folder = shop / "jobs"
    leakdown("job", "new", "B3", "--folder", folder)
    leakdown("job", "add", "B3", shop / "all.csv", "--stage", "before", "--folder", folder)
    leakdown("job", "note", "B3", "--repair", "new boot", "--folder", folder)
    leakdown("job", "add", "B3", shop / "blocked.csv", "--stage", "after", "--folder", folder)
    (circuit,) = job_verdict(load(folder / "B3")).circuits
    assert circuit.word != "pass" and "a test of the whole circuit" in circuit.missing
