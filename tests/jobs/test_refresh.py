"""A page that takes new words is, byte for byte, the page drawn anew; anything else asks for the drawing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from leakdown.jobs.page import LIBRARY, PICTURES, REPORT, attach, job_page, refresh, with_new_words
from leakdown.jobs.record import Engine
from leakdown.jobs.store import create, folder_of, load
from leakdown.report.page import is_library_script, library_script
from tests.jobs.records import NASTY, full_job, job, note, test_entry

MARKS = "<!-- words 0 --><!-- end of words 0 --><!-- words 1 --><!-- end of words 1 -->"


@pytest.mark.parametrize("text", ["ran well", NASTY, MARKS, "$x \\1 \\g<0>"])
def test_new_words_are_those_of_a_page_drawn_anew(text):
    before = full_job()
    page = job_page(before, {})
    after = before.with_entry(note(7, text, "verdict", verdict="fail", place=text))
    assert with_new_words(page, after) == job_page(after, {}) != page
    later = after.with_entry(note(8, f"Pump 41 {text}", "correction", corrects="engine"))
    assert with_new_words(with_new_words(page, after), later) == job_page(later, {})


@pytest.mark.parametrize(
    "after",
    [
        full_job().with_entry(test_entry(7)),
        full_job().with_entry(note(7, "no", "withdrawal", corrects="1")),
        replace(full_job(), entries=full_job().entries[:1]),
    ],
)
def test_other_tests_ask_for_the_drawing(after):
    assert with_new_words(job_page(full_job(), {}), after) is None


def test_another_program_asks_for_the_drawing(monkeypatch):
    page = job_page(full_job(), {})
    monkeypatch.setattr("leakdown.jobs.page.__version__", "99.0")
    assert with_new_words(page, full_job()) is None


def test_a_page_without_its_marks_is_left(tmp_path):
    whole = full_job()
    page = job_page(whole, {})
    for content in ("", page.replace("<!-- end of words 1 -->", ""), page.replace("<!-- words 0 -->", "")):
        (tmp_path / REPORT).write_text(content)
        assert not refresh(tmp_path, whole) and (tmp_path / REPORT).read_text() == content


def test_missing_page_or_pictures_ask_for_the_drawing(tmp_path):
    whole = job(note(1, "new"))
    assert not refresh(tmp_path, whole)
    (tmp_path / REPORT).write_text(job_page(job(), {}), encoding="utf-8")
    assert not refresh(tmp_path, whole)
    for name in PICTURES:
        (tmp_path / name).write_bytes(b"x")
    assert refresh(tmp_path, whole)
    assert (tmp_path / REPORT).read_text(encoding="utf-8") == job_page(whole, {})
    (tmp_path / REPORT).write_bytes(b"\xff\xfe")
    assert not refresh(tmp_path, whole)


def test_the_library_beside_the_pages_is_left_while_it_is_whole_and_put_back_when_not(tmp_path):
    whole = library_script()
    assert is_library_script(whole)
    flipped = bytearray(whole)
    flipped[len(whole) // 2] ^= 1
    for wrong in (bytes(flipped), whole[:-100], whole + b" ", b"", whole.replace(b"packed", b"other", 1)):
        assert not is_library_script(wrong)
    create(tmp_path, "j", Engine())
    folder = folder_of(tmp_path, "j")
    attach(folder, load(folder))
    before = (folder / LIBRARY).stat()
    attach(folder, load(folder))
    assert (folder / LIBRARY).stat().st_ino == before.st_ino
    (folder / LIBRARY).write_bytes(flipped)
    attach(folder, load(folder))
    assert (folder / LIBRARY).read_bytes() == whole
