"""Many files on both cores: same results, same order, errors kept; rows no spreadsheet runs."""

import csv
import io
import pickle

import numpy as np
import pytest

from leakdown.analysis import Analysis
from leakdown.batch import in_order
from leakdown.errors import InputError
from leakdown.judge.analyse import analyse
from leakdown.rows import COLUMNS, csv_text, harmless, row_of, row_of_error
from leakdown.sheets.file import read


def analysed(path) -> Analysis:
    return analyse(read(path))


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("many")
    paths = []
    for k in range(9):
        t = np.arange(0, 61, 10)
        p = 45.0 * np.exp(-t / (200.0 + 40 * k))
        rows = "\n".join(f"{a},{b:.2f}" for a, b in zip(t, p, strict=True))
        path = folder / f"{k}.csv"
        head = "# circuit: crankcase\n# volume: 250 cm3\n# note: =cmd|' /C calc'!A0\ntime_s,pressure_kpa"
        path.write_text(f"{head}\n{rows}\n")
        paths.append(path)
    bad = folder / "bad.csv"
    bad.write_text("nothing here\n")
    return [*paths[:4], bad, *paths[4:]]


@pytest.mark.slow
def test_two_processes_give_what_one_gives(files):
    alone = list(in_order(analysed, files, workers=1))
    both = list(in_order(analysed, files, workers=2))
    assert [o.path for o in both] == files
    for one, two in zip(alone, both, strict=True):
        assert (one.error is None) == (two.error is None)
        if one.result is not None:
            assert two.result.leak == one.result.leak
            assert two.result.verdict == one.result.verdict
            np.testing.assert_array_equal(two.result.residual_pa, one.result.residual_pa)
    assert isinstance(both[4].error, InputError)
    assert str(both[4].error) == str(alone[4].error)


def test_errors_survive_the_way_between_processes():
    error = InputError("what", where="file:3", remedy="do this")
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.where, again.remedy) == (str(error), "file:3", "do this")


@pytest.mark.slow
def test_rows_for_a_spreadsheet(files):
    rows = []
    for outcome in in_order(analysed, files, workers=1):
        name = outcome.path.name
        rows.append(row_of(name, outcome.result) if outcome.result else row_of_error(name, outcome.error))
    table = list(csv.DictReader(io.StringIO(csv_text(rows))))
    assert tuple(table[0]) == COLUMNS
    assert len(table) == len(files)
    assert table[4]["error"] and not table[4]["verdict"]
    assert table[0]["note"].startswith("'=")
    assert (
        float(table[0]["loss_low_kpa_per_min"])
        < float(table[0]["loss_kpa_per_min"])
        < float(table[0]["loss_high_kpa_per_min"])
    )
    # throughput = V dp/dt, in standard cm3/min at 20 degC (by hand)
    by_hand = float(table[0]["loss_kpa_per_min"]) * 250 / 101.325
    assert float(table[0]["leak_cm3_per_min"]) == pytest.approx(by_hand, rel=1e-3)


@pytest.mark.parametrize("cell", ["=1+1", "+A1", "-2+3", "@SUM(A1)", "\t=1", " =1", "|calc", "%x"])
def test_formulas_are_made_harmless(cell):
    assert harmless(cell) == f"'{cell}"


@pytest.mark.parametrize("cell", ["-45.2", "+3", "1e-3", "-1.5e+4", "a=b", "", "bench 1"])
def test_numbers_and_plain_text_stay(cell):
    assert harmless(cell) == cell
