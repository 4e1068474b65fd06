"""A limit that stands in the sheet itself is used, says so, and gives way to --limit."""

from __future__ import annotations

from pathlib import Path

import pytest

from leakdown.cli.results import Wanted, analysed, settings_from
from leakdown.errors import UsageError
from leakdown.reading import Told

ROWS = "time (s),kPa\n0,40\n20,38\n40,36\n60,34.2\n"


def _wanted(limit: str | None) -> Wanted:
    return Wanted(Told(circuit="crankcase", volume="250 cm3"), settings_from(limit=limit))


@pytest.mark.parametrize(("own", "word"), [("20 kPa in 60 s", "pass"), ("2 kPa in 60 s", "fail")])
def test_the_sheets_limit_decides(tmp_path: Path, own: str, word: str) -> None:
    path = tmp_path / "sheet.csv"
    path.write_text(f"Limit: {own}\n{ROWS}")
    verdict = analysed(path, _wanted(None)).verdict
    assert verdict is not None
    assert verdict.word == word
    assert (verdict.limit.text, verdict.limit.source) == (own, "file")
    assert "the file's own" in verdict.reason


def test_a_typed_limit_wins(tmp_path: Path) -> None:
    path = tmp_path / "sheet.csv"
    path.write_text("Limit: 2 kPa in 60 s\n" + ROWS)
    verdict = analysed(path, _wanted("20 kPa in 60 s")).verdict
    assert verdict is not None
    assert (verdict.word, verdict.limit.text) == ("pass", "20 kPa in 60 s")


def test_a_limit_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    path = tmp_path / "sheet.csv"
    path.write_text("Limit: 5 in 60 s\n" + ROWS)
    with pytest.raises(UsageError, match="no unit in '5'"):
        analysed(path, _wanted(None))
