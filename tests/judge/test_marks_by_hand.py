"""What is compared across a mark, each bound at, just below and just above it, on stand-ins for what was fitted."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import MarkEffect
from leakdown.fit.model import DRIFT, LOG_TAU, ZERO
from leakdown.judge import marks
from leakdown.judge.judged import FittedTest
from leakdown.recording import Mark
from leakdown.uncertainty import Interval
from tests.judge.test_readings_by_hand import _recording
from tests.judge.test_verdict_branches import _analysis


def test_which_analyses_get_the_effects_of_their_marks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Marks, a leak and a fit are wanted, all three."""
    asked: list[Any] = []
    effect = MarkEffect(2.0, "boot", Interval(1.0, 0.9, 1.1))
    monkeypatch.setattr(marks, "effects", lambda whole: asked.append(whole) or (effect,))
    bare, fit, leak = _analysis(), object(), object()
    marked = replace(bare.recording, marks=(Mark(2.0, "boot"),))
    for has_marks in (False, True):
        for has_leak in (False, True):
            for has_fit in (False, True):
                told = replace(bare, recording=marked if has_marks else bare.recording, leak=leak if has_leak else None)
                found = marks.with_marks(told, fit if has_fit else None)  # type: ignore[arg-type]
                if has_marks and has_leak and has_fit:
                    assert found.marks == (effect,) and found.leak is leak
                    assert asked == [FittedTest(told, fit)]  # type: ignore[arg-type]
                else:
                    assert found is told and not asked


def test_from_where_on_a_leak_changed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Changed: wholly beyond 15 %; steady: wholly within a quarter. The bound itself is neither."""
    cases = [
        (0.8, 1.0 / 1.15, False, False), (0.6, 0.86, True, False), (0.6, 0.87, False, False),
        (1.15, 1.2, False, True), (1.151, 1.3, True, False), (1.149, 1.3, False, False),
        (0.8, 1.0, False, False), (0.801, 1.0, False, True), (0.9, 1.25, False, False), (0.9, 1.249, False, True),
    ]  # fmt: skip
    found = tuple(MarkEffect(1.0, "boot", Interval(1.0, low, high)) for low, high, *_ in cases)
    monkeypatch.setattr(marks, "effects", lambda whole: found)
    told = [(one.changed, one.steady) for one in marks.moved(None)]  # type: ignore[arg-type]
    assert told == [(changed, steady) for *_, changed, steady in cases]


def test_two_holds_that_reach_up_to_the_mark_are_compared(monkeypatch: pytest.MonkeyPatch) -> None:
    """A mark at 40 s, a hand's 1.5 s, and holds that end 5 s before it or begin 5 s after that at the furthest."""
    holds: dict[Any, Any] = {}
    converged = {0.0: True, 46.5: True}
    compared: list[Any] = []
    ratio = Interval(2.0, 1.5, 2.5)

    def fit(whole: Any, start: float, end: float, span: Any) -> Any:
        return SimpleNamespace(place=(whole, start, end, span), fit=SimpleNamespace(converged=converged[start]))

    monkeypatch.setattr(marks, "_hold_within", lambda whole, start, end: holds[whole, start, end])
    monkeypatch.setattr(marks, "_fit_of_part", fit)
    monkeypatch.setattr(marks, "compared", lambda parts: compared.append(parts) or SimpleNamespace(ratio=ratio))

    def change(first: Any, second: Any) -> Any:
        holds.clear()
        holds.update({("w", -9.0, 40.0): first, ("w", 41.5, 99.0): second})
        return marks._change("w", -9.0, 40.0, 99.0)  # type: ignore[arg-type]

    before, after = (0.0, 35.0), (46.5, 95.0)
    assert change(before, after) == ratio
    (parts,) = compared
    assert [part.found.place for part in parts] == [("w", 0.0, 35.0, (0.0, 95.0)), ("w", 46.5, 95.0, (0.0, 95.0))]
    assert [(part.second, part.scale) for part in parts] == [(False, 1.0), (True, 1.0)]
    assert parts[0].tied == () and set(parts[1].tied) == {DRIFT, ZERO, LOG_TAU} and parts[0].fading is None
    # creep that has gone on for 46.5 s is that much less: the model's own terms at that moment
    assert np.array_equal(parts[1].fading, marks.HoldModel.creep(np.array([46.5]))[0])
    for first, second in ((None, after), (before, None), ((0.0, 34.9), after), (before, (46.6, 95.0)), (None, None)):
        assert change(first, second) is None
    for start in (0.0, 46.5):
        converged.update({0.0: True, 46.5: True, start: False})
        assert change(before, after) is None
    converged.update({0.0: True, 46.5: True})
    monkeypatch.setattr(marks, "compared", lambda parts: None)
    assert change(before, after) is None


@pytest.mark.parametrize("step", [10.0, None])
def test_the_gauge_s_step_goes_into_each_part(monkeypatch: pytest.MonkeyPatch, step: float | None) -> None:
    """None of its own is none at all, 0 Pa; a part's clock begins at its own start."""
    recording = _recording(np.linspace(40e3, 30e3, 41))
    used = SimpleNamespace(resolution_pa=SimpleNamespace(value=step))
    whole: Any = SimpleNamespace(
        analysis=SimpleNamespace(recording=recording, used=used, hold="hold"), inward=False,
        found=SimpleNamespace(model=SimpleNamespace(quote_pa=35e3)),
    )  # fmt: skip
    steps: list[Any] = []
    monkeypatch.setattr(marks, "without_spikes", lambda told, pa: steps.append(pa) or (told, 0))
    monkeypatch.setattr(marks, "zero_corrected", lambda told, hold: told)
    monkeypatch.setattr(marks, "temperature_corrected", lambda told, used: (told, None))
    monkeypatch.setattr(marks, "prepare", lambda *given: given)
    monkeypatch.setattr(marks, "priors_of", lambda *given: given)
    monkeypatch.setattr(marks, "ambient_pa", lambda used: 1e5)
    monkeypatch.setattr(marks, "HoldModel", lambda *given: given)
    monkeypatch.setattr(marks, "search", lambda model: model)
    readings, ambient, inward, quote, priors = marks._fit_of_part(whole, 10.0, 20.0, (5.0, 30.0))
    assert readings[0].tolist() == list(range(11)) and readings[1].tolist() == recording.pressure_pa[10:21].tolist()
    assert readings[2:] == (step or 0.0, False) and (ambient, inward, quote) == (1e5, False, 35e3)
    assert priors == (recording, "hold", used, 10.0) and steps == [step or 0.0]


@pytest.mark.parametrize("step", [10.0, None])
def test_four_readings_and_five_seconds_beside_a_mark(monkeypatch: pytest.MonkeyPatch, step: float | None) -> None:
    """Exactly as many and exactly as long is enough; readings beside the hold do not count."""
    t = [0.0, 1.0, 2.0, 4.0, 5.0, 7.0, 9.0, 20.0, 25.0, 30.0, 34.9]
    recording = _recording(np.linspace(40e3, 30e3, len(t)), t)
    used = SimpleNamespace(resolution_pa=SimpleNamespace(value=step))
    whole: Any = SimpleNamespace(analysis=SimpleNamespace(recording=recording, used=used))
    window, asked = SimpleNamespace(closed_s=0.0, end_s=0.0), []
    monkeypatch.setattr(marks, "without_spikes", lambda told, pa: asked.append(pa) or (told, 0))
    monkeypatch.setattr(marks, "find", lambda part, pa: asked.append((pa, part.time_s.size)) or window)

    def hold(start: float, end: float, closed: float, shut: float) -> Any:
        window.closed_s, window.end_s = closed, shut
        return marks._hold_within(whole, start, end)

    assert hold(0.0, 5.0, 0.0, 5.0) == (0.0, 5.0) and asked == [step or 0.0, (step or 0.0, 5)]
    assert hold(0.0, 4.0, 0.0, 5.0) == (0.0, 5.0)  # four readings
    assert hold(0.0, 3.9, 0.0, 5.0) is None  # three
    assert hold(0.0, 34.9, 0.0, 4.99) is None  # too short
    assert hold(0.0, 34.9, 20.0, 34.9) == (20.0, 34.9)  # four within, both ends among them
    assert hold(0.0, 34.9, 20.1, 34.9) is None and hold(0.0, 34.9, 20.0, 34.8) is None
