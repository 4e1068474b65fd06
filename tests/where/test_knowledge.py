"""The knowledge files: readable, consistent, every line marked, and editable by a shop."""

from __future__ import annotations

import re
from importlib import resources
from pathlib import Path

import pytest

from leakdown.circuits import CIRCUITS
from leakdown.errors import InputError
from leakdown.where.knowledge import CAUSES, NO_LEAK, knowledge

FILES = ("places.toml", "observations.toml", "tests.toml")


def _text(name: str) -> str:
    return resources.files("leakdown.where").joinpath("knowledge", name).read_text("utf-8")


def test_every_line_of_judgement_is_marked() -> None:
    judgement = r"(weight|ratio|lips\.\w+|intake\.[\w-]+|hole|odd|seen|not_seen|minutes|outcome\.[\w-]+) ="
    for line in "\n".join(map(_text, FILES)).splitlines():
        if re.match(judgement, line):
            assert "(practice)" in line, line
    for name in FILES:
        assert "COMMON PRACTICE FROM MEMORY" in _text(name)


def test_weights_of_first_failed_crankcase_tests_sum_to_100() -> None:
    known = knowledge()
    weights = [p.weight["crankcase"] for p in known.of_circuit("crankcase") if p.place != NO_LEAK]
    assert sum(weights) == pytest.approx(100.0)


def test_contract_places_and_groups() -> None:
    groups: dict[str, set[str]] = {}
    for p in knowledge().of_circuit("crankcase"):
        groups.setdefault(p.group, set()).add(p.place)
    assert {"seal-flywheel-side", "seal-drive-side"} == groups["shaft-seal"]
    assert {"base-gasket", "crankcase-joint", "plug-thread"} == groups["gasket-or-joint"]
    assert {"rig-hose", "rig-blanks"} == groups["test-rig"]
    assert {"oil-pump", "crack", "valve-cover"} == groups["other"]
    assert {"intake-boot", "impulse", "decompression-valve", NO_LEAK} <= set(groups)


def test_every_reference_exists() -> None:
    known = knowledge()
    places = {p.place for p in known.places} | {p.group for p in known.places} | {"others", *CAUSES}
    for observation in known.observations.values():
        assert {*observation.seen, *observation.not_seen} <= places, observation.id
        assert all(0 <= f <= 30 for f in (*observation.seen.values(), *observation.not_seen.values()))
    for test in known.tests:
        assert set(test.answers) <= set(known.observations), test.id
        assert test.answers or test.file, test.id  # every test can be entered as done
        assert test.wets == (test.id in ("soap", "soap-joints", "soap-fuel", "sink")), test.id
        assert set(test.circuits) <= set(CIRCUITS)
    assert {p.group for p in known.places} <= set(known.groups)
    assert all(known.of_circuit(circuit) for circuit in CIRCUITS)


def test_a_shop_may_edit_a_copy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    changed = _text("places.toml").replace('name = "base gasket"', 'name = "foot gasket"')
    (tmp_path / "places.toml").write_text(changed, "utf-8")
    monkeypatch.setenv("LEAKDOWN_KNOWLEDGE", str(tmp_path))
    assert "foot gasket" in {p.name for p in knowledge().places}


@pytest.mark.parametrize("bad", ["[place", "ratio = [[0.5, 1, 2, 3]]", "ratio = [[1.0, 3, 2, 1]]"])
def test_a_damaged_copy_is_refused(bad: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = re.sub(r"^ratio = \[\[1\.0, 0\.7, 1, 1\.4\]\].*$", bad, _text("places.toml"), count=1, flags=re.M)
    (tmp_path / "places.toml").write_text(text, "utf-8")
    monkeypatch.setenv("LEAKDOWN_KNOWLEDGE", str(tmp_path))
    with pytest.raises(InputError):
        knowledge()
