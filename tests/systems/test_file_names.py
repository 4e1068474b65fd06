"""Every name that is written is one on Windows, macOS and Linux; the judge of it is CPython's own list."""

from __future__ import annotations

import ntpath
from datetime import datetime
from pathlib import Path, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakdown.cli.pages import page_path
from leakdown.disk import write_whole
from leakdown.errors import UsageError
from leakdown.file_names import LONGEST, LONGEST_ANYWHERE, file_name, folded, stamped, trouble
from leakdown.jobs.led_test import plan_of
from leakdown.jobs.record import Engine, Job
from leakdown.jobs.store import checked_reference
from leakdown.judge.rig_store import path_of

DEVICES = ["con", "PRN", "aux.csv", "nul.tar.gz", "COM1", "com9.html", "lpt\u00b3", "CONIN$", "conout$.txt", "nul .csv"]
MOMENTS = st.datetimes(datetime(1970, 1, 1), datetime(2999, 12, 31))
# Letters that people write, and what systems trip over; plain text of any letter comes beside.
AWKWARD = st.text('aZ09 ._-()+$:<>*?|"/\\\0\n\u00fc\u202e\ud800\U0001f527', max_size=300) | st.sampled_from(DEVICES)
NAMES = st.text(max_size=300) | AWKWARD | st.builds("{}{}".format, st.sampled_from(DEVICES), AWKWARD)


def reserved(name: str) -> bool:
    """CPython's own answer: whether Windows refuses the name, or takes it for something else."""
    if hasattr(ntpath, "isreserved"):  # from Python 3.13
        return bool(ntpath.isreserved(name))
    return PureWindowsPath(name).is_reserved() or bool(set(name) & set('<>:"/\\|?*')) or name[-1] in ". "


def assert_plain(name: str, longest: int = 255) -> None:
    assert not reserved(name), name
    assert not any(ord(char) < 32 or "\ud800" <= char <= "\udfff" for char in name)
    assert len(name.encode("utf-8")) <= longest and name not in ("", ".", "..")
    assert trouble(name) == ""


@given(NAMES, st.lists(st.text(max_size=20), max_size=5), st.sampled_from([LONGEST, LONGEST_ANYWHERE]))
def test_any_text_becomes_a_name_on_every_system(original, taken, longest):
    name = file_name(original, taken, longest=longest)
    assert_plain(name, longest)
    assert folded(name) not in map(folded, taken) and file_name(name, longest=longest) == name


@given(NAMES.filter(bool))
def test_what_is_reserved_is_never_called_good(name):
    if trouble(name) == "":
        assert_plain(name)


@pytest.mark.parametrize("name", DEVICES)
def test_devices_are_known(name):
    assert reserved(name) and trouble(name) == "is reserved on Windows"


@pytest.mark.parametrize("name", ["con-1.csv", "console", "com10.csv", "a.con", "nul-", "test-20260301-140500.csv"])
def test_names_that_only_look_like_devices_are_good(name):
    assert not reserved(name) and trouble(name) == ""


@given(NAMES, MOMENTS)
def test_recordings_of_a_led_test_have_names_on_every_system(text, moment):
    try:
        reference = checked_reference(text)
    except UsageError:
        reference = "2026-017"
    assert_plain(reference)
    assert_plain(stamped("test", moment))
    for step in plan_of(Job(reference, "", Engine()), "crankcase"):
        assert_plain(stamped(f"{reference}-{step.id}", moment), LONGEST)


@given(NAMES)
def test_pages_beside_a_sheet_have_names_on_every_system(text):
    page = page_path(None, Path("/sheets") / f"x{text.replace('/', '')}.csv", open_it=True, ending="-place")
    assert page is not None and page.suffix == ".html"
    assert_plain(page.name, LONGEST_ANYWHERE)


@given(NAMES)
def test_rigs_have_names_on_every_system(text):
    try:
        assert_plain(path_of(text, Path("rigs")).name)
    except UsageError as error:
        assert "no name for a rig" in str(error)


@pytest.mark.parametrize("name", ["CON", "nul", "lpt1.old"])
def test_a_rig_with_the_name_of_a_device_is_refused(name):
    with pytest.raises(UsageError, match="no name for a rig"):
        path_of(name, Path("rigs"))


def test_a_name_as_long_as_the_system_takes_can_be_written(tmp_path):
    page = tmp_path / f"{'ü' * 120}.html"  # 245 of 255 bytes
    write_whole(page, b"1")
    assert page.read_bytes() == b"1" and len(list(tmp_path.iterdir())) == 1
