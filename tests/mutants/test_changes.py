"""The faults themselves: each is made, compiles and differs; the list of those that show nothing is up to date."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.mutants.__main__ import ROOMS, equivalent
from tests.mutants.changes import changed_tree, changes_of
from tests.mutants.reach import ROOT

SOURCE = '''
"""A text stays."""
LIMIT: float = 2.0

def worst(rows, low: int | None = 3):
    total = 0.0
    for row in rows:
        if row < low and row is not None:
            total += row - low
    return min(-total, LIMIT) if any(rows) else None
'''
EXPECTED = {
    *(("2.0", "2.5"), ("3", "4"), ("3", "2"), ("0.0", "1.0"), ("-total", "total")),
    *(("row < low", "row <= low"), ("row < low", "row > low"), ("row is not None", "row is None")),
    *(("row < low and row is not None", each) for each in ("row < low", "row is not None")),
    ("row < low and row is not None", "row < low or row is not None"),
    *(("total += row - low", "total -= row - low"), ("total += row - low", "pass")),
    *(
        ("row - low", "row + low"),
        ("row - low", "low - row"),
        ("any(rows)", "all(rows)"),
        ("any(rows)", "not any(rows)"),
    ),
    ("min(-total, LIMIT)", "max(-total, LIMIT)"),
    ("return min(-total, LIMIT) if any(rows) else None", "return None"),
}


def test_every_kind_of_fault_is_made(tmp_path: Path) -> None:
    path = tmp_path / "some.py"
    path.write_text(SOURCE, encoding="utf-8")
    made = changes_of("some.py", path)
    assert {(change.before, change.after) for change in made} == EXPECTED
    as_it_is = ast.dump(ast.parse(SOURCE))
    for change in made:
        tree = changed_tree(path, change)
        compile(tree, "some.py", "exec")
        assert ast.dump(tree) != as_it_is


@pytest.mark.parametrize("room", ROOMS)
def test_what_is_listed_as_alike_is_still_in_the_source(room: str) -> None:
    listed = {key for key in equivalent() if key[0].startswith(room + "/")}
    files = sorted({place.split(":")[0] for place, _, _ in listed})
    there = {change.key for file in files for change in changes_of(file, ROOT / "leakdown" / file)}
    assert not listed - there
