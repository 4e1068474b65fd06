"""Records made by hand: no estimate is run, so that the tests of records stay quick."""

from __future__ import annotations

from dataclasses import replace

from leakdown.jobs.record import (
    Engine,
    Job,
    Note,
    StoredChange,
    StoredFlag,
    StoredPlace,
    StoredRecording,
    StoredResult,
    Test,
    TestInputs,
)
from leakdown.recording import Conditions

NASTY = '<script>window.ran = true</script><img src=http://example.invalid/a onerror=alert(1)> "&\x1b[31m'
DAY = "2026-03-0{}T09:30:00+01:00"


def found(verdict: str, circuit: str, direction: str, rate: float | None, detected: bool = True) -> StoredResult:
    """A stored result with the figures that lists and stories use."""
    leak = None
    if rate is not None:
        leak = {"value_pa_m3_s": rate, "low_pa_m3_s": 0.9 * rate, "high_pa_m3_s": 1.1 * rate}
        leak |= {"at_pressure_kpa": 35.0, "confidence": 0.95, "detected": detected, "detection_limit_pa_m3_s": 1e-5}
    figures = {"circuit": circuit, "direction": direction, "leak_rate": leak, "loss_kpa_per_min": None}
    figures |= {"limit": {"text": "7 kPa in 60 s from 40 kPa"}, "hold": {"start_s": 1.0, "end_s": 61.0}}
    flags = (StoredFlag("ambient-assumed", "The barometer was taken as 101.3 kPa; give the bench's."),) * 2
    return StoredResult(verdict, "3 kPa lost: said at length for a realistic size.", "The leak is 7 cm3/min.",
                 "leak 7 cm3/min", detected, flags, figures, "0.1.0")  # fmt: skip


def test_entry(
    number: int,
    verdict: str = "pass",
    stage: str = "before",
    direction: str = "pressure",
    circuit: str = "crankcase",
    rate: float | None = 0.01,
    **changes: object,
) -> Test:
    """A test with everything a pass needs."""
    conditions = Conditions(circuit=circuit, direction=direction, volume_m3=236e-6, gauge="gauge 1")
    inputs = TestInputs(conditions, connection_proven=True, blanks_checked=True)
    recording = StoredRecording(f"{number}.csv", f"{number}.csv", f"{number:064x}", 10)
    entry = Test(number, DAY.format(number % 9 + 1), stage, recording, inputs, found(verdict, circuit, direction, rate))
    return replace(entry, **changes)


test_entry.__test__ = False


def note(number: int, text: str = "said", kind: str = "note", **more: object) -> Note:
    """A note of any kind."""
    return Note(number, DAY.format(number % 9 + 1), kind, text, **more)


SEAL = StoredPlace("Consistent with the shaft seal: 80 %.", "shaft-seal", "shaft seal", "seal-drive-side",
             "seal, drive side", 0.8, "Grease one seal.", "It tells most.")  # fmt: skip


def job(*entries: object, **head: object) -> Job:
    """A job of these entries."""
    return Job("2026-017", DAY.format(1), Engine(**({"engine": "Pump 40", "serial": "P-1"} | head)), entries)


def full_job() -> Job:
    """Before, repair, after, verdict."""
    change = StoredChange(1, "smaller", "The leak is 99 % smaller (98 % to 99.5 %).", 0.01, 0.005, 0.02)
    return job(
        test_entry(1, rate=0.02, place=SEAL),
        test_entry(2, "fail", direction="vacuum", rate=0.05, place=SEAL),
        note(3, "new seal", "repair", place="seal, drive side"),
        test_entry(4, "pass", "after", rate=2e-4, change=change),
        test_entry(5, "pass", "after", "vacuum", rate=4e-4, change=replace(change, against=2)),
        note(6, "ran well", "verdict", verdict="pass"),
        complaint="dies after half a minute",
    )
