"""Whatever the file holds: settings, a warning or one clear error; and a change that changes nothing else."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from leakdown.errors import LeakdownError
from leakdown.settings import NAMES, read_settings, set_value, unset
from leakdown.settings.keys import key_of
from leakdown.shop_files import leaves, parsed, source

keys = st.sampled_from(
    ["unit", "altitude", "barometer", "limit", "crankcase", "vacuum", "volume", "tank", "zz", '"a.b"', "''", "é"]
)
values = st.sampled_from(
    ['"850 m"', "850", '"kPa"', "nan", "-inf", "1979-05-27", "[1, {a = 2}]", "{}", "{tank = '1 L'}", '"""a\nb"""']
    + ["true", "0x1F", "'1 L'", '"\\u0000"', '"6 kPa in 60 s"', "{crankcase = {vacuum = 'x'}}", "[[]]", ""]
)
dotted = st.lists(keys, min_size=1, max_size=3).map(".".join)
lines = st.one_of(
    st.builds("{} = {}".format, dotted, values),
    st.builds("{} = {}  # {}".format, dotted, values, keys),
    st.builds("[{}]".format, dotted),
    st.builds("[[{}]]".format, dotted),
    st.sampled_from(["# note", "", "\t", "\ufeff", "}", "\r", "\0"]),
)
files = st.one_of(
    st.binary(max_size=80),
    st.text(max_size=80).map(lambda text: text.encode("utf-8", "surrogatepass")),
    st.builds(lambda rows, end: end.join(rows).encode(), st.lists(lines, max_size=8), st.sampled_from(["\n", "\r\n"])),
)


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return tmp_path_factory.mktemp("fuzz") / "settings.toml"


@given(data=files)
@example(data=b"a.b = 1\na.c = 2\n[a.d]\n")
@example(data=b"[limit.tank]\n[limit]\n[limit.crankcase]\n")
def test_any_file_is_read_or_refused(place, data):
    place.write_bytes(data)
    try:
        found = read_settings(place)
    except LeakdownError as error:
        assert str(place) in str(error) and str(error).count("\n") <= 1
        return
    assert hash(found) is not None and all(text.isprintable() for text in found.warnings)
    assert (found.barometer_pa, found.volume_m3("tank"), found.unit, found.jobs) is not None


@given(data=files, name=st.sampled_from(NAMES))
def test_a_change_changes_nothing_else(place, data, name):
    place.write_bytes(data)
    text = key_of(name).example
    try:
        before = dict(leaves(parsed(source(place), place)))
        change = set_value(name, text, place)
    except LeakdownError:
        assert place.read_bytes() == data
        return
    gone = {tuple(name.split(".")), *(tuple(other.split(".")) for other, _ in change.also_unset)}
    assert read_settings(place).text(name) == text
    assert _others(place, gone) == {key: value for key, value in before.items() if key not in gone}
    assert place.read_bytes().count(b"# note") == data.count(b"# note")
    unset(name, place)
    assert _others(place, set()) == {key: value for key, value in before.items() if key not in gone}


def _others(path, gone):
    tables = tomllib.loads(source(path), parse_float=str)
    return {key: value for key, value in leaves(tables) if key not in gone}


@given(name=st.text(max_size=30), text=st.text(max_size=60))
def test_any_name_and_text_is_kept_or_refused(place, name, text):
    place.unlink(missing_ok=True)
    for each in (name, "shop", "altitude", "rigs"):
        try:
            change = set_value(each, text, place)
        except LeakdownError:
            continue
        assert read_settings(place).text(change.name) == change.text
        assert not read_settings(place).warnings
