"""Every tuned number says what it is, what it rests on and which test guards it; and somebody uses it."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from leakdown.tuned import tuned

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "leakdown"
ROOMS = sorted(p.parent.relative_to(SOURCE).as_posix().replace("/", ".") for p in SOURCE.rglob("tuned.toml"))
WORDS = {"unit", "means", "rests_on", "guards"}


@pytest.mark.parametrize("room", ROOMS)
def test_every_number_is_whole_and_guarded(room):
    for name, row in tuned(room):
        assert set(row) == {"value", *WORDS}, f"{room}.{name}: {sorted(row)}"
        assert all(isinstance(row[word], str) and row[word].strip() for word in WORDS), f"{room}.{name}"
        test, _, case = row["guards"].partition("::")
        assert (ROOT / test).is_file(), f"{room}.{name}: no test {test}"
        assert not case or f"def {case}(" in (ROOT / test).read_text("utf-8"), f"{room}.{name}: no {case}"


@pytest.mark.parametrize("room", ROOMS)
def test_every_number_is_used(room):
    folder = SOURCE / room.replace(".", "/")
    code = "\n".join(path.read_text("utf-8") for path in folder.rglob("*.py"))
    unused = [name for name, _ in tuned(room) if not re.search(rf"\.{name}\b", code)]
    assert not unused, f"{room}: {unused}"


def test_unknown_numbers_are_refused_by_name():
    if ROOMS:
        with pytest.raises(AttributeError, match="never_tuned"):
            _ = tuned(ROOMS[0]).never_tuned


def _basis(rests_on: str) -> str:
    """What sort of thing a number rests on, as the page for sceptics counts them."""
    said = rests_on.lower()
    if said.startswith(("common practice", "practice")):
        return "common practice"
    if "simulation" in said or "workshop" in said:
        return "a simulation"
    return "a value from memory" if said.startswith("value from memory") else "a law"


def test_the_page_for_sceptics_counts_them_as_they_are():
    page = (SOURCE / "what_the_numbers_rest_on.md").read_text("utf-8")
    counts = Counter(_basis(row["rests_on"]) for room in ROOMS for _, row in tuned(room))
    for basis, count in counts.items():
        assert re.search(rf"^\| {basis}.*\| {count} \|$", page, re.M), (basis, count)
