"""What goes into a window's fit, in which order, and what is kept: on stand-ins, no fit is run."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import Flag, Limit
from leakdown.errors import InputError, RecordError, UsageError
from leakdown.judge import analyse as analyses
from leakdown.judge import settings as settings_room
from leakdown.judge import vent
from leakdown.judge import window_fit as room
from leakdown.judge.judged import Judged
from leakdown.judge.rig import Rig
from leakdown.judge.rig_store import load, save
from leakdown.judge.settings import Settings
from leakdown.judge.supply import pump_unsaid
from leakdown.uncertainty import Interval
from tests.judge.test_readings_by_hand import _recording
from tests.judge.test_sizes_by_hand import _analysis
from tests.judge.test_who_judges import _fitted, _way


@dataclass(frozen=True)
class _Chosen:
    name: str
    odd: Any = "odd"
    sized: Any = "sized"


@dataclass(frozen=True)
class _Used:
    volume_m3: Any
    volume_u_m3: Any
    resolution_pa: Any
    barometer_pa: Any
    noise_pa: float | None = None


@pytest.fixture
def pieces(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """Every step of a window's fit replaced by one that notes what it was given."""
    asked: dict[str, Any] = {"chosen": []}

    def note(name: str, result: Any) -> Any:
        return lambda *given: asked.__setitem__(name, given) or result(*given)

    def choose(model: Any, quote: float, vessel: Any, near: Any = None) -> Any:
        asked["chosen"].append((model, quote, vessel, near))
        return _Chosen(f"chosen at {model[1]:g}")

    monkeypatch.setattr(room, "with_fall_before", note("fall", lambda window, recording: window))
    monkeypatch.setattr(room, "zero_corrected", note("zero", lambda recording, window: recording))
    monkeypatch.setattr(room, "temperature_corrected", note("warm", lambda part, used: (part, 0.4)))
    monkeypatch.setattr(room, "prepare", note("prepare", lambda *given: SimpleNamespace(noise_pa=7.0)))
    monkeypatch.setattr(room, "priors_of", note("priors", lambda *given: "priors"))
    monkeypatch.setattr(room, "ambient_pa", lambda used: 101_325.0)
    monkeypatch.setattr(room, "temperature_k", lambda used: 290.0)
    monkeypatch.setattr(room, "Vessel", lambda *given: ("vessel", *given))
    monkeypatch.setattr(room, "HoldModel", lambda *given: given)
    monkeypatch.setattr(room, "choose", choose)
    monkeypatch.setattr(room, "widened_by", note("widened", lambda found, *given: replace(found, name="widened")))
    return asked


def _of(value: Any, source: str = "given") -> Any:
    return SimpleNamespace(value=value, source=source)


def _window(p: Any, direction: str = "pressure", frozen: Any = None, closed: float = 2.0, end: float = 6.0) -> Any:
    recording = _recording(p, direction=direction, by_hand=True)
    return SimpleNamespace(recording=recording, closed_s=closed, end_s=end, frozen_s=frozen)


def test_what_goes_into_a_window_s_fit(pieces: dict[str, Any]) -> None:
    settings: Any = SimpleNamespace(quote_pa=35e3, discharge_coefficient=0.6)
    for step, source, direction in ((50.0, "given", "pressure"), (None, "assumed", "vacuum")):
        sign = -1.0 if direction == "vacuum" else 1.0
        window = _window(sign * np.linspace(9e3, 1e3, 9), direction)
        used: Any = _Used(_of(2e-4), _of(1e-5), _of(step), _of(1e5, source))
        pieces["chosen"].clear()
        found = room._fitted(window, used, settings)
        times, pressures, resolution, by_hand = pieces["prepare"]
        assert times.tolist() == [0.0, 1.0, 2.0, 3.0, 4.0]
        assert pressures.tolist() == window.recording.pressure_pa[2:7].tolist()
        assert (resolution, by_hand) == (step or 0.0, True)
        assert pieces["fall"] == (window, window.recording) and pieces["zero"] == (window.recording, window)
        assert pieces["warm"][0].time_s.tolist() == [2.0, 3.0, 4.0, 5.0, 6.0] and pieces["warm"][1] is used
        assert (found.used.noise_pa, found.warmed_k, found.window) == (7.0, 0.4, window)
        model, quote, vessel, near = pieces["chosen"][0]
        assert model[1:] == (101_325.0, direction == "vacuum", 35e3, "priors") and (quote, near) == (35e3, None)
        assert vessel == ("vessel", 2e-4, 1e-5, 290.0, 0.6)
        assert pieces["priors"] == (window.recording, window, found.used)
        assert (found.chosen.odd, found.chosen.sized) == ("odd", "sized")


def test_air_that_may_be_thinner(pieces: dict[str, Any]) -> None:
    """Without a barometer the size is that of 84.5 kPa too, unless a vacuum of 95 % of that cannot be there."""
    settings: Any = SimpleNamespace(quote_pa=35e3, discharge_coefficient=0.6)
    deepest = 0.95 * 84.5e3
    for source, least, widened in (
        ("assumed", -deepest + 1.0, True), ("assumed", -deepest, False), ("given", -10e3, False),
        ("assumed", -90e3, False), ("assumed", 5e3, True), ("given", 5e3, False), ("given", -90e3, False),
    ):  # fmt: skip
        p = np.full(9, 5e3 if least > 0.0 else -1e3)
        p[4] = least
        used: Any = _Used(_of(2e-4), _of(None), _of(10.0), _of(1e5, source))
        pieces["chosen"].clear()
        found = room._fitted(_window(p, "pressure" if least > 0.0 else "vacuum"), used, settings)
        assert (found.chosen.name == "widened") is widened and len(pieces["chosen"]) == 1 + widened
        if widened:
            thin = pieces["chosen"][1]
            assert thin[0][1] == 84.5e3 and thin[3].name == "chosen at 101325"
            first, second, vessel, quote = pieces["widened"]
            assert (first.name, second.name, vessel, quote) == ("chosen at 101325", "chosen at 84500", thin[2], 35e3)


def test_a_frozen_or_an_empty_window(pieces: dict[str, Any]) -> None:
    """A gauge that stood still from before the end sizes nothing; two readings are a hold, one is none."""
    settings: Any = SimpleNamespace(quote_pa=35e3, discharge_coefficient=0.6)
    used: Any = _Used(_of(2e-4), _of(None), _of(10.0), _of(1e5))
    p = np.linspace(9e3, 1e3, 9)
    for at, sized in ((5.0, None), (6.0, "sized"), (6.0 - 1e-5, None), (6.0 - 1e-7, "sized"), (7.0, "sized")):
        found = room._fitted(_window(p, frozen=(at, 9.0)), used, settings)
        assert (found.chosen.sized, found.chosen.odd) == (sized, sized and "odd") and found.frozen is (sized is None)
    assert room._fitted(_window(p, end=3.0), used, settings).part.time_s.size == 2
    with pytest.raises(InputError, match=r"a\.csv: the hold contains fewer than two readings"):
        room._fitted(_window(p, end=2.5), used, settings)


def test_the_marks_and_the_step_that_a_window_is_cut_at(monkeypatch: pytest.MonkeyPatch) -> None:
    """A log of 25 readings has steps, a sheet of 24 has none; each cut is asked of the window last fitted."""
    step = SimpleNamespace(name="step", time_s=7.0, size=3.0)
    results = {"whole": _fitted(odd=step, count=room.DENSE_FROM), "side": _fitted()}
    monkeypatch.setattr(room, "_fitted", lambda window, used, settings: results[window])
    asked: list[Any] = []
    monkeypatch.setattr(room, "before_mark", lambda *given: asked.append(given))
    monkeypatch.setattr(room, "longer_side", lambda *given: asked.append(given) or "side")
    recording: Any = SimpleNamespace(marks=("a mark",))
    assert room.fitted_window(recording, "whole", None, None) is results["side"]  # type: ignore[arg-type]
    whole = results["whole"]
    assert asked == [("whole", ("a mark",)), (whole.window, whole.part, 7.0, 3.0)]
    results["whole"] = _fitted(odd=step, count=room.DENSE_FROM - 1)
    assert room.fitted_window(recording, "whole", None, None) is results["whole"]  # type: ignore[arg-type]


# ---------------------------------------------------------------- the order of judging, what is kept


def test_what_is_judged_of_a_recording(monkeypatch: pytest.MonkeyPatch) -> None:
    """The last hold, or the whole where one is chosen; the strict limit on the same parts; marks at the end."""
    sheet = replace(_recording(np.arange(30.0)), holds=((0.0, 9.0), (20.0, 29.0)))
    asked: list[Any] = []
    monkeypatch.setattr(analyses, "parts_of", lambda hold, span: asked.append((hold.time_s.size, span)) or "parts")
    monkeypatch.setattr(analyses, "_judged", lambda hold, parts, limit, settings: (hold.time_s.size, parts, limit))
    monkeypatch.setattr(analyses, "_finished", lambda found, recording, settings: Judged(found, ("fit", recording)))  # type: ignore[arg-type]
    monkeypatch.setattr(analyses, "with_strict", lambda found, by: (found, by("strict")))
    monkeypatch.setattr(analyses, "with_marks", lambda result, fit: (result, fit))
    monkeypatch.setattr(Settings, "limit_for", lambda self, recording: "limit")
    monkeypatch.setattr(Settings, "filled_in", lambda self, recording: recording)
    for span, size in ((None, 10), ((3.0, 4.0), 30)):
        found = analyses.judged(sheet, Settings(hold_s=span))
        assert asked[-1] == (size, span) and found.fit == ("fit", sheet)
        judged = (size, "parts", "limit"), (size, "parts", "strict")
        assert found.analysis == (judged, ("fit", sheet))  # type: ignore[comparison-overlap]
        assert analyses.analyse(sheet, Settings(hold_s=span)) == found.analysis
    monkeypatch.setattr(Settings, "of_shop", lambda: Settings(hold_s=(1.0, 2.0)))
    analyses.judged(sheet)
    assert asked[-1] == (30, (1.0, 2.0))


def test_whose_rig_is_taken_off(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """As given, else the shop's, read from its folder; none off the rig itself."""
    plain, rig = _recording([1.0]), Rig("given")
    monkeypatch.setattr(settings_room, "load", lambda name, folder: (name, folder))
    monkeypatch.setattr(settings_room, "folder_of", lambda rigs: ("folder", rigs))
    shop: Any = SimpleNamespace(rig="bench", rigs=tmp_path)
    assert Settings(rig=rig, shop=shop).rig_for(plain) is rig
    assert Settings(rig="own", shop=shop).rig_for(plain) == ("own", ("folder", tmp_path))  # type: ignore[comparison-overlap]
    assert Settings(shop=shop).rig_for(plain) == ("bench", ("folder", tmp_path))  # type: ignore[comparison-overlap]
    assert Settings(rig="own").rig_for(plain) == ("own", ("folder", None))  # type: ignore[comparison-overlap]
    assert Settings(rig=rig).rig_for(_recording([1.0], circuit="rig")) is None
    with pytest.raises(UsageError, match="vent kind 'felt' is not known"):
        Settings(vent_kind="felt")  # type: ignore[arg-type]


def test_a_rig_s_file_that_cannot_be(tmp_path: Path) -> None:
    (tmp_path / "bench.json").mkdir()
    with pytest.raises(RecordError, match="cannot be read: [A-Z]"):  # the system's own words, without its number
        load("bench", tmp_path)
    (tmp_path / "odd.json").write_bytes(b"\xff\xfe")
    with pytest.raises(RecordError, match="cannot be read: 'utf-8' codec"):
        load("odd", tmp_path)
    with pytest.raises(ValueError, match="JSON"):
        save(Rig("none", math.nan), tmp_path)


def test_a_vacuum_that_fell_needs_no_pump_said() -> None:
    """From 42 to 41.89 kPa is more than the gauge's step of 0.1; rising by as much is no fall."""
    for end, said in ((-41.89e3, ()), (-41.9e3, ("pump-off-unsaid",)), (-42.11e3, ("pump-off-unsaid",))):
        plain = replace(_analysis(None, "vacuum"), flags=(Flag("step", "x"),))
        held = replace(plain, hold=replace(plain.hold, start_pa=-42e3, end_pa=end))
        assert tuple(flag.code for flag in pump_unsaid(held)) == said


def test_a_tank_whose_gauge_froze_among_other_flags(monkeypatch: pytest.MonkeyPatch) -> None:
    """Moved by a pascal or more and then frozen: nothing is known. What the vent does alone is called by its name."""
    _way(monkeypatch)
    monkeypatch.setattr(vent, "judged_tightness", lambda *given, of_leak: held)
    parts: Any = SimpleNamespace(recording=_recording([8e3, 6e3], circuit="tank"),
                                 resolution=SimpleNamespace(value=100.0, source="given"))  # fmt: skip
    for codes, p, frozen in (
        (("step", "frozen"), [-8e3, -7.9e3], True), (("step",), [-8e3, -7.9e3], False),
        (("frozen", "step"), [-8e3, -8e3], False), (("frozen",), [-8e3, -8e3 + 0.5], True),
    ):  # fmt: skip
        tank = _recording(p, direction="vacuum", circuit="tank", volume_m3=5e-4, volume_u_m3=1e-5)
        analysis = replace(_analysis(None, "vacuum", "tank"), flags=tuple(Flag(code, "x") for code in codes))
        held = Judged(analysis, None)
        found = vent.judged_inward(tank, parts, None, Settings()).analysis
        assert found.verdict is not None and found.verdict.reason.startswith("The gauge froze") is frozen
        assert [flag.code for flag in found.flags] == list(codes)
    practice = Limit("2 kPa in 60 s", "drop", "practice", drop_pa=2e3, time_s=60.0)
    outward = vent.judged_outward(parts, None, practice, Settings())
    assert outward is not None
    (finding,) = outward.analysis.findings
    assert (finding.name, finding.title) == ("outward", "What the vent does outward")


def test_what_a_vent_s_figures_are_called() -> None:
    """At 5 kPa itself it came to rest; beyond, the verdict says where it stands."""
    flow = Interval(5e-7, 4e-7, 6e-7)
    rests = vent._air_in(vent.VentWay(flow, 5e3, 5e3, 8e3, 0.0, 60.0))
    assert rests.sentence == "Left alone it comes to rest at 5 kPa of vacuum." and rests.name == "air-in"
    assert vent._air_in(vent.VentWay(flow, 5001.0, 5e3, 8e3, 0.0, 60.0)).sentence == ""
    (figure,) = rests.figures
    assert (figure.key, figure.label, figure.unit) == ("air_in_cm3_per_min", "Air gets in", "cm3/min")
    assert figure.interval.value == pytest.approx(30.0)
    bare = Judged(replace(_analysis(None, circuit="tank"), verdict=None), None)
    assert vent.judged_filling(bare, 6e3, "unknown") is bare


def test_strokes_of_a_tank_and_of_a_crankcase(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only where a vent may relieve are the strokes judged by that."""
    monkeypatch.setattr(analyses, "judged_tightness", lambda *given: "held")
    monkeypatch.setattr(analyses, "judged_pumping", lambda *given: ("pumped", given[-1]))
    monkeypatch.setattr(analyses, "judged_filling", lambda *given: given)
    parts: Any = SimpleNamespace(pumping=SimpleNamespace(held_pa=6e3))
    told: Any = SimpleNamespace(vent_kind="valve")
    found = [analyses._held_or_pumped(None, parts, None, told, relieves) for relieves in (False, True)]  # type: ignore[arg-type]
    assert found == [("pumped", "held"), (("pumped", "held"), 6e3, "valve")]
