"""Rigs, known leaks, repeats, strokes and idle air: each figure and each sentence reckoned by hand."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import Figure, Finding, KnownLeak, LeakEstimate, Limit, Verdict
from leakdown.errors import RecordError, UsageError
from leakdown.judge.idle_air import _hole_m, _swept, idle_share_of, share_of_hole
from leakdown.judge.judged import Judged, without_size
from leakdown.judge.known_leak import (
    Stated,
    _stated,
    known_leak,
    last_of,
    rig_seen,
    stated_as,
    stated_capillary,
    stated_flow,
    stated_hole,
)
from leakdown.judge.pumping import (
    _fits,
    _wanted_pa,
    judged_pumping,
    pace_of,
    pump_stroke,
    pumped_leak,
    stroke_of,
    usual_stroke,
)
from leakdown.judge.repeats import _half_width, _sd, _sentence, _throughput, pool_values, pooled
from leakdown.judge.rig import Cleared, Rig, RigLeak, _finding, _verdict, cleared, orifice_check, rig_leak, without_rig
from leakdown.judge.rig_store import _interval, keep, keep_known, load, load_or_new, names, path_of, save
from leakdown.recording import Conditions, Recording
from leakdown.uncertainty import InputQuantity, Interval

Z = 1.959963984540054
CM3 = 101325.0 / 60e6  # Pa m3/s in one cm3/min of air at 101.325 kPa
DROP = Limit("7 kPa in 60 s", "drop", "given", drop_pa=7e3, time_s=60.0)


FLOW = Interval(4e-3, 3e-3, 5e-3)


def _leak(flow: Interval | None = FLOW, **said: Any) -> LeakEstimate:
    plain: dict[str, Any] = {
        "at_pa": 35e3, "detected": True, "rate_pa_s": Interval(40.0, 30.0, 50.0), "detection_rate_pa_s": 1.0,
        "throughput_pa_m3_s": flow, "detection_pa_m3_s": 1e-4, "hole_m": Interval(1e-4, 0.9e-4, 1.1e-4),
        "viscous_share": Interval(0.5, 0.0, 1.0),
    }  # fmt: skip
    return LeakEstimate(**(plain | said))


def _analysis(
    leak: LeakEstimate | None = None, direction: str = "pressure", circuit: str = "crankcase", **said: Any
) -> Any:
    told = {"volume_m3": 1e-4, "barometer_pa": 1e5, "temperature_k": 303.15, "started": "2026-01-31"} | said
    recording = Recording(
        np.arange(5.0), np.array([42e3, 41e3, 40e3, 39e3, 38e3]),
        conditions=Conditions(circuit, direction, **told), source="a.csv",
    )  # fmt: skip
    verdict = Verdict("pass", DROP, Interval(4e3, 3e3, 5e3), "reading", "So it is.", "Do it.")
    resolution = SimpleNamespace(value=100.0, source="given")
    return replace(without_size(recording, resolution, (0.0, 4.0), verdict, ()), leak=leak)  # type: ignore[arg-type]


OWN = RigLeak("pressure", 35e3, Interval(1e-3, 0.9e-3, 1.1e-3), "2026-01-01", "rig.csv")
RIG = Rig("bench", 1e-5, 1e-6, (OWN,))

# ---------------------------------------------------------------- the rig's own leak


def test_what_is_kept_of_a_rig_and_taken_off() -> None:
    """4 - 1 = 3 with (1, 0.1) in quadrature either side."""
    kept = rig_leak(_analysis(_leak()), "2026-02-02")
    assert kept == RigLeak("pressure", 35e3, Interval(4e-3, 3e-3, 5e-3), "2026-02-02", "a.csv")
    found = cleared(_analysis(_leak()), RIG)
    half = math.hypot(1e-3, 0.1e-3)
    assert found.left_pa_m3_s.value == pytest.approx(3e-3) and found.left_pa_m3_s.low == pytest.approx(3e-3 - half)
    assert found.left_pa_m3_s.high == pytest.approx(3e-3 + half)
    assert (found.rig, found.direction, found.at_pa) == ("bench", "pressure", 35e3)
    for leak in (None, _leak(None)):
        with pytest.raises(UsageError, match="a.csv: this test has no leak rate to keep or subtract"):
            rig_leak(_analysis(leak), "2026-02-02")
    with pytest.raises(UsageError, match="the own leak of the rig 'bench' was never tested under vacuum"):
        cleared(_analysis(_leak(), "vacuum"), RIG)
    with pytest.raises(UsageError, match="known at 35 kPa, the test's at 35.8"):
        cleared(_analysis(_leak(at_pa=35.8e3)), RIG)
    assert cleared(_analysis(_leak(at_pa=35.6e3)), RIG).at_pa == 35e3


@pytest.mark.parametrize(
    ("high", "rig_m3", "volume_m3", "codes"),
    [
        (0.39e-3, 0.9e-5, 1e-4, []),
        (0.41e-3, 0.9e-5, 1e-4, ["rig-leaks-much"]),
        (0.39e-3, 1.1e-5, 1e-4, ["rig-volume"]),
        (0.39e-3, None, 1e-4, []),
        (0.39e-3, 1.1e-5, None, []),
    ],
)
def test_a_rig_that_matters_is_said(
    high: float, rig_m3: float | None, volume_m3: float | None, codes: list[str]
) -> None:
    """A tenth of the leak or of the volume (common practice, no source)."""
    own = replace(OWN, throughput_pa_m3_s=Interval(high, 0.5 * high, high))
    rig = Rig("bench", rig_m3, None, (own,))
    flags = cleared(_analysis(_leak(), volume_m3=volume_m3), rig).flags
    assert [flag.code for flag in flags] == ["blanks-not-covered", *codes]
    unseen = cleared(_analysis(_leak(Interval(None, 0.0, 1e-3), detected=False)), Rig("bench", 1e-5, None, (own,)))
    assert [flag.code for flag in unseen.flags] == ["blanks-not-covered"]


def test_the_analysis_without_its_rig() -> None:
    """A quarter of the flow is the rig's: rate 40 - 10, hole by the root of the flow, loss 4 - 1 kPa."""
    found = without_rig(_analysis(_leak()), RIG)
    half = math.hypot(10.0, 1.0)
    assert found.leak.rate_pa_s.value == pytest.approx(30.0) and found.leak.rate_pa_s.high == pytest.approx(30.0 + half)
    assert found.leak.hole_m.value == pytest.approx(1e-4 * math.sqrt(0.75)) and found.leak.detected
    assert found.verdict.measured.value == pytest.approx(3e3) and found.verdict.word == "pass"
    assert found.verdict.reason == "So it is. Still so with the leak of the rig bench taken off: within the limit."
    assert found.verdict.remedy == "Do it." and [f.code for f in found.flags] == [
        "blanks-not-covered",
        "rig-leaks-much",
    ]
    (finding,) = found.findings
    assert [figure.interval.value for figure in finding.figures] == pytest.approx([4e-3 / CM3, 1e-3 / CM3], rel=1e-3)
    unknown = without_rig(_analysis(_leak(), "vacuum"), RIG)
    assert unknown.leak == _leak() and [f.code for f in unknown.flags] == ["rig-not-subtracted"]
    assert "never tested under vacuum. Cap its hose" in unknown.flags[0].text
    rig = _analysis(_leak(), circuit="rig")
    assert without_rig(rig, RIG) is rig
    gone = without_rig(_analysis(_leak(Interval(1e-3, 0.5e-3, 1.5e-3), hole_m=None)), RIG)
    assert not gone.leak.detected and gone.leak.hole_m is None and gone.leak.throughput_pa_m3_s.value is None
    assert without_rig(replace(_analysis(_leak()), verdict=None), RIG).verdict is None
    bound = _leak(Interval(None, 0.0, 2e-3), detected=False, rate_pa_s=Interval(None, 0.0, 20.0))
    bound = replace(bound, hole_m=Interval(None, 0.0, 1e-4))
    below = without_rig(_analysis(bound), RIG).leak
    assert below.rate_pa_s == Interval(None, 0.0, pytest.approx(20.0 - 9.0)) and not below.detected
    assert below.hole_m.value is None and below.hole_m.high == pytest.approx(1e-4 * math.sqrt(1.1 / 2.0))


@pytest.mark.parametrize(
    ("word", "measured", "after", "said", "remedy"),
    [
        ("undecided", (8e3, 6e3, 10e3), "undecided", "Still so with", "Do it."),
        ("undecided", (8e3, 7.4e3, 8.6e3), "pass", "Different with", ""),
        ("fail", (9e3, 8e3, 10e3), "undecided", "Different with", "Mend the rig and repeat."),
        ("fail", (19e3, 18e3, 20e3), "fail", "Still so with", "Do it."),
    ],
)
def test_a_verdict_without_the_rig_s_part(word: Any, measured: Any, after: str, said: str, remedy: str) -> None:
    """A quarter of the loss is the rig's, known to a tenth."""
    test, own = Interval(4e-3, 3.8e-3, 4.2e-3), Interval(1e-3, 0.9e-3, 1.1e-3)
    found = Cleared("bench", "pressure", 35e3, test, own, Interval(3e-3, 2.8e-3, 3.2e-3), ())
    verdict = Verdict(word, DROP, Interval(*measured), "reading", "So.", "Do it.")
    rest = _verdict(verdict, found)
    assert (rest.word, rest.remedy) == (after, remedy) and said in rest.reason
    assert rest.measured is not None and rest.measured.value == pytest.approx(0.75 * measured[0])
    rate = Limit("x", "rate", "given", rate_pa_m3_s=2.9e-3)
    flow = _verdict(replace(verdict, limit=rate, measured=test), found)
    assert flow.measured is not None and flow.measured.value == pytest.approx(3e-3) and flow.word == "undecided"
    for none in (
        replace(verdict, measured=None),
        replace(verdict, limit=Limit("x", "words", "given")),
        replace(verdict, word="undecided", basis="none"),
    ):
        assert _verdict(none, found) is none


def test_the_sentence_of_what_was_taken_off() -> None:
    test, own = Interval(4e-3, 3e-3, 5e-3), Interval(None, 0.0, 1e-3)
    finding = _finding(Cleared("bench", "pressure", 35e3, test, own, test, ()))
    assert finding.sentence == "Taken off: the rig bench by itself leaks at most 0.59 cm3/min of the 2.4 cm3/min seen."
    assert [figure.key for figure in finding.figures] == ["seen_cm3_per_min", "rig_cm3_per_min"]


def test_a_hole_in_the_cap() -> None:
    """Areas: (0.1/0.1)^2 x 0.6/0.6 with 2 x 2 % of the diameter and 15 % of the coefficient in quadrature."""
    diameter = InputQuantity("hole", 1e-4, 2e-6 / 1.96, "given", "")
    coefficient = _analysis(_leak()).used.discharge_coefficient.value
    found = orifice_check(_analysis(_leak()), diameter, coefficient)
    known = math.hypot(0.04, 0.15)
    assert found.ratio.value == pytest.approx(1.0) and found.agrees
    assert found.ratio.low == pytest.approx(math.exp(-math.hypot(2.0 * math.log(1.0 / 0.9), known)))
    assert found.ratio.high == pytest.approx(math.exp(math.hypot(2.0 * math.log(1.1), known)))
    assert found.sentence.startswith("The chain sees 1.00 (0.77 to 1.28) times the known hole of 0.1 mm; it agrees")
    twice = orifice_check(_analysis(_leak()), replace(diameter, value=0.5e-4), 2.0 * coefficient)
    assert twice.ratio.value == pytest.approx(2.0) and not twice.agrees and "does NOT agree" in twice.sentence
    for leak in (None, _leak(hole_m=None), _leak(hole_m=Interval(None, 0.0, 1e-4))):
        with pytest.raises(UsageError, match="no leak of a known size"):
            orifice_check(_analysis(leak), diameter)


def test_rigs_on_disk(tmp_path: Path) -> None:
    capped = _analysis(_leak(), circuit="rig", volume_u_m3=2e-6)
    rig, path = keep("bench", tmp_path, capped)
    assert path == tmp_path / "bench.json" and load("bench", tmp_path) == rig
    assert (rig.volume_m3, rig.volume_u_m3, rig.leaks[0].measured) == (1e-4, 2e-6, "2026-01-31")
    second, _ = keep("bench", tmp_path, _analysis(_leak(), circuit="rig", volume_m3=None))
    assert second.volume_m3 == 1e-4 and len(second.leaks) == 1
    assert (
        load_or_new("other", tmp_path) == Rig("other") and names(tmp_path) == ["bench"] and names(tmp_path / "x") == []
    )
    known = KNOWN
    one, _ = keep_known("bench", tmp_path, known)
    again, _ = keep_known("bench", tmp_path, replace(known, text="0.2 mm"))
    more, _ = keep_known("bench", tmp_path, replace(known, file="b.csv"))
    assert (len(one.known), len(again.known), len(more.known)) == (1, 1, 2) and again.known[0].text == "0.2 mm"
    assert load("bench", tmp_path) == more and json.loads(path.read_text("utf-8"))["version"] == 1
    with pytest.raises(RecordError, match="no rig 'nix' is kept in .*") as none:
        load("nix", tmp_path)
    assert "Kept there: bench." in str(none.value)
    with pytest.raises(RecordError) as empty:
        load("nix", tmp_path / "x")
    assert "Kept there: none." in str(empty.value)
    for name in ("", "a/b", "-a", "x" * 61, "nul"):
        with pytest.raises(UsageError, match="is no name for a rig"):
            path_of(name, tmp_path)
    assert path_of("x" * 60, tmp_path).name == "x" * 60 + ".json"


@pytest.mark.parametrize(
    "change",
    [
        {"version": 2}, {"name": None, "leaks": 3}, {"volume_m3": 0.0}, {"volume_m3": -1.0}, {"volume_u_m3": "x"},
        *({"leaks": [{"direction": "pressure", "at_pa": 1.0, "value_pa_m3_s": v, "low_pa_m3_s": low,
                      "high_pa_m3_s": high, "measured": "2026-01-01", "source": "x"}]}
          for v, low, high in ((2.0, 3.0, 4.0), (5.0, 3.0, 4.0), (None, 5.0, 4.0), (3.0, -1.0, 4.0),
                               (3.0, 1.0, math.inf), (0.0, 0.0, 1.0))),
        {"leaks": [{"direction": "up", "at_pa": 1.0, "value_pa_m3_s": 2.0, "low_pa_m3_s": 1.0, "high_pa_m3_s": 3.0,
                    "measured": "2026-01-01", "source": "x"}]},
        {"known": [{"direction": "up"}]},
    ],
)  # fmt: skip
def test_a_rig_s_file_that_cannot_be_is_refused(tmp_path: Path, change: dict[str, Any]) -> None:
    path = save(replace(RIG, known=(KNOWN,)), tmp_path)
    assert load("bench", tmp_path) == replace(RIG, known=(KNOWN,))
    row = json.loads(path.read_text("utf-8")) | change
    path.write_text(json.dumps(row), "utf-8")
    with pytest.raises(RecordError, match="bench.json: this rig's file is damaged"):
        load("bench", tmp_path)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("direction", "up"),
        ("measured_on", "soon"),
        ("rate_pa_s", {"value": 1.0, "low": 2.0, "high": 3.0}),
        ("volume_m3", 0.0),
    ],
)
def test_a_known_leak_that_cannot_be_is_refused(tmp_path: Path, name: str, value: Any) -> None:
    path = save(replace(RIG, known=(KNOWN,)), tmp_path)
    row = json.loads(path.read_text("utf-8"))
    row["known"][0][name] = value
    path.write_text(json.dumps(row), "utf-8")
    with pytest.raises(RecordError, match="damaged"):
        load("bench", tmp_path)


def test_a_rig_s_file_of_before_knew_no_known_leaks(tmp_path: Path) -> None:
    path = save(RIG, tmp_path)
    row = json.loads(path.read_text("utf-8"))
    del row["known"]
    path.write_text(json.dumps(row), "utf-8")
    assert load("bench", tmp_path) == RIG


# ---------------------------------------------------------------- known leaks

KNOWN = KnownLeak(
    "pressure", 35e3, "hole", "0.1 mm", "drawing", "2026-01-01", Interval(4e-3, 3.8e-3, 4.2e-3),
    Interval(4e-3, 3e-3, 5e-3), Interval(40.0, 30.0, 50.0), 1e-4, "a.csv",
)  # fmt: skip


def test_what_is_stated_of_a_known_leak() -> None:
    """Capillary: pi d^4/(256 mu L) (p1^2 - p2^2) at 18.2 uPa s; hole: twice its diameter's doubt and 15 %."""
    flow = stated_flow("12 cm3/min +/- 3 % at 35 kPa")
    assert (flow.kind, flow.at_pa) == ("flow", 35e3)
    stated = _stated(flow, 1e5, 35e3)
    assert stated.value == pytest.approx(12.0 * CM3, rel=1e-3) and stated.high == pytest.approx(
        stated.value * math.exp(0.03)
    )
    assert stated.low == pytest.approx(stated.value * math.exp(-0.03), rel=1e-4)
    capillary = stated_capillary("0.10 mm +/- 2 % x 50 mm +/- 1 %")
    for back, at, difference in ((1e5, 35e3, 135e3**2 - 1e10), (1e5, -35e3, 1e10 - 65e3**2)):
        found = _stated(capillary, back, at)
        assert found.value == pytest.approx(math.pi * 1e-4**4 / (256.0 * 18.2e-6 * 0.05) * difference, rel=1e-6)
        assert found.high / found.value == pytest.approx(math.exp(math.hypot(0.08, 0.01, 0.05)), rel=1e-4)
    hole = _stated(stated_hole("0.30 mm +/- 2 %"), 1e5, 35e3)
    assert hole.high / hole.value == pytest.approx(math.exp(math.hypot(0.04, 0.15)), rel=1e-4)
    assert hole.value / hole.low == pytest.approx(math.exp(math.hypot(0.04, 0.15)), rel=1e-4)
    wide = _stated(stated_hole("0.60 mm +/- 2 %", 0.3), 1e5, 35e3)
    assert wide.value == pytest.approx(hole.value * 4.0 * 0.3 / stated_hole("0.30 mm +/- 2 %").coefficient)
    vacuum = _stated(stated_hole("0.30 mm +/- 2 %"), 1e5, -35e3)
    assert vacuum.value < hole.value


@pytest.mark.parametrize(
    ("given", "what"),
    [
        ((None, None, None), "the size of the known leak is not said"),
        (("", "", ""), "the size of the known leak is not said"),
        (("12 cm3/min +/- 3 % at 35 kPa", "0.3 mm +/- 1 %", None), "the known leak has two sizes"),
        (("12 cm3/min +/- 3 %", None, None), "names no pressure"),
        (("12 cm3/min at 35 kPa", None, None), "--flow '12 cm3/min' has no doubt"),
        ((None, "0.3 mm", None), "--hole '0.3 mm' has no doubt"),
        ((None, None, "0.3 mm +/- 1 %"), "has no bore and length"),
        ((None, None, "0.3 mm +/- 1 % x 5 mm +/- 1 % x 3 mm +/- 1 %"), "has no bore and length"),
        ((None, None, "0.3 mm +/- 1 % x 5 mm"), "--capillary '5 mm' has no doubt"),
    ],
)
def test_a_size_that_is_not_stated(given: Any, what: str) -> None:
    with pytest.raises(UsageError) as caught:
        stated_as(*given, 0.6)
    assert what in str(caught.value)
    assert stated_as(None, "0.3 mm +/- 1 %", None, 0.7).coefficient == 0.7
    assert stated_as(None, None, "0.1 mm +/- 1 % by 5 mm +/- 1 %", 0.6).kind == "capillary"


def test_a_known_leak_is_kept_at_20_degrees() -> None:
    stated = Stated("flow", "2 cm3/min  +/- 3 %", (InputQuantity("flow", 2.0 * CM3, 1e-5, "given", ""),), 35e3)
    found = known_leak(_analysis(_leak()), stated, " certificate  4711 ")
    assert found.measured_pa_m3_s.value == pytest.approx(4e-3 * 293.15 / 303.15) and found.measured_on == "2026-01-31"
    assert (found.text, found.source, found.kind) == ("2 cm3/min +/- 3 %", "certificate 4711", "flow")
    assert (found.at_pa, found.direction, found.volume_m3, found.file) == (35e3, "pressure", 1e-4, "a.csv")
    assert known_leak(_analysis(_leak()), stated, "x", "2025-12-31T10:00").measured_on == "2025-12-31"
    for leak in (None, _leak(None), _leak(Interval(None, 0.0, 1e-3))):
        with pytest.raises(UsageError, match="this test shows no leak of a size"):
            known_leak(_analysis(leak), stated, "x")
    with pytest.raises(UsageError, match="no source"):
        known_leak(_analysis(_leak()), stated, "  ")
    with pytest.raises(UsageError, match="'soon' is no date"):
        known_leak(_analysis(_leak()), stated, "x", "soon")
    with pytest.raises(UsageError, match="stated at 35 kPa, the test is quoted at 35.8"):
        known_leak(_analysis(_leak(at_pa=-35.8e3)), stated, "x")
    assert known_leak(_analysis(_leak(at_pa=-35.6e3)), stated, "x").at_pa == -35.6e3


def test_the_known_leak_that_a_result_names() -> None:
    other = replace(KNOWN, direction="vacuum", measured_on="2026-01-21")
    newer = replace(KNOWN, measured_on="2026-01-11")
    assert last_of((KNOWN, newer, other), "pressure") == newer and last_of((KNOWN,), "vacuum") is None
    seen = rig_seen(_analysis(_leak()), "bench", (KNOWN, newer, other)).rig
    assert (seen.name, seen.known, seen.age_days) == ("bench", newer, 20) and seen.both_ways is not None
    assert rig_seen(_analysis(_leak(), "vacuum"), "bench", (KNOWN, newer)).rig.known == newer
    none = rig_seen(_analysis(_leak()), "bench", ()).rig
    assert none.known is None and none.age_days is None and none.both_ways is None


# ---------------------------------------------------------------- repeats


def test_repeats_pooled_by_hand() -> None:
    """100 +/- 5 and 110 +/- 10 (sd): weights 4 to 1, mean 102, chi2 = 10^2/(25 + 100) = 0.8."""
    found = pool_values([Interval(100.0, 100 - 5 * Z, 100 + 5 * Z), Interval(110.0, 110 - 10 * Z, 110 + 10 * Z)],
                        "Pa/s", 35e3, "pressure")  # fmt: skip
    assert found.pooled.value == pytest.approx(102.0) and found.chi2 == pytest.approx(0.8)
    assert found.birge == pytest.approx(math.sqrt(0.8)) and found.agree
    assert found.pooled.high - 102.0 == pytest.approx(Z * math.sqrt(20.0))
    assert found.repeatability == pytest.approx(math.sqrt(50.0)) and found.limit == pytest.approx(2.8 * math.sqrt(50.0))
    assert (found.what, found.at_pa, found.direction, len(found.values)) == ("Pa/s", 35e3, "pressure", 2)
    assert found.sentence == "The 2 holds agree, repeatability 6.7 %."
    assert _sd(Interval(None, 0.0, 10.0)) == pytest.approx(10.0 / Z) and _sd(Interval(5.0, 3.0, 9.0)) == pytest.approx(
        3.0 / Z
    )
    assert _half_width(4.0, 0.5, 3, True) == pytest.approx(Z / 2.0) and _half_width(4.0, 1.5, 3, True) == pytest.approx(
        1.5 * Z / 2.0
    )
    assert _half_width(4.0, 1.5, 3, False) == pytest.approx(3.182446 * 1.5 / 2.0)  # Student's t, 3 (tables)


def test_what_is_said_of_holds_that_differ() -> None:
    said = _sentence(3, False, 0.002, 10.0, 100.0)
    assert said.startswith("The 3 holds do NOT agree (by chance once in 500), repeatability 10 %: the leak changed")
    assert "once in 1000000)" in _sentence(3, False, 0.0, 10.0, 100.0)
    assert _sentence(3, True, 0.5, 1.0, 0.0) == "The 3 holds agree."


def test_the_volume_s_doubt_counts_once() -> None:
    """100 +/- 20 Pa/s in 100 cm3 +/- 10 %: 0.01 Pa m3/s, sqrt(0.2^2 + 0.1^2)."""
    found = SimpleNamespace(what="Pa/s", pooled=Interval(100.0, 80.0, 130.0))
    used = SimpleNamespace(volume_m3=SimpleNamespace(value=1e-4), volume_u_m3=SimpleNamespace(value=1e-5))
    flow = _throughput(found, used)  # type: ignore[arg-type]
    assert flow.value == pytest.approx(1e-2) and flow.low == pytest.approx(1e-2 * (1.0 - math.hypot(0.2, 0.1)))
    assert flow.high == pytest.approx(1e-2 * (1.0 + math.hypot(0.3, 0.1)))
    unseen = _throughput(SimpleNamespace(what="Pa/s", pooled=Interval(None, 0.0, 10.0)), used)  # type: ignore[arg-type]
    assert unseen == Interval(None, 0.0, pytest.approx(10.0 * 1e-4 * 1.1))
    wide = _throughput(SimpleNamespace(what="Pa/s", pooled=Interval(100.0, 0.0, 300.0)), used)  # type: ignore[arg-type]
    assert wide.low == 0.0
    flows = SimpleNamespace(what="Pa m3/s", pooled=Interval(1.0, 0.5, 2.0))
    assert _throughput(flows, used) == flows.pooled  # type: ignore[arg-type]
    used.volume_u_m3.value = None
    assert _throughput(found, used).low == pytest.approx(0.8e-2)  # type: ignore[arg-type]


def test_which_holds_are_repeats() -> None:
    one = _analysis(_leak())
    assert pooled([one, one]).what == "Pa/s" and pooled([one, one]).throughput_pa_m3_s is not None
    other = _analysis(_leak(), volume_m3=2e-4)
    assert pooled([one, other]).what == "Pa m3/s"
    bare = _analysis(_leak(None))
    assert pooled([one, bare]).what == "Pa/s" and pooled([one, bare]).throughput_pa_m3_s is None
    with pytest.raises(UsageError, match="one hold has nothing to be compared with"):
        pooled([one])
    with pytest.raises(UsageError, match="a.csv: no leak model fits this hold"):
        pooled([one, _analysis(None)])
    with pytest.raises(UsageError, match="a.csv: crankcase, vacuum, is no repeat of crankcase, pressure"):
        pooled([one, _analysis(_leak(), "vacuum")])
    with pytest.raises(UsageError, match="a.csv: tank, pressure, is no repeat"):
        pooled([one, _analysis(_leak(), circuit="tank")])
    with pytest.raises(UsageError, match="quoted at different pressures"):
        pooled([one, _analysis(_leak(at_pa=35.8e3))])
    assert pooled([one, _analysis(_leak(at_pa=35.6e3))]).at_pa == 35e3


# ---------------------------------------------------------------- strokes and idle air


def test_a_circuit_that_would_not_pump_up() -> None:
    """2 strokes/s of 15 cm3 at 100 kPa: 3 Pa m3/s; below 0.7 of the 40 kPa wanted (common practice, no source)."""
    recording = _analysis(_leak()).recording
    parts = SimpleNamespace(
        pumping=SimpleNamespace(held_pa=20e3, through_pa=18e3, per_s=2.0, start_s=1.0, end_s=3.0),
        recording=recording, resolution=SimpleNamespace(value=100.0, source="given"),
    )  # fmt: skip
    limit = replace(DROP, start_pa=40e3)
    settings = SimpleNamespace(shop=None)
    found = judged_pumping(recording, parts, limit, settings, None)  # type: ignore[arg-type]
    assert found is not None and found.fit is None and found.analysis.verdict.word == "fail"
    assert found.analysis.verdict.reason.startswith(
        "It would not build above 20.0 kPa at 2.0 strokes a second (15 cm3 pump): about 1800 cm3/min leaks there"
    )
    (finding,) = found.analysis.findings
    assert [f.key for f in finding.figures] == ["pumped_leak_cm3_per_min", "pumped_hole_mm"] and finding.instead
    assert finding.figures[0].interval.value == pytest.approx(3.0 / CM3, rel=1e-3)
    assert "2 strokes/s x 15 cm3 x 100 kPa = 3 Pa m3/s" in finding.sentence
    assert [f.code for f in found.analysis.flags] == ["pump-assumed"] and "; " in found.analysis.flags[0].text
    assert (found.analysis.hold.start_s, found.analysis.hold.end_s) == (1.0, 3.0)
    parts.pumping.held_pa = 28.1e3
    assert judged_pumping(recording, parts, limit, settings, None) is None  # type: ignore[arg-type]
    parts.pumping.held_pa = 27.9e3
    hole = found.analysis.findings[0].figures[1].interval.scaled(1e-3)
    held = Judged(_analysis(_leak(hole_m=hole)), "fit")  # type: ignore[arg-type]
    both = judged_pumping(recording, parts, limit, settings, held)  # type: ignore[arg-type]
    assert both is not None and both.fit == "fit" and both.analysis.leak is held.analysis.leak
    assert both.analysis.verdict.word == "fail" and not both.analysis.findings[0].instead
    apart = judged_pumping(recording, parts, limit, settings, Judged(_analysis(_leak()), "fit"))  # type: ignore[arg-type]
    assert (
        apart is not None and apart.fit == "fit" and apart.analysis.leak is None and apart.analysis.findings[0].instead
    )
    parts.pumping = None
    assert judged_pumping(recording, parts, limit, settings, None) is None  # type: ignore[arg-type]


def test_strokes_that_tell_the_same_hole() -> None:
    leak = pumped_leak(20e3, pace_of(2.0), stroke_of(1.5e-5), 1e5)
    low, high = leak.hole_m.low, leak.hole_m.high
    for value, so in ((1.24 * high, True), (1.26 * high, False), (low / 1.24, True), (low / 1.26, False)):
        assert _fits(_analysis(_leak(hole_m=Interval(value, value, value))), leak) is so
    for none in (None, _leak(hole_m=None), _leak(hole_m=Interval(None, 0.0, high))):
        assert not _fits(_analysis(none), leak)
    assert _wanted_pa(_analysis(None).recording, DROP) == 45e3  # the circuit's own target
    assert _wanted_pa(_analysis(None).recording, replace(DROP, start_pa=30e3)) == 30e3
    assert _wanted_pa(_analysis(None, "vacuum", "carburettor-inlet").recording, DROP) == 0.0


def test_whose_stroke_it_is() -> None:
    shop = SimpleNamespace(pump_stroke_m3=3e-5)
    said = Conditions("crankcase", extra=(("pump", "20 cm3"),))
    vague = Conditions("crankcase", extra=(("pump", "the small one"),))
    assert pump_stroke(said, SimpleNamespace(shop=shop)).value == pytest.approx(2e-5)  # type: ignore[arg-type]
    assert pump_stroke(vague, SimpleNamespace(shop=shop)).value == 3e-5  # type: ignore[arg-type]
    assert pump_stroke(vague, SimpleNamespace(shop=None)) == usual_stroke()  # type: ignore[arg-type]
    assert usual_stroke().value == 1.5e-5 and usual_stroke().u == pytest.approx(0.2 * 1.5e-5 / Z)
    assert "20 cm3" in stroke_of(2e-5).note and "2 strokes a second" in pace_of(2.0).note
    assert pace_of(2.0).u == pytest.approx(0.15 * 2.0 / Z)
    for pace in (0.0, -1.0):
        with pytest.raises(UsageError, match="the pace of pumping must be above zero"):
            pace_of(pace)
    for held in (0.0, -1e5, -1.1e5):
        with pytest.raises(UsageError, match="is no pressure that pumping was held at"):
            pumped_leak(held, pace_of(1.0), usual_stroke(), 1e5)
    vacuum = pumped_leak(-40e3, pace_of(1.0), usual_stroke(), 1e5)
    assert vacuum.throughput_pa_m3_s.value == pytest.approx(1.5e-5 * 60e3) and vacuum.held_pa == -40e3


def test_which_tests_say_something_of_the_idle_air() -> None:
    """60 cm3 from 228 cm3 of crankcase: 3.8 times (common practice, no source)."""
    failed = replace(_analysis(_leak()), verdict=replace(_analysis(None).verdict, word="fail"))
    found = idle_share_of(failed, 6e-5)
    assert found is not None and found.answers and found.figures[0].key == "share_of_idle_air_percent"
    by_hand = share_of_hole(Interval(1e-4, 0.9e-4, 1.1e-4), 6e-5, ambient_pa=1e5)
    assert found.figures[0].interval == by_hand.share.scaled(100.0) and found.sentence == by_hand.sentence
    assert by_hand.share.low < by_hand.share.value < by_hand.share.high and by_hand.leak_m3_s < by_hand.idle_m3_s  # type: ignore[operator]
    assert idle_share_of(_analysis(_leak()), 6e-5) is None  # too small, and it passes
    big = _leak(hole_m=Interval(2e-3, 1.9e-3, 2.1e-3))
    assert idle_share_of(_analysis(big), 6e-5) is not None
    assert (
        idle_share_of(_analysis(big, circuit="impulse"), 6e-5) is None and idle_share_of(_analysis(None), 6e-5) is None
    )
    assert _swept(_analysis(None, volume_m3=2.28e-4), None) == (
        pytest.approx(6e-5),
        "a 60 cm3 engine reckoned from the volume",
    )
    assert (
        _swept(_analysis(None, circuit="intake"), None) == (None, "") == _swept(_analysis(None, volume_m3=None), None)
    )
    assert _swept(_analysis(None), 5e-5) == (5e-5, "")
    assert _swept(_analysis(None, extra=(("displacement", "50 cm3"),)), None) == (pytest.approx(5e-5), "")
    assert _swept(_analysis(None, extra=(("displacement", "small"),)), None)[1].startswith("a 26 cm3 engine")
    pumped = Finding("would-not-build", "x", "y", (Figure("pumped_hole_mm", "x", "mm", Interval(2.0, 1.0, 3.0)),))
    assert _hole_m(replace(_analysis(None), findings=(pumped,))) == Interval(2e-3, 1e-3, 3e-3)
    assert _hole_m(_analysis(_leak())) == _leak().hole_m and _hole_m(_analysis(_leak(hole_m=None))) is None


@pytest.mark.parametrize(
    ("seen", "share", "begins"),
    [
        (True, 0.06, "Big enough to upset the mixture at idle: about 6"),
        (True, 0.03, "It may explain the complaint, or be wear that does not matter: about 3"),
        (True, 0.009, "Too small at rest to explain a lean or high idle"),
        (False, 0.06, "It may explain the complaint, or be wear that does not matter: at most 6"),
        (False, 0.009, "Too small at rest"),
        (True, 0.00005, "Too small at rest"),
    ],
)
def test_what_a_share_of_the_idle_air_means(seen: bool, share: float, begins: str) -> None:
    """From 5 % big, below 1 % too small, each to a factor of three (common practice, no source)."""
    one = share_of_hole(Interval(1e-3, 1e-3, 1e-3), 6e-5).share.value
    assert one is not None
    hole = 1e-3 * math.sqrt(share / one)
    found = share_of_hole(Interval(hole if seen else None, hole, hole), 6e-5, how="a guess")
    assert found.sentence.startswith(begins) and "(rough, to a factor of 3; a guess)" in found.sentence
    assert found.share.high == pytest.approx(3.0 * share) and found.share.low == pytest.approx(
        share / 3.0 if seen else 0.0
    )
    assert (found.share.value is not None) is seen and ("about" in found.sentence) is (seen and share >= 1e-4)


def test_an_interval_that_was_kept_may_be_of_no_width() -> None:
    """Its ends may meet each other or the value; none lies below nought, is endless or stands the wrong way round."""
    for low, value, high in ((0.0, None, 0.0), (1.0, 1.0, 2.0), (1.0, 2.0, 2.0), (0.0, None, 2.0)):
        row = {"low_pa": low, "value_pa": value, "high_pa": high}
        assert _interval(row, "_pa") == Interval(value, low, high)
    for low, value, high in (
        (-0.1, None, 1.0),
        (1.0, 0.9, 2.0),
        (1.0, 2.1, 2.0),
        (2.0, None, 1.0),
        (0.0, None, math.inf),
    ):
        with pytest.raises(ValueError, match="an interval that is none"):
            _interval({"low_pa": low, "value_pa": value, "high_pa": high}, "_pa")
