"""Both sides of the numbers that sheets are judged by: just within and just beyond each."""

from __future__ import annotations

from typing import Any

import pytest

from leakdown.errors import InputError
from leakdown.sheets.before_watch import steps_in
from tests.sheets.reading import read_sheet

ROWS = "t (s);kPa\n0;40\n30;39\n60;38\n"


def _refused(text: str, **options: Any) -> bool:
    try:
        read_sheet(text, **options)
    except InputError:
        return True
    return False


def _sheet(values: list[float], step_s: float = 30.0, head: str = "t (s);kPa") -> str:
    return head + "\n" + "".join(f"{i * step_s:g};{value:g}\n" for i, value in enumerate(values))


@pytest.mark.parametrize(
    ("line", "known"), [("29 kPa", False), ("31 kPa", True), ("109 kPa", True), ("111 kPa", False)]
)
def test_barometers(line: str, known: bool) -> None:
    assert (read_sheet(f"Barometer: {line}\n{ROWS}").conditions.barometer_pa is not None) == known


@pytest.mark.parametrize(("text", "known"), [("900 kPa", True), ("1100 kPa", False)])
def test_resolutions(text: str, known: bool) -> None:
    assert (read_sheet(f"Resolution: {text}\n{ROWS}").conditions.resolution_pa is not None) == known


def test_the_highest_pressure() -> None:
    assert not _refused(_sheet([49, 48.5, 48], head="t (s);bar gauge"))
    assert _refused(_sheet([51, 50.5, 50.2], head="t (s);bar gauge"))


def test_where_a_point_can_be_no_thousands_mark() -> None:
    assert _refused("t (s);kPa\n0;1.900\n30;1.850\n60;1.801\n")
    assert read_sheet("t (s);kPa\n0;2.300\n30;2.250\n60;2.201\n").pressure_pa[0] == pytest.approx(2300)


@pytest.mark.parametrize(
    ("kpa", "barometer_pa", "refused"), [(107, None, False), (109, None, True), (99, 98e3, False), (101, 98e3, True)]
)
def test_the_deepest_vacuum(kpa: float, barometer_pa: float | None, refused: bool) -> None:
    text = _sheet([-kpa, -kpa + 1, -kpa + 2], head="t (s);kPa gauge")
    assert _refused(text, barometer_pa=barometer_pa) == refused


def test_a_few_readings_of_the_other_sign() -> None:
    assert not _refused(_sheet([40, 39, 38, -1], head="t (s);vacuum kPa"))
    assert _refused(_sheet([40, 39, 38, -4], head="t (s);vacuum kPa"))


def test_below_zero_in_a_test_with_pressure() -> None:
    assert not _refused(_sheet([-0.9, -0.8, -0.7]), direction="pressure")
    assert _refused(_sheet([-1.2, -1.1, -1.0]), direction="pressure")


@pytest.mark.parametrize(
    ("count", "step", "refused"), [(10, 2, True), (10, 2.5, False), (29, 0.5, True), (32, 0.5, False)]
)
def test_times_without_a_unit(count: int, step: float, refused: bool) -> None:
    assert _refused(_sheet([40 - i / 10 for i in range(count)], step, "time;kPa")) == refused


@pytest.mark.parametrize(
    ("times", "seconds"),
    [(("14:05", "14:19"), 840), (("14:05", "14:21"), None), (("4:55", "5:15"), 20), (("5:05", "5:25"), None)],
)
def test_pairs_that_may_be_a_clock(times: tuple[str, str], seconds: float | None) -> None:
    text = f"time;kPa\n{times[0]};40\n{times[1]};39\n"
    if seconds is None:
        assert _refused(text)
    else:
        recording = read_sheet(text)
        assert recording.time_s[1] - recording.time_s[0] == seconds


def test_the_longest_test() -> None:
    assert not _refused("time;kPa\n2024-05-01 10:00;40\n2024-05-31 10:00;39\n")
    assert _refused("time;kPa\n2024-05-01 10:00;40\n2024-06-03 10:00;39\n")


@pytest.mark.parametrize(
    ("count", "step_s", "by_hand"), [(58, 1, True), (62, 1, False), (62, 1.9, False), (62, 2.1, True)]
)
def test_what_was_written_by_hand(count: int, step_s: float, by_hand: bool) -> None:
    assert read_sheet(_sheet([40 - i / 10 for i in range(count)], step_s)).by_hand == by_hand


def test_slips_are_looked_for_in_hand_sheets_alone() -> None:
    for count, refused in ((118, True), (124, False)):
        values = [40 - i / 20 for i in range(count)]
        values[50] = 3.5
        assert _refused(_sheet(values)) == refused


@pytest.mark.parametrize(
    ("values", "refused", "remarks"),
    [
        ([40, 57, 38, 37], False, 1),
        ([40, 61, 38, 37], True, 0),
        ([40, 41.9, 38, 37], False, 0),
        ([40, 42.5, 38, 37], False, 1),
        ([40, 38, -6.5, -6], False, 0),
        ([40, 30, -28, -26], True, 0),
        ([110, 38, 37.5, 37], False, 0),
        ([120, 38, 37.5, 37], False, 1),
        ([40, 38, 37, 3.2], False, 1),
        ([40, 38, 37, 3.1], False, 0),
    ],
)
def test_slips(values: list[float], refused: bool, remarks: int) -> None:
    text = _sheet(values)
    assert _refused(text) == refused
    if not refused:
        assert len(read_sheet(text).remarks) == remarks


@pytest.mark.parametrize(("mbar", "refused"), [(400, False), (412, False), (414, True), (20, False), (26, True)])
def test_two_columns_of_one_pressure(mbar: float, refused: bool) -> None:
    kpa = 2.0 if mbar < 100 else 40.0
    assert _refused(f"t (s);kPa;mbar\n0;{kpa};{mbar}\n30;{kpa};{mbar}\n60;{kpa};{mbar}\n") == refused


def test_control_characters() -> None:
    assert not _refused("# " + "x" * 300 + "\x01\x02\n" + ROWS)
    assert _refused("# " + "x" * 300 + "\x01" * 8 + "\n" + ROWS)


def test_a_column_that_hangs_together_with_one_decimal_mark() -> None:
    assert read_sheet("t (s);mbar\n0;1.301\n30;1.150\n60;998\n").pressure_pa[0] == pytest.approx(130.1e3)
    assert read_sheet("t (s);mbar\n0;1.301\n30;1.150\n60;9\n").pressure_pa[0] == pytest.approx(130.1)
    assert _refused("t (s);mbar\n0;1.301\n30;1.150\n60;13\n")


@pytest.mark.parametrize(("cells", "refused"), [([98, 2.5, 3.5, 4.5, 5.5], False), ([98, 4, 5, 6, 7], True)])
def test_readings_near_zero_are_gauge_pressures(cells: list[float], refused: bool) -> None:
    assert _refused(_sheet(cells)) == refused


@pytest.mark.parametrize(("second", "refused"), [(97, True), (95, False)])
def test_a_test_with_pressure_stays_above_the_air(second: float, refused: bool) -> None:
    assert _refused(_sheet([98, second, 141, 139, 137])) == refused


@pytest.mark.parametrize(("again", "refused"), [(139, True), (143, False)])
def test_a_needle_is_pumped_up_again(again: float, refused: bool) -> None:
    log = [98.0] * 20 + [98 + 2.1 * i for i in range(20)] + [138.0] * 40 + [float(again)] * 40
    assert _refused(_sheet(log, 0.1)) == refused


@pytest.mark.parametrize(("rest_s", "refused"), [(4, True), (9, False)])
def test_a_filling_is_short(rest_s: int, refused: bool) -> None:
    log = [98.0] * (10 * rest_s) + [138.0] * (100 - 10 * rest_s)
    assert _refused(_sheet(log, 0.1)) == refused


@pytest.mark.parametrize(("vent_s", "refused"), [(0.5, True), (5, False)])
def test_a_vent_is_short(vent_s: float, refused: bool) -> None:
    fall = int(10 * vent_s)
    log = [138.0] * (80 - fall) + [138 - 40 * i / fall for i in range(fall)] + [98.0] * 20
    assert _refused(_sheet(log, 0.1)) == refused


@pytest.mark.parametrize(("first", "last", "asked"), [(16, 20, True), (14, 20, False), (20, 22, False)])
def test_readings_that_grow(first: float, last: float, asked: bool) -> None:
    remarks = read_sheet(_sheet([first, (first + last) / 2, last])).remarks
    assert any("grow" in remark for remark in remarks) == asked


@pytest.mark.parametrize(("letters", "read"), [(900, True), (1100, False)])
def test_how_long_a_sentence_is(letters: int, read: bool) -> None:
    said = "fell from 30 psi to 28 psi in 5 minutes, " + "quiet " * (letters // 6)
    assert _refused(said) != read
    assert bool(steps_in(f"valve shut at {'4' * letters} kPa")) == read
