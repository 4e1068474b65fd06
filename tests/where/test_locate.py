"""The whole of `locate`: pairs, circuits, observations, words and JSON."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import numpy as np
import pytest

from leakdown.errors import UsageError
from leakdown.judge.analyse import fitted
from leakdown.recording import Recording
from leakdown.where import locate as locating
from leakdown.where.answers import EngineFacts
from leakdown.where.knowledge import NO_LEAK
from leakdown.where.locate import locate, locate_fitted
from leakdown.where.located import Located
from leakdown.words.located import located_lines
from leakdown.words.objects import located_object
from tests.where.engines import Engine, Leak, fitted_once, run


@pytest.fixture(autouse=True)
def _each_recording_is_fitted_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(locating, "fitted", fitted_once)


@cache
def _logs(ratio: float, seed: int, sheet: bool) -> list[Recording]:
    """Both tests of an engine."""
    rng = np.random.default_rng(seed)
    share = (1.0, 0.0, 0.5)[seed % 3]
    engine = Engine((Leak(35e3 / rng.uniform(25, 300), share, ratio),), rng.uniform(84e3, 102e3))
    return [run(engine, rng, sign, sheet=sheet) for sign in (1.0, -1.0)]


@cache
def _pair(ratio: float, seed: int, sheet: bool = False, **said: Any) -> Located:
    return locate(_logs(ratio, seed, sheet), **said)


def _groups(found: Located) -> dict[str, float]:
    return {g.group: g.probability for g in found.groups}


@pytest.mark.slow
def test_pairs_point_the_right_way(full: bool) -> None:
    """Same hole, seal-like (vacuum larger), boot-like (pressure larger), all flow laws and altitudes."""
    wrong, inside, first = [], [], []
    rng = np.random.default_rng(1)
    for seed in range(20 if full else 2):
        for ratio in (1.0, rng.uniform(1.8, 5.0), rng.uniform(0.2, 0.55)):
            found = _pair(ratio, 100 + seed)
            assert found.ratio is not None and found.ratio.value is not None and found.ratio.high is not None
            wrong.append(abs(found.ratio.value / ratio - 1.0))
            inside.append(found.ratio.low <= ratio <= found.ratio.high)
            top = found.groups[0].group
            first.append(top == "shaft-seal" if ratio > 1.5 else top not in ("shaft-seal", NO_LEAK))
    assert np.median(wrong) < 0.01
    assert np.mean(inside) > 0.9 if full else np.mean(inside) >= 0.75
    assert np.mean(first) >= 0.95


@pytest.mark.slow
def test_needle_sheets_are_never_sure_of_a_wrong_place(full: bool) -> None:
    for seed in range(20 if full else 2):
        for ratio in (1.0, 3.0, 0.35):
            found = _pair(ratio, 200 + seed, sheet=True)
            assert found.places[0].probability < 0.9


def test_probabilities_sum_to_one_and_json_is_finite() -> None:
    found = _pair(2.5, 3)
    assert sum(g.probability for g in found.groups) == pytest.approx(1.0)
    assert sum(p.probability for p in found.places) == pytest.approx(1.0)
    row = json.loads(json.dumps(located_object(found), allow_nan=False))
    assert set(row) >= {"vacuum_over_pressure", "groups", "places", "sections", "ruled_out", "not_tested",
                        "next_test", "warnings"}  # fmt: skip
    assert set(row["vacuum_over_pressure"]) >= {"value", "low", "high", "at_least"}
    assert [g["probability"] for g in row["groups"]] == sorted((g["probability"] for g in row["groups"]), reverse=True)
    assert set(row["next_test"]) == {"id", "do", "why", "minutes", "direction", "enter"}
    assert all(set(entry) < {"seen", "not_seen", "file"} and len(entry) == 1 for entry in row["next_test"]["enter"])
    assert 0.0 < row["together"]["probability"] <= 1.0


def test_one_direction_asks_for_the_other() -> None:
    pressure = run(Engine((Leak(300.0, 1.0),)), np.random.default_rng(4), 1.0)
    found = locate([pressure])
    assert found.ratio is None and "vacuum" in found.not_tested
    behind_reeds = locate([pressure], intake="reed")  # soap on the case shows no boot there
    assert behind_reeds.next_test is not None and behind_reeds.next_test.id == "vacuum"
    on_a_tight_rig = locate([pressure], seen=["rig-tight"])
    assert on_a_tight_rig.next_test is not None and on_a_tight_rig.next_test.do.startswith("Evacuate")
    assert "one-direction" in {w.code for w in found.warnings}
    assert max(_groups(found).values()) < 0.5


def test_tight_both_ways_finds_no_leak() -> None:
    rng = np.random.default_rng(5)
    found = locate([run(Engine(()), rng, sign) for sign in (1.0, -1.0)])
    assert found.groups[0].group == NO_LEAK and found.groups[0].probability > 0.8
    assert located_object(found)["vacuum_over_pressure"]["value"] is None
    assert found.next_test is not None and "Crack one blank open" in found.next_test.do


def test_tight_under_pressure_only_is_a_bound() -> None:
    rng = np.random.default_rng(6)
    found = locate([run(Engine(()), rng, 1.0), run(Engine((Leak(400.0, 0.8),)), rng, -1.0)])
    assert found.ratio is not None and found.ratio.value is None and (found.ratio.at_least or 0.0) > 5.0
    assert _groups(found)["gasket-or-joint"] < 0.1  # unless a repair lies between the tests
    assert found.groups[0].group in ("shaft-seal", "intake-boot")


def test_a_rising_hold_is_vapour_or_warming_never_a_leak() -> None:
    rng = np.random.default_rng(7)
    found = locate([run(Engine(()), rng, sign, warming_k_min=1.0, hold_s=90.0) for sign in (1.0, -1.0)])
    assert found.groups[0].group == NO_LEAK
    assert {"reading-rises"} <= {w.code for w in found.warnings}
    assert found.next_test.id == "repeat" and "warming" in {w.code for w in found.warnings}


def test_intake_type_moves_the_odds() -> None:
    reed, piston = (_pair(4.0, 9, intake=kind) for kind in ("reed", "piston-port"))
    assert _groups(reed)["intake-boot"] > 3.0 * _groups(piston)["intake-boot"]
    assert _groups(piston)["shaft-seal"] > _groups(reed)["shaft-seal"]


@pytest.mark.slow
def test_lips_that_face_outward_leak_the_other_way() -> None:
    known, unknown = _pair(0.4, 10, seal_lips="out"), _pair(0.4, 10)
    assert _groups(known)["shaft-seal"] > 2.0 * _groups(unknown)["shaft-seal"]


def test_observations_move_the_odds_within_the_cap() -> None:
    plain, soaped = (_pair(1.0, 12), _pair(1.0, 12, seen=("bubbles-base", "oily-fins", "cylinder-was-off")))
    before, after = ({p.place: p.probability for p in found.places}["base-gasket"] for found in (plain, soaped))
    assert after > 0.75 > before
    assert (after / (1 - after)) / (before / (1 - before)) < 30.0**2
    assert any("bubbles at the base gasket" in r for r in soaped.groups[0].reasons)
    none = _pair(1.0, 12, seen=("no-decompression",))
    assert _groups(none)["decompression-valve"] == 0.0


def test_a_coarse_ratio_moves_the_odds_less_than_a_sharp_one() -> None:
    sharp, coarse = _pair(3.0, 15), _pair(3.0, 15, sheet=True)
    assert sharp.ratio is not None and coarse.ratio is not None
    assert (coarse.ratio.high or 9.0) / coarse.ratio.low > (sharp.ratio.high or 9.0) / sharp.ratio.low


def test_a_measured_share_beats_the_story() -> None:
    """Ratio 1 fits many places; blocking the boot shows that it carries nine tenths."""
    rng = np.random.default_rng(16)
    engine = Engine((Leak(360.0, 0.2, 1.0, "boot"), Leak(40.0, 0.5, 1.0, "case")))
    sections = (("boot", "case"), ("case",))
    found = locate([run(engine, rng, sign, sections=s, named=True) for sign in (1.0, -1.0) for s in sections])
    assert found.groups[0].group == "intake-boot" and found.groups[0].probability > 0.9
    assert found.next_test is None or "cylinder" not in found.next_test.do


def test_a_vent_is_directional_by_design() -> None:
    rng = np.random.default_rng(17)
    leaking, tight = Engine((Leak(900.0, 0.5),), circuit="tank"), Engine((), circuit="tank")
    works = locate([run(tight, rng, 1.0, start_pa=15e3), run(leaking, rng, -1.0, start_pa=8e3)])
    assert works.groups[0].group == NO_LEAK and "as it should" in works.headline
    blocked = locate([run(tight, rng, 1.0, start_pa=15e3), run(tight, rng, -1.0, start_pa=8e3)])
    assert blocked.places[0].place == "vent-blocked"


@pytest.mark.slow
def test_a_tight_rig_clears_the_hoses_and_other_circuits_are_left_out() -> None:
    rng = np.random.default_rng(18)
    engine = Engine((Leak(300.0, 0.5),))
    rig = run(Engine((), circuit="rig"), rng, 1.0, volume_m3=15e-6, source="rig.csv")
    line = run(Engine((Leak(300.0, 0.5),), circuit="fuel-line"), rng, 1.0, source="line.csv")
    pair = [run(engine, rng, 1.0), run(engine, rng, -1.0)]
    found, alone = locate([*pair, rig, line]), locate(pair)
    hose = [{p.place: p.probability for p in f.places}["rig-hose"] for f in (found, alone)]
    assert hose[0] < 0.2 * hose[1]
    assert any(w.code == "other-circuit" and "line.csv" in w.text for w in found.warnings)


def test_words_never_claim() -> None:
    found = _pair(3.0, 19, intake="piston-port")
    lines = located_lines(found, 80, lambda text, width, first, rest: [first + text], lambda text, role: text)
    text = "\n".join(lines)
    assert "onsistent with the shaft seal" in lines[0]
    assert lines[1].startswith("Tests: ") and "\nNext: " in text and "consistent with" in text
    assert not any(word in text for word in ("proves", "is the cause", "certainly"))


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"seen": ["nothing"]}, "unknown observation 'nothing'"),
        ({"seen": "case-dry"}, "seen='case-dry' is no list of ids"),
        ({"not_seen": [3]}, "not_seen=\\[3\\] is no list of ids"),
        ({"intake": "steam"}, "'steam' is not known"),
        ({"seal_lips": "up"}, "'up' is not known"),
        ({"seen": ["boot-push"], "not_seen": ["boot-push"]}, "both seen and not seen"),
        ({"complaint": "dies hot", "seal_lips": 2}, "2 is not known"),
    ],
)
def test_unknown_words_are_refused(said: dict[str, Any], told: str) -> None:
    with pytest.raises(UsageError, match=told):
        locate([run(Engine(()), np.random.default_rng(1), 1.0)], **said)


@pytest.mark.parametrize(
    ("recordings", "told"),
    [
        ([], "recordings is empty"),
        ("p.csv", "recordings='p.csv' is no list"),
        (["p.csv"], "recordings\\[0\\] is 'p.csv', not a Recording"),
        (None, "recordings=None is no list"),
    ],
)
def test_what_is_no_recording_is_refused_by_name(recordings: Any, told: str) -> None:
    with pytest.raises(UsageError, match=told):
        locate(recordings)


def test_a_complaint_in_words_counts_where_nobody_denies_it() -> None:
    plain, told = _pair(1.0, 12), _pair(1.0, 12, complaint="Worse below half a tank. Has been standing.")
    assert told.complaint is not None and [a.id for a in told.complaint.answers][0] == "below-half-tank"
    assert _groups(told)["shaft-seal"] < _groups(plain)["shaft-seal"]
    denied = _pair(1.0, 12, complaint="worse below half a tank", not_seen=("below-half-tank",))
    assert denied.complaint is not None and [a.seen for a in denied.complaint.answers] == [False]


def test_tests_alone_are_enough() -> None:
    """With nothing said of the engine it is as with facts that say nothing."""
    case = Engine((Leak(100.0, 0.5, 1.0),), 101_325.0)
    tests = [fitted(run(case, np.random.default_rng(3), sign)) for sign in (1.0, -1.0)]
    alone, told = (locate_fitted(tests, facts) for facts in (None, EngineFacts()))
    assert alone.headline == told.headline and _groups(alone) == _groups(told)
