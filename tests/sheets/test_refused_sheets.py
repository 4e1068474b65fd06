"""Sheets that cannot be read with certainty are refused, in words that name the place and the cause."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from leakdown.errors import InputError, UsageError
from leakdown.sheets.file import read, read_bytes
from leakdown.sheets.options import ReadingOptions

# name, text, words that the message must hold, options
BAD: list[tuple[str, str | bytes, list[str], dict[str, Any]]] = [
    ("no unit", "time,pressure\n0,30\n30,29\n60,28\n", ["unit", "pressure", "--unit"], {}),
    ("headless without a unit", "0,30\n30,29\n60,28\n", ["unit"], {}),
    ("millipascal or megapascal", "t (s),p (mPa)\n0,0.3\n30,0.29\n60,0.28\n", ["unit"], {}),
    ("time goes back", "t (s),kPa\n0,200\n30,196\n60,192\n45,189\n", ["row 5", "45", "60", ":5"], {}),
    ("same time twice", "t (s),kPa\n0,150\n60,144\n60,139\n90,138\n", ["60", "twice", "144", "139"], {}),
    ("decimal commas", "t (s),bar\n0,2,00\n30,1,96\n60,1,93\n", ["2 headings", "3 fields", "comma"], {}),
    ("decimal commas in both", "t (s),bar\n0,0,2,00\n0,5,1,96\n1,0,1,93\n", ["2 headings", "4 fields", "comma"], {}),
    ("decimal commas once", "t (s),kPa\n0,200\n30,196,5\n60,192\n", ["2 headings", "3 fields", ":3"], {}),
    ("decimal commas beside remarks", "t,bar,remarks\n0,2,00,\n30,1,96,\n60,1,93,\n", ["comma"], {}),
    ("more than a vacuum", "t (s),vacuum inHg\n0,32.5\n60,32\n", ["32.5", "vacuum", ":2"], {}),
    ("more than this vacuum", "Barometer: 80 kPa\nt (s),vacuum kPa\n0,85\n60,84\n", ["85", "vacuum"], {}),
    ("absolute below zero", "t (s),kPa\n0,-5\n60,-4\n", ["-5", "vacuum"], {"absolute": True, "barometer_pa": 1e5}),
    ("far too much", "t (s),bar\n0,301\n60,299\n", ["301", "30100"], {}),
    ("headings only", "Time (s),Pressure (psi)\n\n,\n", ["no readings"], {}),
    ("headings and missed readings", "Time (s),Pressure (psi)\n0,-\n30,missed\n", ["no readings"], {}),
    ("comments only", "# nothing came of it\n", ["no readings"], {}),
    ("prose", "The engine was cold. No test was made.\nCome back later.\n", ["no"], {}),
    ("empty", "", ["empty"], {}),
    ("blank", "\n  \n\r\n", ["empty"], {}),
    ("NULs alone", b"\0" * 100, ["empty"], {}),
    ("one reading", "t (s),kPa\n0,30\n", ["one reading is no decay"], {}),
    ("one reading twice", "t (s),kPa\n0,30\n0,30\n", ["one reading is no decay"], {}),
    ("letter O", "t (s),kPa\n0,31\n30,3O.5\n60,28\n", ["3O.5", "kPa", ":3"], {}),
    ("letter O at the end", "t (s),kPa\n0,31\n30,30.5\n60,2B.1\n", ["2B.1", ":4"], {}),
    ("letter O in a time", "t (s),kPa\n0,31\n3O,30.5\n60,28\n", ["3O", ":3", "time"], {}),
    ("letter O in the last time", "t (s),kPa\n0,31\n30,30.5\n6O,28\n", ["6O", ":4"], {}),
    ("two points", "t (s),kPa\n0,31\n30,30.5.1\n60,28\n", ["30.5.1", ":3"], {}),
    ("unknown unit in a cell", "t (s),kPa\n0,31\n30,30 spi\n60,28\n", ["30 spi", ":3"], {}),
    ("pressure without a time", "t (s),kPa\n0,31\n,30.5\n60,28\n", ["30.5", "no time", ":3"], {}),
    ("last pressure without a time", "t (s),kPa\n0,31\n30,30.5\n,28\n", ["28", "no time", ":4"], {}),
    ("infinite", "t (s),kPa\n0,31\n30,1e999\n60,28\n", ["1e999", ":3"], {}),
    ("absolute without a barometer", "t (s),kPa abs\n0,131\n30,130\n", ["absolute", "barometer"], {}),
    ("absolute as told without a barometer", "t (s),kPa\n0,131\n30,130\n", ["barometer"], {"absolute": True}),
    ("gauge and absolute mixed", "t (s),p\n0,30 psig\n30,44 psia\n", ["absolute"], {"barometer_pa": 1e5}),
    ("vacuum with both signs", "t (s),vacuum kPa\n0,30\n30,-29\n60,28\n", ["-29", "sign", ":3"], {}),
    (
        "below zero, told pressure",
        "t (s),kPa\n0,-30\n30,-29\n60,-28\n",
        ["pressure", "vacuum"],
        {"direction": "pressure"},
    ),
    (
        "two columns that differ",
        "t (s),front (kPa),rear (kPa)\n0,30,41\n30,29,40\n60,28,39\n",
        ["front", "rear", "differ"],
        {},
    ),
    ("pressure and vacuum side by side", "t (s),Pressure (kPa),Vacuum (kPa)\n0,30,41\n30,29,40\n", ["differ"], {}),
    ("three columns without headings", "0,30,21\n30,29,20\n60,28,20\n", ["3 columns", "headings"], {"unit": "kPa"}),
    ("thousands or decimals", "t (s);kPa\n0;1,301\n30;1,250\n60;1,200\n", ["1,301", "thousands"], {}),
    ("seconds or minutes", "time;kPa\n0;30\n1;29\n2;28\n5;26\n", ["seconds or minutes"], {}),
    ("clock or minutes", "time;kPa\n14:00;30\n14:30;29\n15:00;28\n", ["14:00", "clock"], {}),
    ("minutes with a point", "t (min),kPa\n0.00,30\n0.30,29\n1.00,28\n1.30,27\n", ["0.30", "minutes"], {}),
    ("two time columns", "t (min),t (s),kPa\n0,0,30\n1,70,29\n", ["two time columns"], {}),
    ("a date without a time", "date;kPa\n2024-05-01;30\n2024-05-02;29\n", ["2024-05-01", "date"], {}),
    ("zones on some", "t;kPa\n2024-05-01T14:05:00Z;30\n2024-05-01 14:05:30;29\n", ["14:05:30", ":3"], {}),
    ("bare number among units", "t;kPa\n0 s;30\n30 s;29\n1 min;28\n2;27\n", ["'2'", "unit", ":5"], {}),
    ("minute 75", "t;kPa\n0:00:00;30\n0:75:00;29\n", ["0:75:00", ":3"], {}),
    ("a month and more", "t (h),kPa\n0,30\n1000,29\n", ["days"], {}),
    ("mixed units and a bare one", "t (s),p\n0,1 bar\n30,950 mbar\n60,90\n", ["90", "unit", ":4"], {}),
    ("temperature with a letter", "t (s),kPa,T (C)\n0,30,21\n30,29,2l\n60,28,21\n", ["2l", ":3"], {}),
    ("no pressure column", "t (s),T (C)\n0,21\n30,22\n60,21\n", ["pressure"], {}),
    ("no time column", "remark,kPa\na,30\nb,29\n", ["time"], {}),
    ("picture", b"\x89PNG\r\n\x1a\n" + bytes(range(256)), ["picture"], {}),
    ("PDF", b"%PDF-1.4\n%\xe2\xe3", ["PDF"], {}),
    ("noise", bytes(range(1, 32)) * 40, ["binary"], {}),
    ("damaged workbook", b"PK\x03\x04" + b"\0" * 50, ["workbook"], {}),
    ("unknown column asked for", "t (s),kPa\n0,30\n30,29\n", ["left"], {"column": "left"}),
]


@pytest.mark.parametrize(("text", "words", "options"), [case[1:] for case in BAD], ids=[case[0] for case in BAD])
def test_is_refused_in_plain_words(text: str | bytes, words: list[str], options: dict[str, Any]) -> None:
    data = text if isinstance(text, bytes) else text.encode()
    with pytest.raises(InputError) as caught:
        read_bytes(data, "sheet.csv", ReadingOptions(**options))
    message = str(caught.value)
    assert message.startswith("sheet.csv")
    assert len(message.splitlines()) <= 2
    assert caught.value.remedy
    for word in words:
        assert word in message


@pytest.mark.parametrize("options", [{"unit": "spi"}, {"direction": "up"}, {"time_unit": "moons"}])
def test_options_are_checked(options: dict[str, Any]) -> None:
    with pytest.raises(UsageError):
        ReadingOptions(**options)


def test_a_folder_a_missing_file_and_a_bad_name(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="folder"):
        read(tmp_path)
    with pytest.raises(InputError, match="no such file"):
        read(tmp_path / "none.csv")
    with pytest.raises(InputError, match="cannot be opened"):
        read("nul\0byte.csv")
    with pytest.raises(InputError):
        read(tmp_path / ("x" * 5000))
