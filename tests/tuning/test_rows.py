"""Every tuned number says what it is, what it rests on and which test guards it; and somebody uses it."""

from __future__ import annotations

import re
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
