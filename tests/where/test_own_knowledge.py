"""A shop's own knowledge files: their lines on top of those that came, and what is refused with its place."""

from __future__ import annotations

import os
import tomllib
from importlib import resources
from pathlib import Path

import pytest

from leakdown.errors import InputError
from leakdown.knowledge import knowledge_table, own_folder
from leakdown.where.complaint_knowledge import complaint_knowledge
from leakdown.where.knowledge import knowledge

ROOM = "leakdown.where"
FILES = ("places", "observations", "tests", "suspects", "complaints", "checks")
NEW = """
[place.starter-cover]
name = "starter cover"
group = "other"
weight.crankcase = 3
"""


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The shop's folder beside its settings."""
    monkeypatch.delenv("LEAKDOWN_KNOWLEDGE", raising=False)
    monkeypatch.setenv("LEAKDOWN_SETTINGS", str(tmp_path / "settings.toml"))
    (tmp_path / "knowledge").mkdir()
    return tmp_path / "knowledge"


def _shipped(name: str) -> dict[str, object]:
    return tomllib.loads(resources.files(ROOM).joinpath("knowledge", name).read_text("utf-8"))


def _refused(own: Path, name: str, text: str) -> str:
    (own / name).write_text(text, "utf-8")
    with pytest.raises(InputError) as caught:
        complaint_knowledge() if name[:2] in ("su", "co", "ch") else knowledge()
    said = str(caught.value)
    assert len(said.splitlines()) == 2 and "LEAKDOWN_KNOWLEDGE=" in said
    assert said.startswith(str(own / name))
    return said


@pytest.mark.parametrize("name", [f"{file}.toml" for file in FILES])
def test_without_own_files_the_tables_are_those_that_came(own: Path, name: str) -> None:
    assert knowledge_table(ROOM, name) == _shipped(name)


def test_one_changed_weight_keeps_everything_else(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (own / "places.toml").write_text("place.base-gasket.weight.crankcase = 40\n", "utf-8")
    after = knowledge()
    monkeypatch.setenv("LEAKDOWN_KNOWLEDGE", os.devnull)
    before = knowledge()
    assert [p.place for p in after.places] == [p.place for p in before.places]
    changed = {p.place: p for p in after.places}["base-gasket"]
    assert changed.weight["crankcase"] == 40.0 and changed.name == "base gasket"
    same = [p for p in after.places if p.place != "base-gasket"]
    assert same == [p for p in before.places if p.place != "base-gasket"]
    assert after.observations == before.observations


def test_factors_are_merged_and_lists_replaced(own: Path) -> None:
    (own / "complaints.toml").write_text('[hiss-at-cap]\nseen.spark = 0.5\nwords = ["pfft"]\n', "utf-8")
    row = complaint_knowledge().complaints["hiss-at-cap"]
    assert row.seen == {"tank-vent": 8.0, "spark": 0.5} and row.words == ("pfft",)


def test_a_new_place_is_known_from_then_on(own: Path) -> None:
    (own / "places.toml").write_text(NEW, "utf-8")
    (own / "observations.toml").write_text("[bubbles-joint]\nseen.starter-cover = 3\n", "utf-8")
    known = knowledge()
    place = next(p for p in known.of_circuit("crankcase") if p.place == "starter-cover")
    assert known.observations["bubbles-joint"].factor(True, place) == 3.0


def test_a_weight_of_nothing_takes_a_place_out(own: Path) -> None:
    (own / "places.toml").write_text("place.oil-pump.weight.crankcase = 0", "utf-8")
    assert "oil-pump" not in {p.place for p in knowledge().of_circuit("crankcase")}


def test_the_variable_wins_over_the_folder_beside_the_settings(
    own: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (own / "suspects.toml").write_text("numbers.most_sure = 0.5", "utf-8")
    assert complaint_knowledge().most_sure == 0.5
    (tmp_path / "other").mkdir()
    for folder in (str(tmp_path / "other"), os.devnull):
        monkeypatch.setenv("LEAKDOWN_KNOWLEDGE", folder)
        assert complaint_knowledge().most_sure == 0.95
    monkeypatch.setenv("LEAKDOWN_KNOWLEDGE", str(tmp_path / "none"))
    with pytest.raises(InputError, match="names no folder"):
        own_folder()


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("places.toml", '[group]\n\nother = "x\n', ":3: "),
        ("places.toml", "place.base-gasket.wieght.crankcase = 4", "place.base-gasket.wieght is not known"),
        ("places.toml", "place.base-gasket.wieght.crankcase = 4", "Did you mean weight?"),
        ("places.toml", "plcae.base-gasket.hole = 0.1", "plcae is not known"),
        ("places.toml", "numbers.two_leeks = 0.1", "Did you mean two_leaks?"),
        ("places.toml", "place.base-gaskte.weight.crankcase = 4", "is a new name, and lacks name, group"),
        ("places.toml", "place.base-gasket.weight.crankase = 4", "Did you mean crankcase?"),
        ("places.toml", 'place.base-gasket.weight.crankcase = "4"', "must be a number, not text"),
        ("places.toml", "place.base-gasket.weight.crankcase = nan", "not infinite or no number"),
        ("places.toml", "place.base-gasket.hole = true", "must be a number, not true or false"),
        ("places.toml", "place.base-gasket = 4", "must be a table, not a number"),
        ("places.toml", 'place.base-gasket.ratio = [[1.0, "a", 1, 2]]', "must be a number, not text"),
        ("places.toml", "place.base-gasket.ratio = [[0.5, 1, 2, 3]]", "do not sum to 1"),
        ("places.toml", "place.base-gasket.ratio = [[1.0, 1, 2]]", "must be a list of 4"),
        ("places.toml", 'place.base-gasket.group = "gaskets"', "Known: shaft-seal, intake-boot,"),
        ("observations.toml", "case-dry.seen.bas-gasket = 3", "Did you mean base-gasket?"),
        ("tests.toml", 'soap.answers = ["bubles-base"]', "Did you mean bubbles-base "),
        ("tests.toml", "soap.part = 3", "must be text, not a number"),
        ("complaints.toml", "dies-cap.seen.tank-vnet = 3", "Did you mean tank-vent?"),
        ("complaints.toml", "dies-cap.usual = 1.5", "between 0 and 1"),
        ("complaints.toml", "dies-cap.seen.spark = -1", "dies-cap.seen.spark must not be below 0"),
        ("suspects.toml", 'suspect.tank-vent.found = "luck"', "Known: leak, fuel, none."),
        ("suspects.toml", "suspect.tank-vent.weight = 0", "must be above 0"),
        ("checks.toml", 'cap.done_by = ["dies-hat"]', "cap.done_by.dies-hat is not known"),
    ],
)  # fmt: skip
def test_lines_that_mean_nothing_are_refused_with_file_and_key(own: Path, name: str, text: str, told: str) -> None:
    assert told in _refused(own, name, text)


def test_files_that_cannot_be_read_are_refused(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (own / "places.toml").mkdir()
    with pytest.raises(InputError, match="folder, not a file"):
        knowledge()
    (own / "places.toml").rmdir()
    (own / "places.toml").write_bytes(b"[group]\nother = '\xff'\n")
    with pytest.raises(InputError, match="not UTF-8"):
        knowledge()

    def refuse(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("leakdown.shop_files.os.open", refuse)
    with pytest.raises(InputError, match="Permission denied") as caught:
        knowledge()
    assert "places.toml" in str(caught.value) and os.devnull in str(caught.value)
