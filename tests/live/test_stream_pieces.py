"""Small pieces of following a gauge's stream, by hand: what a lock reads, which samples are trusted, what layouts keep."""

# ruff: noqa: E501  (sentences and cases are as long as they are)
from __future__ import annotations

from typing import Any

import pytest

from leakdown.live.lines.candidates import Candidate, MarkedBy
from leakdown.live.lines.line import Line, Sample
from leakdown.live.lines.look import LineLooker
from leakdown.live.lines.table import heading
from leakdown.live.streams.lock import NO_UNIT, account_of_heading, account_of_place, choose, read_place, read_row
from leakdown.live.streams.settle import (
    Settler,
    SpikeFilter,
    _away,
    _decided,
    _false_starts,
    _first_run,
    _gap,
    _larger,
    leaps,
    near_open_air,
    wild,
)
from leakdown.quantities import PRESSURE_PA, PressureUnit

KPA, PSI = PressureUnit("kPa", PRESSURE_PA["kPa"]), PressureUnit("psi", PRESSURE_PA["psi"])


def _held(*texts: str) -> list[Any]:
    looker = LineLooker()
    return [(Line(text), 0.1 * k, looker.look(Line(text))) for k, text in enumerate(texts)]


def _samples(*values: float | None, unit: PressureUnit | None = KPA, every_s: float = 0.1) -> list[Sample]:
    return [Sample(arrival_s=100.0 + k * every_s, value=v, unit=unit, raw=str(v)) for k, v in enumerate(values)]


# ---------------------------------------------------------------- which shape


@pytest.mark.parametrize(
    ("texts", "final", "kind"),
    [
        (("time,pressure", "1,2"), False, "heading"),
        (("time,pressure",), True, None),
        (("time,pressure", "s,kPa", "1,2"), False, "heading"),
        (("p: 12.5 kPa",), False, None),
        (("p: 12.5 kPa", "p: 12.4 kPa"), False, "place"),
        (("p: 12.5 kPa",), True, "place"),
        (("12.5", "12.4"), False, None),
        (("12.5", "12.4", "12.3"), False, "place"),
        (("12.5",), True, "place"),
        (("A0:512", "A0:511"), False, None),
        (("A0:512", "A0:511"), True, "place"),
        (("A0:512",), True, None),
        (("A0:512", "A0:511", "A0:510"), False, "place"),
        (("0 40.1", "1 40.0"), False, None),
        (("0 40.1", "1 40.0"), True, "column"),
        (("0 40.1", "1 40.0", "2 39.9"), False, "column"),
        (("100 100 100", "99 99 99", "98 98 98"), False, "repeats"),
        (("101,32", "101,28", "101,27"), False, "comma"),
        (("1 2 3",), True, None),
        ((), True, None),
        (("hello",), True, None),
    ],
)
def test_which_shape_explains_the_first_lines(texts: tuple[str, ...], final: bool, kind: str | None) -> None:
    lock = choose(_held(*texts), final)
    assert (lock.kind if lock else None) == kind


def test_locks_on_rows() -> None:
    column = choose(_held("0 40.1 7", "1 40.0 7", "2 39.9 7"), False)
    assert column is not None and (column.width, column.column, column.clock) == (3, 1, 0)
    assert column.account == f"took number 2 of 3 on a line for the pressure (the only number that moves), {NO_UNIT}"
    assert read_row(column, "3 39.8 7") == Sample(value=39.8, device_s=3.0)
    for wrong in ("3 39.8", "3 39.8 7 1", "x"):
        assert read_row(column, wrong) == Sample(why="not a row of this table")
    two_clocks = choose(_held("0 5 40.1", "1 6 40.0", "2 7 39.9"), False)
    assert two_clocks is not None and (two_clocks.column, two_clocks.clock) == (2, None)
    assert read_row(two_clocks, "3 8 39.8").device_s is None
    repeats = choose(_held("100 100 101", "99 99 99", "98 98 98"), False)
    assert repeats is not None and repeats.width == 3
    assert repeats.account == f"took the middle one of 3 repeats on a line for the pressure, {NO_UNIT}"
    assert read_row(repeats, "97.0 97.1 97.3") == Sample(value=97.1)
    assert read_row(repeats, "97 50 97").why.startswith("the repeats on this line differ by more than ")
    comma = choose(_held("101,32", "101,28", "101,27"), False)
    assert comma is not None and read_row(comma, " -101,25") == Sample(value=-101.25, number="-101.25")
    for wrong in ("101.25", "101", "101,25,1", "x101,25"):
        assert read_row(comma, wrong) == Sample(why="no number of the usual form")
    head = choose(_held("time_ms,pressure_kpa", "5,40.1"), False)
    assert head is not None and head.unit == KPA and read_row(head, "7,40.0").value == 40.0
    zeros = choose(_held("0 0", "0 0", "0 0"), True)
    assert zeros is None
    uneven = choose(_held("0 40.1", "1 40.0", "2 39.9", "1 2 3"), False)
    assert uneven is not None and uneven.width == 2


def test_what_a_place_says() -> None:
    lock = choose(_held("p: 12.5 kPa", "p: 12.4 kPa"), False)
    assert lock is not None
    looker = LineLooker()
    assert read_place(lock, looker.look(Line("p: 12.3 kPa"))).value == 12.3
    assert read_place(lock, looker.look(Line("q: 12.3 psi"))) == Sample(why="not the line that carries the pressure")
    assert read_place(lock, looker.look(Line("no number here"))).why == "no number"


@pytest.mark.parametrize(
    ("key", "label", "unit", "flips", "said"),
    [
        ("LABEL|p|kPa", "press", KPA, False, "took the number after 'press' for the pressure, in kPa"),
        ("LABEL|p|", "vac", None, True, f"took the number after 'vac' for the pressure, {NO_UNIT}; vacuum, so counted as negative"),
        ("JSON|a.b|kPa", "a.b", KPA, False, "took the JSON key 'a.b' for the pressure, in kPa"),
        ("XDR|IIXDR|x|kPa", "IIXDR x", KPA, False, "took the pressure field of 'IIXDR x' for the pressure, in kPa"),
        ("LONE||", "", None, False, f"took the only number on the line for the pressure, {NO_UNIT}"),
        ("UNIT||kPa", "", KPA, False, "took the number beside the unit for the pressure, in kPa"),
        ("UNIT||kPa", "reading", KPA, False, "took the number after 'reading' for the pressure, in kPa"),
    ],
)  # fmt: skip
def test_what_was_taken_in_words(key: str, label: str, unit: Any, flips: bool, said: str) -> None:
    one = Candidate(Sample(value=1.0, unit=unit, flips_sign=flips), MarkedBy.LABEL, key, label)
    assert account_of_place(one) == said


def test_a_heading_in_words() -> None:
    full, bare = heading("time_ms,pressure_kpa"), heading("pressure,temp")
    assert full is not None and bare is not None
    assert (
        account_of_heading(full)
        == "took column 2 of 2 ('pressure_kpa') for the pressure, in kPa, its clock from column 1"
    )
    assert account_of_heading(bare) == f"took column 1 of 2 ('pressure') for the pressure, {NO_UNIT}"


# ---------------------------------------------------------------- which samples


def test_readings_of_open_air() -> None:
    """84 to 107 kPa (the highest town's air, and a record high)."""
    for value, unit, so in ((101.3, KPA, True), (14.7, PSI, True), (40.0, KPA, False), (107.1, KPA, False), (83.9, KPA, False),
                            (84.0, KPA, True), (1013.0, None, True), (29.9, None, True), (5.0, None, False), (None, KPA, False)):  # fmt: skip
        assert near_open_air(Sample(value=value, unit=unit)) is so


def test_leaps_and_wild_starts() -> None:
    """10 kPa and a quarter, or a fifth at the start; without a unit one half (common practice, no source)."""

    def two(a: float | None, b: float | None, unit: PressureUnit | None = KPA) -> tuple[bool, bool]:
        first, second = Sample(value=a, unit=unit), Sample(value=b, unit=unit)
        return leaps(first, second), wild(first, second)

    assert two(40.0, 51.0) == (False, True) and two(40.0, 30.1) == (False, False) and two(30.0, 41.0) == (True, True)
    assert two(60.0, 73.0) == (False, False) and two(-20.0, 20.0) == (True, True) and two(None, 5.0) == (False, False)
    assert two(None, 50.0) == two(50.0, None) == (False, False)
    assert two(5.0, None) == (False, False) and two(5.0, 14.9) == (False, False) and two(5.0, 15.1) == (True, True)
    assert (
        two(40.0, 60.0, None) == (False, True)
        and two(40.0, 81.0, None) == (True, True)
        and two(1.0, 9.0, None) == (False, True)
    )
    assert two(1.1, 9.0, None) == (True, True)
    one, none = Sample(value=-3.0), Sample(value=None)
    assert (
        _gap(one, none) == _gap(none, one) == 3.0 == _larger(one, none) == _larger(none, one)
        and _larger(none, none) == 0.0
    )
    for new, old, so in ((5.0, 4.0, True), (4.0, 5.0, False), (-1.0, 5.0, True), (-6.0, -5.0, True), (0.0, 5.0, False),
                          (None, 5.0, False), (5.0, None, True)):  # fmt: skip
        assert _away(Sample(value=new), Sample(value=old)) is so


@pytest.mark.parametrize(
    ("values", "every_s", "so"),
    [
        ((), 0.1, False), ((40.0,), 0.1, False), ((40.0, 40.1), 0.1, True), ((40.0, 90.0), 0.1, False), ((40.0, 90.0, 91.0), 0.1, True),
        ((40.0, 40.0), 0.1, False), ((40.0, 40.0, 40.0), 0.1, False), ((40.0,) * 5, 0.1, True), ((0.0,) * 7, 0.1, False),
        ((0.0,) * 8, 0.1, True), ((0.0, 40.0), 0.1, True), ((0.0, 0.0), 3.0, True), ((0.0, 0.0), 2.9, False), ((40.0, 90.0), 3.0, True),
    ],
)  # fmt: skip
def test_when_a_start_is_decided(values: tuple[float, ...], every_s: float, so: bool) -> None:
    assert bool(_decided(_samples(*values, every_s=every_s))) is so


@pytest.mark.parametrize(
    ("values", "refused"),
    [
        ((0.0, 0.0, 101.3), 2), ((0.0, 0.0, 40.0), 0), ((0.0, 0.0), 0), ((40.0, 40.1, 40.2), 0), ((40.0,), 0),
        ((3.0, 101.3), 1), ((101.3, 3.0), 0), ((90.0, 40.0, 40.1), 1), ((90.0, 40.0, 50.0), 0), ((90.0, 90.0, 40.0, 40.1), 2),
        ((0.3, 40.0, 40.1), 0), ((101.3, 40.0, 40.1), 1),
    ],
)  # fmt: skip
def test_first_readings_that_are_none(values: tuple[float, ...], refused: int) -> None:
    readings = _samples(*values)
    found, why = _false_starts(readings)
    assert found == readings[:refused] and (refused == 0 or bool(why))
    assert (
        _first_run(_samples(5.0, 5.0, 6.0)) == 2
        and _first_run(_samples(*[5.0] * 9)) == 3
        and _first_run(_samples(5.0)) == 1
    )


def _through(one: Any, samples: list[Sample], finish: bool = True) -> list[tuple[float | None, str]]:
    given = [done for s in samples for done in one.feed(s)] + (one.finish() if finish else [])
    return [(s.value, s.why[:4]) for s in given]


def test_a_waking_gauge() -> None:
    assert _through(Settler(), _samples(0.0, 0.0, 101.3, 0.0)) == [
        (None, "zero"),
        (None, "zero"),
        (101.3, ""),
        (0.0, ""),
    ]
    assert _through(Settler(), _samples(90.0, 40.0, 40.1, 90.0))[:2] == [(None, "firs"), (40.0, "")]
    settler = Settler()
    assert (
        settler.feed(_samples(None)[0]) == []
        and settler.holds
        and settler.tick(102.9) == []
        and len(settler.tick(103.0)) == 1
    )
    assert not settler.holds and settler.tick(999.0) == []
    assert (
        settler.feed(_samples(0.0)[0]) == [] and len(settler.finish()) == 1 and len(settler.feed(_samples(0.0)[0])) == 1
    )


def test_leaps_that_came_back() -> None:
    """A lone one is refused when the next is near the last good; a real step is kept."""
    far = (None, "far ")
    assert _through(SpikeFilter(), _samples(40.0, 90.0, 40.1)) == [(40.0, ""), far, (40.1, "")]
    assert _through(SpikeFilter(), _samples(40.0, 90.0, 90.1)) == [(40.0, ""), (90.0, ""), (90.1, "")]
    assert _through(SpikeFilter(), _samples(40.0, 90.0, 90.0, 90.0, 40.0)) == [(40.0, ""), far, far, far, (40.0, "")]
    four = _through(SpikeFilter(), _samples(40.0, 90.0, 90.0, 90.0, 90.0, 40.0))
    assert [value for value, _ in four] == [40.0, 90.0, 90.0, 90.0, 90.0, 40.0]
    assert _through(SpikeFilter(), _samples(40.0, 90.0, -20.0, 40.0)) == [(40.0, ""), far, far, (40.0, "")]
    assert (
        _through(SpikeFilter(), _samples(40.0, 90.0, 56.0))[1] == (90.0, "")
        and _through(SpikeFilter(), _samples(40.0, 90.0, 54.0))[1] == far
    )
    assert _through(SpikeFilter(), _samples(40.0, 90.0, None, 40.0)) == [(40.0, ""), far, (None, ""), (40.0, "")]
    waiting = SpikeFilter()
    for s in _samples(40.0, 90.0):
        waiting.feed(s)
    assert (
        waiting.holds
        and waiting.tick(103.0) == []
        and [s.value for s in waiting.tick(103.2)] == [90.0]
        and not waiting.holds
    )


def test_a_last_leap_away_has_nobody_to_vouch_for_it() -> None:
    """After eight readings, away from zero and beyond twice the largest step before."""
    eight = [40.0 + 0.1 * k for k in range(8)]
    assert _through(SpikeFilter(), _samples(*eight, 90.0))[-1] == (None, "far ")
    assert _through(SpikeFilter(), _samples(*eight[1:], 90.0))[-1] == (90.0, "")
    assert (
        _through(SpikeFilter(), _samples(*eight, 0.0))[-1] == (0.0, "")
        and _through(SpikeFilter(), _samples(*eight))[-1][0] == eight[-1]
    )
    stepped = [40.0, 40.0, 40.0, 40.0, 40.0, 12.0, 12.0, 12.0, 12.0]
    assert _through(SpikeFilter(), _samples(*stepped, 60.0))[-1] == (60.0, "")
    assert _through(SpikeFilter(), _samples(*stepped, 80.0))[-1] == (None, "far ")
