"""The JSON object: keys, signs, units, and nothing that is not a finite number."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from leakdown.words.objects import analysis_object
from tests.report.report_examples import ALL, analysis, passed, without_fit, without_volume

KEYS = {"file", "circuit", "direction", "hold", "start_pressure_kpa", "end_pressure_kpa", "exponential"} | {
    "leak_rate",
    "loss_kpa_per_min",
    "equivalent_hole_mm",
    "viscous_share",
    "limit",
    "verdict",
    "verdict_detail",
    "warnings",
    "used",
}


@pytest.mark.parametrize("name", ALL)
def test_keys_and_strict_json(name):
    found = analysis_object(ALL[name]())
    assert found.keys() >= KEYS
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert found["verdict"] in ("pass", "fail", "undecided")


def test_not_finite_becomes_null():
    odd = replace(analysis(), time_constant_s=math.inf, half_life_s=math.nan)
    assert analysis_object(odd)["exponential"] == {"time_constant_s": None, "half_life_s": None}


def test_values_of_a_leak():
    found = analysis_object(analysis(vacuum=True))
    rate = found["leak_rate"]
    assert rate["value_pa_m3_s"] == pytest.approx(115.0 * 250e-6)
    assert rate["at_pressure_kpa"] == -35.0 and rate["confidence"] == 0.95 and rate["detected"] is True
    assert rate["detection_limit_pa_m3_s"] == 5e-4
    assert found["loss_kpa_per_min"] == pytest.approx({"value": 6.9, "low": 6.6, "high": 7.26})
    assert found["equivalent_hole_mm"]["value"] == pytest.approx(0.052)
    assert found["start_pressure_kpa"] == pytest.approx(-44.5)
    assert found["hold"]["start_s"] == 13.0 and found["hold"]["readings"] == 450
    assert found["limit"]["source"] == "practice" and found["limit"]["drop_kpa"] == 7.0
    assert found["warnings"] == [{"code": "ambient-assumed", "text": "Barometer assumed. Give --barometer."}]


def test_used_says_where_each_input_came_from():
    used = analysis_object(analysis())["used"]
    assert used["barometer_kpa"] == {"value": 99.0, "source": "given"}
    assert used["temperature_degc"] == {"value": 20.0, "source": "assumed"}
    assert used["volume_cm3"] == {"value": pytest.approx(250.0), "source": "given"}
    assert used["volume_uncertainty_cm3"] == {"value": None, "source": "none"}
    assert used["discharge_coefficient"]["source"] == "assumed" and used["resolution_kpa"]["source"] == "inferred"


def test_not_detected_is_null_zero_and_a_bound():
    rate = analysis_object(passed())["leak_rate"]
    assert rate["value_pa_m3_s"] is None and rate["low_pa_m3_s"] == 0.0 and rate["detected"] is False
    assert rate["high_pa_m3_s"] == pytest.approx(1.2 * 250e-6)


def test_without_volume_the_loss_stays():
    found = analysis_object(without_volume())
    assert found["leak_rate"] is None and found["equivalent_hole_mm"] is None
    assert found["loss_kpa_per_min"]["value"] == pytest.approx(6.9)


def test_without_fit_nothing_is_made_up():
    found = analysis_object(without_fit())
    assert found["leak_rate"] is None and found["loss_kpa_per_min"] is None and found["viscous_share"] is None
    assert found["verdict"] == "undecided" and found["verdict_detail"]["measured"] is None


def test_no_limit_is_undecided_and_says_so():
    found = analysis_object(ALL["no limit"]())
    assert found["verdict"] == "undecided" and found["limit"] is None and "limit" in found["verdict_detail"]["reason"]
