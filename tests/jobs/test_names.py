"""References and file names from outside stay inside the folder, on any system."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakdown.errors import UsageError
from leakdown.file_names import file_name, folded
from leakdown.jobs.store import checked_reference

OUTSIDE = ["", ".", "..", "../evil", "a/b", "a\\b", "/etc", "C:\\x", "c:x", "a\0b", "nul", "COM1", "con.txt",
           "LPT9.csv", "aux ", "a.", "a ", " a", ".hidden", "-x", "a\nb", "a..b", "x" * 65, "\u202e", "a*",
           "a?b", "a|b", "com\u00b9", "~"]  # fmt: skip


@pytest.mark.parametrize("text", OUTSIDE)
def test_references_that_could_lead_out_or_break_are_refused(text):
    with pytest.raises(UsageError, match="cannot be a job reference"):
        checked_reference(text)


@pytest.mark.parametrize("text", ["2026-017", "A 12 (b)", "M\u00fcller_3", "x.1+2", "console", "0"])
def test_plain_references_pass(text):
    assert checked_reference(text) == text


@pytest.mark.parametrize(
    ("original", "kept"),
    [
        ("test.csv", "test.csv"),
        ("../../etc/passwd", "passwd"),
        ("..\\..\\boot.ini", "boot.ini"),
        ("/abs/olute.csv", "olute.csv"),
        ("con.csv", "_con.csv"),
        ("a:b*c?.csv", "a_b_c_.csv"),
        (".bashrc", "_bashrc"),
        ("..", "recording"),
        ("", "recording"),
        ("name. . .", "name"),
        ("line\nbreak\0.csv", "line_break_.csv"),
    ],
)
def test_file_names_are_made_safe(original, kept):
    assert file_name(original) == kept


def test_clashing_names_get_a_number_capitals_apart():
    assert file_name("Test.CSV", ["test.csv"]) == "Test-2.CSV"
    assert file_name("test.csv", ["TEST.csv", "test-2.csv"]) == "test-3.csv"
    assert file_name("u\u0308.csv", ["\u00fc.csv"]) == "\u00fc-2.csv"


@given(st.text(max_size=300), st.lists(st.text(max_size=20), max_size=5))
def test_any_text_becomes_one_plain_name(original, taken):
    name = file_name(original, taken)
    assert name and not set(name) & set('/\\\0<>:"|?*\n') and name[0] != "." and name[-1] not in ". "
    assert len(name.encode("utf-8", "surrogatepass")) <= 120 and folded(name) not in map(folded, taken)
    assert file_name(name) == name
