"""No bytes, however odd, end in anything but a Recording or one clear refusal."""

from __future__ import annotations

import csv
import io

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from leakdown.errors import LeakdownError
from leakdown.recording import Recording
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions

_QUIET = settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))
_CELLS = st.sampled_from(
    [
        "0",
        "30",
        "60",
        "1:30",
        "0:90",
        "14:05:00",
        "11:59 pm",
        "2024-05-01",
        "2024-05-01T14:05:00Z",
        "31.02.2024 9:00",
        "1714572300",
        "1,301",
        "1.301,5",
        "30 psi",
        "30psig",
        "-",
        "OL",
        "missed",
        "3O.5",
        "1'30\"",
        "½",
        "²",
        "٣",
        "1 1/0",
        "1e999",
        "nan",
        "inf",
        "-5",
        "32 inHg",
        "1 bar abs",
        "time (s)",
        "p (kPa)",
        "vacuum inHg",
        "T (°C)",
        "remarks",
        "Barometer: 1006 mbar",
        "# circuit: moon",
        "Volume = 250 cc",
        "no.",
        '"',
        "'",
        "\u2212",
        "",
        "  ",
        "start",
        "0.5 min",
        "9999999999999999999999",
        "1h",
        "h",
        ":",
        "::",
        "1:2:3:4",
        "=",
        "sep=;",
        "|",
        "---",
        "\x00",
        "x" * 300,
        "99/99/99 25:61",
    ]
)
_OPTIONS = st.builds(
    ReadingOptions,
    unit=st.sampled_from([None, "psi", "kPa abs", "inHg"]),
    direction=st.sampled_from([None, "vacuum", "pressure"]),
    absolute=st.booleans(),
    barometer_pa=st.sampled_from([None, 1e5]),
    time_unit=st.sampled_from([None, "s", "min"]),
)


def _only_a_recording_or_a_refusal(data: bytes, options: ReadingOptions) -> None:
    try:
        recording = read_bytes(data, "sheet", options)
    except LeakdownError as error:
        assert 0 < len(str(error).splitlines()) <= 2
    else:
        assert isinstance(recording, Recording)
        assert recording.time_s.size >= 2
        assert np.isfinite(recording.pressure_pa).all()


@_QUIET
@given(st.binary(max_size=400), _OPTIONS)
def test_any_bytes(data: bytes, options: ReadingOptions) -> None:
    _only_a_recording_or_a_refusal(data, options)


@_QUIET
@given(
    st.text(alphabet=st.sampled_from("0123456789.,;:-+'\"\t \n\r#|()/time spkabrinHgOL°½\ufeff\x00"), max_size=300),
    _OPTIONS,
    st.sampled_from(["utf-8", "utf-16", "cp1252"]),
)
def test_any_text_of_the_trade(text: str, options: ReadingOptions, encoding: str) -> None:
    _only_a_recording_or_a_refusal(text.encode(encoding, errors="replace"), options)


@_QUIET
@given(st.lists(st.lists(_CELLS, min_size=1, max_size=5), min_size=1, max_size=12), st.sampled_from(",;\t| "), _OPTIONS)
def test_any_table_of_the_trade(rows: list[list[str]], delimiter: str, options: ReadingOptions) -> None:
    stream = io.StringIO()
    csv.writer(stream, delimiter=delimiter).writerows([[c.replace("\x00", "") for c in row] for row in rows])
    _only_a_recording_or_a_refusal(stream.getvalue().encode(), options)


@_QUIET
@given(st.lists(st.lists(_CELLS, min_size=2, max_size=3), max_size=10), _OPTIONS, st.booleans())
def test_any_rows_below_headings(rows: list[list[str]], options: ReadingOptions, own: bool) -> None:
    head = "# direction: vacuum\ntime_s,pressure_kpa,mark" if own else "time;p (kPa);remarks"
    text = head + "\n" + "\n".join(("," if own else ";").join(row) for row in rows)
    _only_a_recording_or_a_refusal(text.encode(), options)


@_QUIET
@given(st.binary(max_size=40), st.integers(0, 400))
def test_any_damage_to_an_own_recording(damage: bytes, at: int) -> None:
    whole = b"# circuit: crankcase\n# volume: 250 cm3\ntime_s,pressure_kpa,mark,raw\n" + b"".join(
        b"%d,%.2f,,\n" % (i, 40 - i / 10) for i in range(30)
    )
    _only_a_recording_or_a_refusal(whole[:at] + damage + whole[at + len(damage) :], ReadingOptions())
