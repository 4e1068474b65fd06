"""Right at each bound: on which side the bound itself lies, for every tuned number that can be met exactly."""

# ruff: noqa: E501  (cases are as long as they are)
from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import Limit
from leakdown.errors import UsageError
from leakdown.judge.flags import _about_gauge, _standing, far_above_caution
from leakdown.judge.known_leak import _stated, stated_hole
from leakdown.judge.needle import NeedleResult, Opens, _judged, _not_closed, _popped, _where_it_opens
from leakdown.judge.pop_offs import PopOff
from leakdown.judge.pumping import judged_pumping
from leakdown.judge.repeats import pooled
from leakdown.judge.rig import Rig, cleared
from leakdown.judge.vent import VentWay, judged_in, judged_out
from leakdown.judge.verdict import _reason
from leakdown.physics.flow import orifice_throughput
from leakdown.uncertainty import Interval
from tests.judge import test_sizes_by_hand as sizes
from tests.judge import test_verdict_branches as branches

POP = PopOff(0.0, 100e3, 60e3, (0.0, 0.001), False)
USUAL = Opens((70e3, 200e3))


def _needle(
    opening: float = 100e3,
    reseat: float = 60e3,
    half: float = 0.0,
    count: int = 5,
    spread: float = 0.02,
    pop: PopOff = POP,
    highest: float = 100e3,
) -> NeedleResult:
    return NeedleResult(
        (pop,) * count,
        Interval(opening, opening - half, opening + half),
        Interval(reseat, reseat, reseat),
        spread,
        highest,
        "undecided",
        "",
        (),
    )


@pytest.mark.parametrize(
    ("opening", "reseat", "half", "opens", "word"),
    [
        (52.5e3, 40e3, 0.0, USUAL, "undecided"),  # three quarters of the usual least is not far below it
        (52.4e3, 40e3, 0.0, USUAL, "fail"),
        (70e3, 42e3, 0.0, USUAL, "pass"),
        (69.9e3, 42e3, 0.0, USUAL, "undecided"),
        (200e3, 120e3, 0.0, USUAL, "pass"),
        (200.1e3, 120e3, 0.0, USUAL, "undecided"),
        (100e3, 50e3, 0.0, USUAL, "pass"),
        (100e3, 37.5e3, 0.0, USUAL, "undecided"),
        (100e3, 37.4e3, 0.0, USUAL, "fail"),
        (100e3, 60e3, 2e3, Opens((98e3, 102e3), "given"), "pass"),
        (100e3, 60e3, 2e3, Opens((98.1e3, 102e3), "given"), "undecided"),
        (100e3, 60e3, 2e3, Opens((98e3, 101.9e3), "given"), "undecided"),
        (100e3, 60e3, 2e3, Opens((90e3, 98e3), "given"), "undecided"),
        (100e3, 60e3, 2e3, Opens((102e3, 110e3), "given"), "undecided"),
        (100e3, 60e3, 2e3, Opens((90e3, 97.9e3), "given"), "fail"),
        (100e3, 60e3, 2e3, Opens((102.1e3, 110e3), "given"), "fail"),
    ],
)
def test_edges_of_where_a_needle_opens(opening: float, reseat: float, half: float, opens: Opens, word: str) -> None:
    assert _where_it_opens(_needle(opening, reseat, half), opens)[0] == word


def test_edges_of_how_a_needle_behaves() -> None:
    assert _judged(_needle(spread=0.15), USUAL)[0] == "pass" and _judged(_needle(spread=0.151), USUAL)[0] == "fail"
    assert _judged(_needle(count=4), USUAL)[0] == "undecided" and "Only 4 of 5" in _judged(_needle(count=4), USUAL)[1]
    assert "end of the gauge's range" in _judged(_needle(pop=replace(POP, clipped=True)), USUAL)[1]
    unwatched = replace(POP, fall_per_s=(0.0, float("inf")))
    assert "was not watched" in _judged(_needle(pop=unwatched), USUAL)[1]
    slow, quick = replace(POP, fall_per_s=(0.01, 0.01)), replace(POP, fall_per_s=(0.011, 0.012))
    assert _not_closed((slow,) * 5) is None and _not_closed((quick,) * 5)[0] == "fail"  # type: ignore[index]
    words = [_not_closed((quick,) * bad + (POP,) * (5 - bad))[0] for bad in (1, 2, 3)]  # type: ignore[index]
    assert words == ["undecided", "undecided", "fail"] and _not_closed((quick,))[0] == "undecided"  # type: ignore[index]
    assert _not_closed((quick, quick))[0] == "fail" == _not_closed((quick, quick, POP, POP))[0]  # type: ignore[index]
    way: Any = SimpleNamespace(target_pa=20e3, caution_pa=30e3, opens_pa=None)
    held = [_popped(_needle(25e3, 15e3, highest=top), way)[1] for top in (30.6e3, 30.61e3)]
    assert ["forced" in said for said in held] == [False, True]
    assert (
        _popped(_needle(15e3, 9e3, highest=20e3), way)[0] == "undecided"
        and _popped(_needle(14.9e3, 9e3, highest=20e3), way)[0] == "fail"
    )


@pytest.mark.parametrize(
    ("start", "end", "levels", "word"),
    [
        (20e3, 17e3, 17e3, "pass"), (20e3, 4e3, 5e3, "pass"), (60e3, 30e3, 35e3, "pass"), (60e3, 30e3, 35.1e3, "undecided"),
        (20e3, 4e3, 4.9e3, "fail"), (5e3, 1e3, None, "fail"), (4.9e3, 1e3, None, "undecided"), (20e3, 5e3, None, "undecided"), (20e3, 4.9e3, None, "fail"),
        (20e3, 17e3, None, "undecided"),
    ],
)  # fmt: skip
def test_edges_outward(start: float, end: float, levels: float | None, word: str) -> None:
    assert judged_out(VentWay(None, levels, end, start, 0.0, 60.0))[0] == word


def test_edges_of_air_that_gets_in() -> None:
    def word(low: float, high: float) -> str:
        return judged_in(VentWay(Interval(None, low, high), None, 1e3, 8e3, 0.0, 60.0), 5e-7)[0]

    assert (word(5e-7, 9e-7), word(4.9e-7, 9e-7), word(1e-7, 5e-7), word(1e-7, 4.9e-7)) == (
        "pass",
        "undecided",
        "undecided",
        "fail",
    )


def test_edges_of_flags() -> None:
    def start(size: float) -> Any:
        return far_above_caution(
            SimpleNamespace(
                circuit="crankcase",
                hold=SimpleNamespace(start_pa=size),
                direction="pressure",
                recording=branches._recording(),
            )
        )  # type: ignore[arg-type]

    assert (
        start(330e3)
        and not start(329.9e3)
        and "another unit" in start(605e3)[0].text
        and "another unit" not in start(604.9e3)[0].text
    )

    def gauge(
        drift: float | None, offset: float = 0.0, source: str = "measured", step: float | None = 10.0
    ) -> list[str]:
        zero = SimpleNamespace(drift_pa=drift, source=source, offset_pa=offset)
        window = SimpleNamespace(zero=zero, saturated_pa=None, frozen_s=None, spikes=0)
        fitted = SimpleNamespace(used=SimpleNamespace(resolution_pa=SimpleNamespace(value=step)))
        return [
            f.code for f in _about_gauge(branches.Seen(window=window, fitted=fitted, recording=branches._recording()))
        ]

    assert (
        gauge(200.0) == [] == gauge(-200.0)
        and gauge(201.0) == ["zero-moved"] == gauge(-201.0)
        and gauge(201.0, step=None) == ["zero-moved"]
    )
    assert gauge(240.0, step=120.0) == [] and gauge(241.0, step=120.0) == ["zero-moved"]
    assert (
        gauge(None, 1000.0) == [] and gauge(None, -1001.0) == ["zero-offset"] and gauge(None, 1001.0, "assumed") == []
    )

    def still(count: int) -> list[str]:
        window = SimpleNamespace(saturated_pa=None, frozen_s=None)
        recording = SimpleNamespace(pressure_pa=np.full(count, 40e3))
        return [f.code for f in _standing(branches.Seen(window=window, recording=recording))]

    assert still(60) == [] and still(61) == ["frozen"]
    assert branches._of_leak(detected=False, detection=70.0) == ["connection-not-proven"]
    assert "quoted-outside" not in branches._of_leak(quote_pa=52.5e3) and "quoted-outside" in branches._of_leak(
        quote_pa=52.6e3
    )
    limit = Limit("7 kPa in 60 s", "drop", "given", drop_pa=7e3, time_s=60.0)
    for end, begins in ((38e3, "Nothing lost"), (37.9e3, "Up to 2.00 kPa")):
        hold: Any = SimpleNamespace(start_pa=40e3, end_pa=end)
        assert _reason("pass", limit, Interval(None, 0.0, 2e3), "reading", "kPa", hold).startswith(begins)
        assert _reason("pass", limit, Interval(1e3, 0.0, 2e3), "reading", "kPa", hold).startswith(begins)


def test_edges_of_pressures_that_are_one() -> None:
    """2 % apart is the same pressure: of 35 kPa 0.7."""
    one = sizes._analysis(sizes._leak())
    assert pooled([one, sizes._analysis(sizes._leak(at_pa=35.7e3))]) and cleared(
        sizes._analysis(sizes._leak(at_pa=35.7e3)), sizes.RIG
    )
    for size in (34.2e3, 35.71e3):
        with pytest.raises(UsageError):
            pooled([one, sizes._analysis(sizes._leak(at_pa=size))])
        with pytest.raises(UsageError):
            cleared(sizes._analysis(sizes._leak(at_pa=size)), sizes.RIG)
    own = replace(sizes.OWN, throughput_pa_m3_s=Interval(4e-4, 3e-4, 4e-4))
    assert [f.code for f in cleared(one, Rig("bench", None, None, (own,))).flags] == ["blanks-not-covered"]


def test_edges_of_pumping_up() -> None:
    recording = sizes._analysis(None).recording
    parts: Any = SimpleNamespace(recording=recording, resolution=SimpleNamespace(value=100.0, source="given"),
                                 pumping=SimpleNamespace(held_pa=28e3, through_pa=25e3, per_s=2.0, start_s=1.0, end_s=3.0))  # fmt: skip
    limit = replace(sizes.DROP, start_pa=40e3)
    settings: Any = SimpleNamespace(shop=None)
    assert judged_pumping(recording, parts, limit, settings, None) is not None
    parts.pumping.held_pa = 28.001e3
    assert judged_pumping(recording, parts, limit, settings, None) is None
    parts.pumping.held_pa = 31.4e3  # without a limit the circuit's own 45 kPa is wanted
    words = judged_pumping(recording, parts, None, settings, None)
    assert words is not None and (words.analysis.verdict.limit.text, words.analysis.verdict.limit.kind) == (
        "it must pump up",
        "words",
    )


def test_a_hole_by_its_own_law() -> None:
    """C_d pi d^2/4 of 0.3 mm from 135 to 100 kPa at 20 degC."""
    stated = stated_hole("0.30 mm +/- 2 %", 0.6)
    area = 0.6 * 3.141592653589793 / 4.0 * 3e-4**2
    assert _stated(stated, 1e5, 35e3).value == pytest.approx(orifice_throughput(135e3, 1e5, area, 293.15))
    assert _stated(stated, 1e5, -35e3).value == pytest.approx(orifice_throughput(1e5, 65e3, area, 293.15))
