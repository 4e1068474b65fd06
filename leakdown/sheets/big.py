"""Large recordings through pandas, the only importer of it. Anything odd is left to the careful reader."""

from __future__ import annotations

import io
import warnings

import numpy as np
from numpy.typing import NDArray

from leakdown.recording import Mark
from leakdown.sheets.native_rows import COLUMNS, HEADER, OwnColumns

MANY_BYTES = 2_000_000
"""Above this size pandas is worth its import (about 0.25 s)."""


def own_columns(body: str, names: list[str]) -> OwnColumns | None:
    """Columns of the text below an own recording's header, or None when it needs the careful reader."""
    rows = body.count("\n") + (not body.endswith("\n"))
    if body.count(",") > rows * (len(names) - 1) or len(set(names)) != len(names):
        return None  # more fields than headings somewhere: pandas would drop them without a word
    import pandas as pd

    texts = {name: "category" for name in names if name not in (*HEADER, "temperature_degc")}
    numbers = {name: "float64" for name in names if name in COLUMNS[:3]}
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", pd.errors.ParserWarning)
            frame = pd.read_csv(
                io.BytesIO(body.encode()),
                header=None,
                names=names,
                index_col=False,
                dtype={**texts, **numbers},
                keep_default_na=False,
                na_values=[""],
                engine="c",
            )
    except (ValueError, OverflowError, pd.errors.ParserWarning):
        return None
    time_s, pressure = (frame[name].to_numpy() for name in HEADER)
    read = ~np.isnan(pressure)
    if not (
        np.isfinite(time_s).all() and np.isfinite(pressure[read]).all() and (np.diff(time_s[read]) > 0).all()
    ):
        return None
    temperature = (
        frame["temperature_degc"].to_numpy()[read]
        if "temperature_degc" in names
        else np.full(read.sum(), np.nan)
    )
    marks: list[Mark] = []
    if "mark" in names:
        marked = np.flatnonzero(frame["mark"].notna().to_numpy())
        marks = [Mark(float(time_s[i]), str(frame["mark"].iloc[i]).strip()) for i in marked]
    raw = frame["raw"].notna().to_numpy() if "raw" in names else np.zeros(read.size, dtype=bool)
    return OwnColumns(
        time_s[read], pressure[read] * 1e3, temperature + 273.15, tuple(marks), int((raw & ~read).sum())
    )


def plain_columns(
    body: str, delimiter: str, decimal: str, width: int, wanted: list[int]
) -> list[NDArray[np.float64]] | None:
    """Columns of plain numbers of a large logger file, or None when any cell is not a plain number.

    `width` is the number of fields of a row; other columns than those `wanted` are not read.
    """
    rows = body.count("\n") + (not body.endswith("\n"))
    if len(delimiter) != 1 or delimiter == " " or body.count(delimiter) > rows * (width - 1):
        return None
    import pandas as pd

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", pd.errors.ParserWarning)
            frame = pd.read_csv(
                io.BytesIO(body.encode()),
                header=None,
                names=list(range(width)),
                index_col=False,
                sep=delimiter,
                decimal=decimal,
                usecols=sorted(wanted),
                dtype="float64",
                keep_default_na=False,
                engine="c",
                skipinitialspace=True,
            )
    except (ValueError, OverflowError, pd.errors.ParserWarning):
        return None
    columns = [frame[i].to_numpy() for i in wanted]
    return columns if all(np.isfinite(column).all() for column in columns) else None
