"""Which judge a recording comes before, what is handed on, and what each hands back: on stand-ins, no fit is run."""

# ruff: noqa: E501  (cases are as long as they are)
from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import Flag, Limit, Phase, Zero
from leakdown.errors import InputError, UsageError
from leakdown.judge import analyse as room
from leakdown.judge import marks as marks_room
from leakdown.judge import tightness as tight_room
from leakdown.judge import vent as vent_room
from leakdown.judge import window_fit as window_room
from leakdown.judge.judged import Judged
from leakdown.judge.settings import Settings
from leakdown.judge.vent import VentWay, _flow, judged_inward, judged_outward
from leakdown.judge.window_fit import WindowFit, fitted_window
from leakdown.recording import Doubt
from leakdown.uncertainty import Interval
from tests.judge.test_readings_by_hand import _recording
from tests.judge.test_verdict_branches import _analysis

PRACTICE = Limit("2 kPa in 60 s", "drop", "practice", drop_pa=2e3, time_s=60.0)
GIVEN = replace(PRACTICE, source="given")


@pytest.fixture
def judges(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """Every judge replaced by one that says its name; what is None or an error here, it returns or raises."""
    says: dict[str, Any] = {
        "tight": "tight",
        "pumped": None,
        "opened": None,
        "filling": "filling",
        "outward": "outward",
    }

    def judge(name: str) -> Any:
        def by(*given: Any) -> Any:
            if isinstance(says[name], Exception):
                raise says[name]
            return says[name]

        return by

    for name, function in (("tight", "judged_tightness"), ("pumped", "judged_pumping"), ("opened", "judged_openings"),
                           ("filling", "judged_filling"), ("outward", "judged_outward")):  # fmt: skip
        monkeypatch.setattr(room, function, judge(name))
    monkeypatch.setattr(room, "judged_inward", lambda *given: "inward")
    return says


def _before(circuit: str, direction: str = "pressure", pumping: Any = None) -> Any:
    parts: Any = SimpleNamespace(pumping=pumping)
    return room._judged(_recording([1.0, 2.0], direction=direction, circuit=circuit), parts, None, Settings())


def test_the_question_picks_the_judge(judges: dict[str, Any]) -> None:
    assert _before("crankcase") == "tight" == _before("carburettor-inlet") and _before("tank", "vacuum") == "inward"
    assert _before("tank") == "outward" and _before("carburettor-inlet", "vacuum") == "tight"
    judges["opened"] = "opened"
    assert _before("carburettor-inlet") == "opened" and _before("crankcase") == "tight"
    judges["pumped"] = "pumped"
    assert _before("crankcase") == "pumped" and _before("tank", pumping=SimpleNamespace(held_pa=1.0)) == "filling"
    judges["pumped"] = None
    judges["outward"] = InputError("too little")
    assert _before("tank") == "tight"
    judges["tight"] = InputError("no hold", where="a.csv")
    with pytest.raises(InputError, match="no hold"):
        _before("crankcase")
    judges["pumped"] = "pumped"
    assert _before("crankcase") == "pumped"
    judges |= {"pumped": None, "tight": None}
    with pytest.raises(InputError, match="nothing can be said of it"):
        _before("crankcase")


def test_what_belongs_to_a_result_besides(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = replace(_recording([42e3, 41e3]), doubts=(Doubt("x", "is it?", True),))
    monkeypatch.setattr(
        room, "without_rig", lambda result, rig: replace(result, flags=(*result.flags, Flag("rig", str(rig))))
    )
    monkeypatch.setattr(room, "pump_unsaid", lambda result: (Flag("pump", "x"),))
    monkeypatch.setattr(room, "idle_share_of", lambda result, swept: None if swept is None else f"share {swept}")
    found = room._finished(Judged(_analysis(), "fit"), whole, Settings())  # type: ignore[arg-type]
    assert (
        found.fit == "fit"
        and found.analysis.recording is whole
        and [f.code for f in found.analysis.flags] == ["pump", "x"]
    )
    assert found.analysis.verdict.word == "undecided" and found.analysis.findings == ()
    rigged = Settings(swept_m3=5e-5)
    monkeypatch.setattr(Settings, "rig_for", lambda self, recording: "bench")
    more = room._finished(Judged(_analysis(), None), whole, rigged).analysis
    assert [f.code for f in more.flags] == ["rig", "pump", "x"] and more.findings == ("share 5e-05",)
    several = replace(
        whole, holds=((0.0, 1.0), (1.0, 1.0)), doubts=(Doubt("pumped-again", "a", True), Doubt("other", "b", False))
    )
    assert [d.code for d in room._open_doubts(several, None)] == ["pumped-again", "other"]
    assert [d.code for d in room._open_doubts(several, (0.0, 1.0))] == ["other"]
    assert [d.code for d in room._open_doubts(several, (0.5, 1.5))] == ["pumped-again", "other"]
    assert room._last_hold(several).time_s.tolist() == [1.0] and room._last_hold(whole) is whole


# ---------------------------------------------------------------- vents


def test_air_at_the_level() -> None:
    """100 Pa/s in 500 cm3 at 100 kPa is 0.5 cm3/s, +/- 10 % where no doubt is given; any usual tank without a volume."""
    speed = Interval(100.0, 100.0, 100.0)

    def flow(**said: Any) -> Any:
        asked: list[Any] = []
        vent_room.speed_at, kept = (
            (lambda level, seen, ambient: asked.append((level, ambient)) or speed),
            vent_room.speed_at,
        )  # type: ignore[assignment, return-value]
        try:
            return _flow(_recording([1.0, 2.0], barometer_pa=1e5, **said), None), asked  # type: ignore[arg-type]
        finally:
            vent_room.speed_at = kept

    usual, asked = flow()
    assert usual == Interval(
        None, pytest.approx(100.0 * 200e-6 / 1e5), pytest.approx(100.0 * 1000e-6 / 1e5)
    ) and asked == [(5e3, 1e5)]
    found, _ = flow(volume_m3=5e-4)
    assert (found.value, found.low, found.high) == pytest.approx((5e-7, 4.5e-7, 5.5e-7))
    sure, _ = flow(volume_m3=5e-4, volume_u_m3=5e-6)
    assert (sure.low, sure.high) == pytest.approx((4.95e-7, 5.05e-7))


def _way(monkeypatch: pytest.MonkeyPatch, **said: Any) -> None:
    seen = VentWay(
        Interval(8e-7, 7e-7, 9e-7), said.get("levels"), said.get("end", 1e3), said.get("start", 8e3), 1.0, 9.0
    )
    monkeypatch.setattr(vent_room, "way", lambda parts: seen)
    monkeypatch.setattr(vent_room, "on_span", lambda parts, span: span)


def test_a_tank_judged_by_the_air_that_gets_in(monkeypatch: pytest.MonkeyPatch) -> None:
    _way(monkeypatch)
    tank = _recording([-8e3, -6e3, -5e3], direction="vacuum", circuit="tank", volume_m3=5e-4, volume_u_m3=1e-5)
    parts: Any = SimpleNamespace(resolution=SimpleNamespace(value=100.0, source="given"))
    hold = Judged(replace(_analysis("fail", "vacuum", "tank", limit=GIVEN), flags=(Flag("step", "x"),)), "fit")  # type: ignore[arg-type]
    asked: list[Any] = []

    def tight(recording: Any, span: Any, limit: Any, settings: Any, of_leak: bool = True) -> Any:
        asked.append((span, of_leak))
        return hold

    monkeypatch.setattr(vent_room, "judged_tightness", tight)
    found = judged_inward(tank, parts, PRACTICE, Settings())
    assert asked == [((1.0, 9.0), False)] and found.fit == "fit" and found.analysis.verdict.word == "pass"
    assert found.analysis.findings[0].name == "air-in" and [f.code for f in found.analysis.flags] == ["step"]
    assert not found.analysis.hold.given
    own = judged_inward(tank, parts, GIVEN, Settings(hold_s=(2.0, 5.0)))
    assert asked[-1] == ((2.0, 5.0), False) and own.analysis.verdict.word == "fail" and own.analysis.hold.given
    hold = replace(hold, analysis=replace(hold.analysis, flags=(Flag("frozen", "x"),)))
    assert judged_inward(tank, parts, None, Settings()).analysis.verdict.reason.startswith("The gauge froze")
    still = replace(tank, pressure_pa=np.full(3, -8e3))
    assert judged_inward(still, parts, None, Settings()).analysis.verdict.word == "pass"

    def none(*given: Any, of_leak: bool = True) -> Any:
        raise InputError("no hold")

    monkeypatch.setattr(vent_room, "judged_tightness", none)
    bare = judged_inward(replace(tank, conditions=replace(tank.conditions, volume_u_m3=None)), parts, None, Settings())
    assert (
        bare.fit is None
        and bare.analysis.leak is None
        and [f.code for f in bare.analysis.flags] == ["volume-uncertainty-assumed"]
    )


def test_a_tank_judged_outward(monkeypatch: pytest.MonkeyPatch) -> None:
    parts: Any = SimpleNamespace(
        recording=_recording([8e3, 6e3], circuit="tank"), resolution=SimpleNamespace(value=100.0, source="given")
    )
    held = Judged(
        replace(_analysis("fail", circuit="tank", limit=PRACTICE), flags=(Flag("levels-off", "x"), Flag("step", "y"))),
        "fit",
    )  # type: ignore[arg-type]
    _way(monkeypatch, levels=6e3, end=6e3, start=15e3)
    assert (
        judged_outward(parts, held, None, Settings()) is held and judged_outward(parts, held, GIVEN, Settings()) is held
    )
    passed = Judged(_analysis("pass", circuit="tank"), None)
    assert judged_outward(parts, passed, PRACTICE, Settings()) is passed
    relieves = judged_outward(parts, held, PRACTICE, Settings())
    assert (
        relieves is not None
        and relieves.analysis.verdict.word == "pass"
        and [f.code for f in relieves.analysis.flags] == ["step"]
    )
    _way(monkeypatch, levels=None, end=1e3, start=15e3)
    fails = judged_outward(parts, held, PRACTICE, Settings(vent_kind="valve"))
    assert (
        fails is not None
        and fails.analysis.verdict.word == "fail"
        and [f.code for f in fails.analysis.flags] == ["levels-off", "step"]
    )
    alone = judged_outward(parts, None, PRACTICE, Settings())
    assert (
        alone is not None
        and alone.fit is None
        and alone.analysis.findings[0].sentence == "Left alone it fell from 15 to 1 kPa."
    )
    assert alone.analysis.findings[0].instead and [f.code for f in alone.analysis.flags] == ["tank-volume-assumed"]


# ---------------------------------------------------------------- the hold and its window


def _fitted(**said: Any) -> Any:
    plain = {"odd": None, "sized": "sized", "rising_sigmas": 0.0} | said
    return WindowFit(
        SimpleNamespace(recording="r", zero=SimpleNamespace(known_pa=5.0), frozen_s=said.get("frozen"), end_s=60.0),  # type: ignore[arg-type]
        _recording(np.full(said.get("count", 40), 40e3)), None, None,  # type: ignore[arg-type]
        SimpleNamespace(**{k: plain[k] for k in ("odd", "sized", "rising_sigmas")}, found=SimpleNamespace(model=SimpleNamespace(sign=1.0))),  # type: ignore[arg-type]
    )  # fmt: skip


def test_what_a_window_s_fit_tells() -> None:
    assert not _fitted().climbs and _fitted(rising_sigmas=4.1).climbs and not _fitted(rising_sigmas=4.0).climbs
    assert not _fitted().frozen and _fitted(frozen=(50.0, 70.0)).frozen and not _fitted(frozen=(60.0, 70.0)).frozen
    assert _fitted(sized=None).leak is None and _fitted(sized=SimpleNamespace(estimate=3)).leak == 3
    assert _fitted().zero_pa == 5.0 and _fitted().size_pa.tolist()[0] == 40e3 - 5.0 and _fitted().recording == "r"


def test_where_a_window_is_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    """At a mark where the plain leak does not do; on the longer side of a step, twice at most, in logs."""
    step = SimpleNamespace(name="step", time_s=7.0, size=3.0)
    results = {"whole": _fitted(), "marked": _fitted(), "side": _fitted(), "side2": _fitted(odd=step)}
    calls: list[str] = []
    monkeypatch.setattr(window_room, "_fitted", lambda window, used, settings: calls.append(window) or results[window])
    monkeypatch.setattr(window_room, "before_mark", lambda window, marks: "marked")
    sides = iter(())

    def longer(window: Any, part: Any, at: float, size: float) -> str:
        assert (at, size) == (7.0, 3.0)
        return next(sides)

    monkeypatch.setattr(window_room, "longer_side", longer)

    def run() -> list[str]:
        calls.clear()
        fitted_window(SimpleNamespace(marks=()), "whole", None, Settings())  # type: ignore[arg-type]
        return list(calls)

    assert run() == ["whole"]
    results["whole"] = _fitted(sized=None)
    assert run() == ["whole", "marked"]
    results["whole"] = _fitted(odd=SimpleNamespace(name="growth"))
    assert run() == ["whole", "marked"]
    monkeypatch.setattr(window_room, "before_mark", lambda window, marks: None)
    assert run() == ["whole"]
    results["whole"], sides = _fitted(odd=step), iter(("side",))
    assert run() == ["whole", "side"]
    sides = iter(("side2", "side2"))
    assert run() == ["whole", "side2", "side2"]
    results["whole"] = _fitted(odd=step, count=5)
    assert run() == ["whole"]


def test_no_vacuum_deeper_than_the_air() -> None:
    parts: Any = SimpleNamespace(resolution=SimpleNamespace(value=100.0, source="given"), kept={"hold": _fitted()})
    low = _recording([-40e3, -39e3], direction="vacuum", barometer_pa=1e5)
    with pytest.raises(UsageError, match="no vacuum of 98 kPa can be at 100.0 kPa of air"):
        tight_room.judged_tightness(low, parts, None, Settings(quote_pa=98e3))


def test_a_fitted_window_is_kept_for_the_next_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[Any] = []
    monkeypatch.setattr(
        tight_room,
        "fitted_window",
        lambda *given: made.append(given) or SimpleNamespace(chosen=SimpleNamespace(found="fit")),
    )
    monkeypatch.setattr(tight_room, "_analysis", lambda recording, fitted, limit, settings, of_leak: (limit, of_leak))
    parts: Any = SimpleNamespace(resolution=SimpleNamespace(value=100.0, source="given"), kept={}, hold="hold")
    first = tight_room.judged_tightness(_recording([40e3, 39e3]), parts, GIVEN, Settings())
    second = tight_room.judged_tightness(_recording([40e3, 39e3]), parts, None, Settings(quote_pa=990e3), of_leak=False)
    assert (first.analysis, second.analysis, first.fit, len(made)) == ((GIVEN, True), (None, False), "fit", 1)


@pytest.mark.parametrize(
    ("settled", "given", "count", "start", "so"),
    [(20.0, False, 40, 30.0, True), (20.0, True, 40, 10.0, True), (20.0, False, 5, 10.0, True), (36.0, False, 40, 10.0, False), (34.0, False, 40, 44.0, True),
     (36.0, False, 5, 10.0, True)],
)  # fmt: skip
def test_where_the_settled_hold_begins(
    monkeypatch: pytest.MonkeyPatch, settled: float, given: bool, count: int, start: float, so: bool
) -> None:
    """Within 0.7 of the 50 s (common practice, no source); a sheet's and a chosen hold begin where they begin."""
    monkeypatch.setattr(tight_room, "settled_after_s", lambda found, surely=False: settled)
    window = SimpleNamespace(
        closed_s=10.0,
        end_s=60.0,
        given=given,
        phases=(Phase("hold", 10.0, 60.0),),
        zero=Zero(5.0, 1.0, "given"),
        steps=(),
    )
    part = _recording(40e3 - np.linspace(0.0, 50.0, count), np.linspace(10.0, 60.0, count))
    fitted: Any = SimpleNamespace(window=window, part=part, chosen=SimpleNamespace(found=None), zero_pa=5.0)
    hold, was = tight_room._hold(fitted)
    if count > 5 and not so:  # the same, but not for sure
        monkeypatch.setattr(tight_room, "settled_after_s", lambda found, surely=False: 4.0 if surely else settled)
        sure, was_sure = tight_room._hold(fitted)
        assert was_sure and sure.start_s == 14.0
    assert (hold.start_s, was, hold.closed_s, hold.end_s, hold.readings) == (start, so, 10.0, 60.0, count)
    assert hold.end_pa == pytest.approx(40e3 - 50.0 - 5.0, abs=1.0) and hold.start_pa == pytest.approx(
        40e3 - (start - 10.0) - 5.0, abs=1.0
    )
    assert [p.name for p in hold.phases] == (["stabilise", "hold"] if start > 10.0 else ["hold"])


# ---------------------------------------------------------------- what a mark did


def test_after_over_before_a_mark(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both holds reach to within five seconds of the mark; the creep of the first goes on in the second."""
    holds = {"before": (2.0, 38.0), "after": (43.0, 80.0)}
    monkeypatch.setattr(
        marks_room, "_hold_within", lambda whole, start, end: holds["before"] if end == 40.0 else holds["after"]
    )
    fits: list[Any] = []
    converged = {"so": True}

    def fit(whole: Any, start: float, end: float, span: Any) -> Any:
        fits.append((start, end, span))
        return SimpleNamespace(fit=SimpleNamespace(converged=converged["so"]))

    seen: list[Any] = []
    monkeypatch.setattr(marks_room, "_fit_of_part", fit)
    monkeypatch.setattr(marks_room, "compared", lambda parts: seen.append(parts) or SimpleNamespace(ratio="ratio"))
    assert marks_room._change(None, 0.0, 40.0, 90.0) == "ratio"  # type: ignore[arg-type]
    assert fits == [(2.0, 38.0, (2.0, 80.0)), (43.0, 80.0, (2.0, 80.0))]
    before, after = seen[0]
    assert not before.second and after.second and after.scale == 1.0 and before.tied == () and len(after.tied) == 3
    assert after.fading == pytest.approx(np.exp(-41.0 / np.array([0.7, 1.5, 3.0, 6.0, 15.0, 40.0])))
    monkeypatch.setattr(marks_room, "compared", lambda parts: None)
    assert marks_room._change(None, 0.0, 40.0, 90.0) is None  # type: ignore[arg-type]
    monkeypatch.setattr(marks_room, "compared", lambda parts: SimpleNamespace(ratio="ratio"))
    for name, far, near in (("before", (2.0, 34.9), (2.0, 35.1)), ("after", (46.6, 80.0), (46.4, 80.0))):
        kept = holds[name]
        holds[name] = far
        assert marks_room._change(None, 0.0, 40.0, 90.0) is None  # type: ignore[arg-type]
        holds[name] = near
        assert marks_room._change(None, 0.0, 40.0, 90.0) == "ratio"  # type: ignore[arg-type]
        holds[name] = kept
    converged["so"] = False
    assert marks_room._change(None, 0.0, 40.0, 90.0) is None  # type: ignore[arg-type]
    holds["after"] = None  # type: ignore[assignment]
    assert marks_room._change(None, 0.0, 40.0, 90.0) is None  # type: ignore[arg-type]
