"""A needle gauge in psi or inHg is read in halves and quarters: those are read whole, or refused."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest

from leakdown.errors import InputError
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions
from tests.sheets.reading import read_sheet

PSI_PA = 6894.757


FORMS = [
    ("6 3/4", 6.75),
    ("6-3/4", 6.75),
    ("6¾", 6.75),
    ("6 ¾", 6.75),
    ("6⅓", 6 + 1 / 3),
    ("3/4", 0.75),
    ("½", 0.5),
    ("-3/4", -0.75),
    ("-6 3/4", -6.75),
    ("1 1/2 psi", 1.5),
    ("6 3/4 psi", 6.75),
    ("6 3\u20444", 6.75),
]


@pytest.mark.parametrize("separator", [",", ";", "\t", "|", "   ", " "])
@pytest.mark.parametrize(("cell", "psi"), FORMS)
def test_a_fraction_is_one_reading(separator: str, cell: str, psi: float) -> None:
    text = f"time_s{separator}psi\n0{separator}7\n15{separator}{cell}\n"
    recording = read_sheet(text)
    np.testing.assert_allclose(recording.time_s, [0, 15])
    np.testing.assert_allclose(recording.pressure_pa, [7 * PSI_PA, psi * PSI_PA], rtol=1e-6)


@pytest.mark.parametrize("cell", ["6 3/4", "6-3/4", "6¾", 6.75])
def test_a_fraction_in_a_workbook(cell: Any) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for row in (["time (s)", "psi"], [0, 7], [15, cell], [30, 6]):
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    recording = read_bytes(stream.getvalue(), "sheet.xlsx", ReadingOptions())
    np.testing.assert_allclose(recording.pressure_pa[1], 6.75 * PSI_PA, rtol=1e-6)


def test_phone_notes_with_blanks_alone() -> None:
    recording = read_sheet("0s 7 psi\n15s 6.5\n60s 5 1/4\n90 s 4 1/2\n2 1/2 min 4\n")
    np.testing.assert_allclose(recording.pressure_pa / PSI_PA, [7, 6.5, 5.25, 4.5, 4], rtol=1e-6)
    assert recording.marks == ()


def test_every_row_a_fraction() -> None:
    recording = read_sheet("0 7 1/2\n15 6 3/4\n30 6 1/4\n60 3/4\n", unit="psi")
    np.testing.assert_allclose(recording.pressure_pa / PSI_PA, [7.5, 6.75, 6.25, 0.75], rtol=1e-6)


@pytest.mark.parametrize("cell", ["6 5/4", "15.6 3/4", "6³/₄", "6 3/0", "6/3/4"])
def test_what_is_no_fraction_is_refused_with_its_text(cell: str) -> None:
    with pytest.raises(InputError) as caught:
        read_sheet(f"time s;psi\n0;7\n15;{cell}\n30;6\n")
    assert cell in str(caught.value)
    assert ":3" in str(caught.value)


def test_a_fraction_in_a_cell_of_its_own_is_refused() -> None:
    with pytest.raises(InputError, match="3/4"):
        read_sheet("0,7\n15,6,3/4\n30,6\n", unit="psi")
    with pytest.raises(InputError, match="3 fields"):
        read_sheet("time s,psi\n0,7\n15,6,3/4\n30,6\n")
