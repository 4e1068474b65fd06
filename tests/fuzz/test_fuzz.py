"""The short form of the fuzzing, and every input that broke something once."""

from __future__ import annotations

import csv
import io
import random

import numpy as np
import pytest

from leakdown.errors import LeakdownError
from leakdown.sheets.file import read_bytes
from tests.fuzz.__main__ import NAMES
from tests.fuzz.engine import Found, TooLongError, bounded, kept, place_of, tried
from tests.fuzz.mutate import mutated
from tests.fuzz.targets import TARGETS
from tests.sheets.generated import UNITS_KPA

BROKEN = [(name, file) for name in NAMES for file in kept(name)]
SLOW_MACHINE_S = 20.0


def test_every_target_can_be_asked_for():
    assert tuple(TARGETS) == NAMES


@pytest.mark.parametrize(("name", "file"), BROKEN, ids=[f"{name}-{file}" for name, file in BROKEN])
def test_what_broke_something_once(name, file):
    found = Found()
    tried(TARGETS[name].once, kept(name)[file], found, SLOW_MACHINE_S)
    assert not found.faults, next(iter(found.traces.values()))


@pytest.mark.parametrize("name", NAMES)
def test_some_changes_of_every_kind_of_input(name, full):
    found, dice, target = Found(), random.Random(name), TARGETS[name]
    seeds = target.seeds()
    for seed in dice.sample(seeds, min(len(seeds), 5)):
        tried(target.once, seed, found, SLOW_MACHINE_S)
    assert found.answered, "the inputs that it begins with are read"
    for _ in range(1000 if full else 8 if name in ("knowledge", "analyses") else 40):
        tried(target.once, mutated(dice.choice(seeds), dice, seeds), found, SLOW_MACHINE_S)
    assert not found.faults, next(iter(found.traces.values()))


def _written(times: list[float], kpa: list[float], unit: str, separator: str, end: str, mark: str) -> bytes:
    """A sheet of these readings as a spreadsheet of this country would save it."""
    comma = separator == ";"
    stream = io.StringIO()
    rows = csv.writer(stream, delimiter=separator, lineterminator=end)
    rows.writerow(["Time (s)", f"Pressure ({unit})", "Remarks"])
    for time_s, value in zip(times, kpa, strict=True):
        cells = [f"{time_s:.0f}", f"{value / UNITS_KPA[unit]:.6f}"]
        rows.writerow([*(cell.replace(".", ",") if comma else cell for cell in cells), ""])
    return mark.encode() + stream.getvalue().encode()


@pytest.mark.parametrize("unit", UNITS_KPA)
@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_a_sheet_saved_in_another_way_reads_the_same(unit, separator):
    """Factors of the units: NIST SP 811, as `tests/sheets/generated.py` has them."""
    dice = random.Random(f"{unit}{separator}")
    for end in ("\n", "\r\n", "\r"):
        every, fall, count = dice.choice([5, 10, 30, 60]), dice.uniform(0.9, 0.999), dice.randrange(4, 12)
        start = dice.uniform(20.0, 60.0)
        times = [float(every * i) for i in range(count)]
        kpa = [round(start * fall**i, 2) for i in range(count)]
        recording = read_bytes(_written(times, kpa, unit, separator, end, dice.choice(["", "\ufeff"])), "sheet.csv")
        assert np.allclose(recording.time_s, times)
        assert np.allclose(recording.pressure_pa, np.array(kpa) * (-1e3 if unit == "inHg" else 1e3), rtol=1e-5) or (
            unit == "inHg" and np.allclose(recording.pressure_pa, np.array(kpa) * 1e3, rtol=1e-5)
        )


def test_the_watch_over_a_case_finds_what_it_is_there_for():
    """A loop without end and an odd error are faults, a refusal is none; the shortest input of each is kept."""

    def endless(data: bytes) -> None:
        while True:
            pass

    def odd(data: bytes) -> None:
        raise ValueError(len(data))

    def refused(data: bytes) -> None:
        raise LeakdownError("no")

    found = Found()
    tried(odd, b"long", found)
    tried(odd, b"s", found)
    tried(refused, b"", found)
    assert list(found.faults.values()) == [b"s"] and found.tried == 3 and found.answered == 0
    with pytest.raises(TooLongError), bounded(0.05):
        endless(b"")
    assert place_of(_raised()).startswith("ValueError")


def _raised() -> ValueError:
    try:
        int("x")
    except ValueError as error:
        return error
    raise AssertionError
