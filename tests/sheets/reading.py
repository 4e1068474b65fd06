"""A sheet given as text, and sheets that are refused: what the tests of this room share."""

from __future__ import annotations

from typing import Any

import pytest

from leakdown.errors import InputError
from leakdown.recording import Recording
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions


def read_sheet(text: str, source: str = "sheet.csv", **options: Any) -> Recording:
    return read_bytes(text.encode(), source, ReadingOptions(**options))


def refused_with(words: list[str], text: str, source: str = "sheet.csv") -> None:
    """The text is refused, and the message holds each of `words`."""
    with pytest.raises(InputError) as caught:
        read_sheet(text, source)
    for word in words:
        assert word in str(caught.value), str(caught.value)
