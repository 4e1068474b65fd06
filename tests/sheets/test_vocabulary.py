"""One vocabulary: what heads a column in any of its languages is a gauge's label too, and the other way."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from leakdown import vocabulary
from leakdown.errors import InputError
from leakdown.live.lines.candidates import best, text_candidates
from leakdown.live.lines.labels import label, names_error
from leakdown.sheets.headings import heading
from tests.sheets.reading import read_sheet

TABLES = tomllib.loads(Path(vocabulary.__file__).with_name("vocabulary.toml").read_text("utf-8"))
WORDS = {
    meaning: sorted({word for line in TABLES[meaning].values() for word in line.split()})
    for meaning in ("pressure", "vacuum", "temperature", "loss")
}


@pytest.mark.parametrize("word", WORDS["pressure"])
def test_a_pressure_is_one_for_sheets_and_gauges(word: str) -> None:
    assert heading(f"{word} (kPa)").role == heading(word).role == "pressure"
    assert label(word).quantity == "pressure"
    assert not label(word).vacuum


@pytest.mark.parametrize("word", WORDS["vacuum"])
def test_a_vacuum_is_one_for_sheets_and_gauges(word: str) -> None:
    recording = read_sheet(f"t (s);{word} (kPa)\n0;40\n30;39\n60;38\n")
    assert recording.pressure_pa.tolist() == [-40e3, -39e3, -38e3]
    found = best(text_candidates(f"{word}: 40.1 kPa")[0])
    assert found is not None
    assert found.sample.value == -40.1


@pytest.mark.parametrize("word", WORDS["temperature"])
def test_a_temperature_is_one_for_sheets_and_gauges(word: str) -> None:
    assert heading(f"{word} (°C)").role == "temperature"
    assert label(word).quantity == "temperature"


@pytest.mark.parametrize("word", WORDS["loss"])
def test_a_loss_is_never_a_reading(word: str) -> None:
    with pytest.raises(InputError):
        read_sheet(f"t (s);{word} (kPa)\n0;0\n30;1\n60;2\n")
    assert text_candidates(f"{word}: 2.1 kPa")[0] == []


@pytest.mark.parametrize(
    "text",
    [
        "Время, с;Давление, кПа\n0;40\n30;39,5\n60;38\n",
        "Время (мин);Давление (мбар)\n0;400\n0,5;395\n1;380\n",
        "время;давление\n0 сек;40 кПа\n30 сек;39,5 кПа\n60 сек;38 кПа\n",
        "时间 (s),压力 (kPa)\n0,40\n30,39.5\n60,38\n",
        "時間 [s]\t圧力 [kPa]\n0\t40\n30\t39.5\n60\t38\n",
        "Zaman (s);Basınç (kPa)\n0;40\n30;39,5\n60;38\n",
        "timp (s);presiune (kPa)\n0;40\n30;39,5\n60;38\n",
    ],
)
def test_sheets_in_the_languages_of_gauges(text: str) -> None:
    recording = read_sheet(text)
    assert recording.time_s.tolist() == [0, 30, 60]
    assert recording.pressure_pa == pytest.approx([40e3, 39.5e3, 38e3])
    assert recording.remarks == ()


def test_lines_around_a_table_in_other_letters() -> None:
    head = "Барометр: 1006 мбар\nОбъём: 250 мл\nПримечание: холодный\nНаправление: вакуум\n"
    head += "Температура: 21 °C\n"
    recording = read_sheet(head + "Время, с;Давление, кПа;Температура, °С;Примечание\n0;40;21;кран\n30;39;21;\n")
    conditions = recording.conditions
    assert conditions.barometer_pa == pytest.approx(100.6e3)
    assert conditions.volume_m3 == pytest.approx(250e-6)
    assert conditions.temperature_k == pytest.approx(294.15)
    assert conditions.note == "холодный"
    assert conditions.direction == "vacuum"
    assert recording.temperature_k is not None
    assert recording.temperature_k.tolist() == pytest.approx([294.15, 294.15])
    assert [mark.text for mark in recording.marks] == ["кран"]


@pytest.mark.parametrize("key", ["Lämpötila", "Teplota", "Temperatuur", "温度"])
def test_a_temperature_of_any_language_is_a_key(key: str) -> None:
    recording = read_sheet(f"{key}: 21 C\nt (s);kPa\n0;40\n30;39\n60;38\n")
    assert recording.conditions.temperature_k == pytest.approx(294.15)


@pytest.mark.parametrize("heading_", ["Spannung", "Feuchte", "humedad", "напряжение", "dewpoint", "altitude"])
def test_another_quantity_of_a_gauge_is_no_pressure_in_a_sheet(heading_: str) -> None:
    with pytest.raises(InputError, match="not what a gauge read"):
        read_sheet(f"t (s);{heading_}\n0;40\n30;39\n60;38\n", unit="kPa")


@pytest.mark.parametrize("cell", ["disconnected", "overload", "invalid", "timeout", "OL", "Err", "overrange"])
def test_a_gauges_error_is_no_reading_in_a_sheet(cell: str) -> None:
    assert names_error(cell)
    recording = read_sheet(f"t (s);kPa\n0;40\n30;{cell}\n60;38\n90;37\n")
    assert recording.time_s.tolist() == [0, 60, 90]
    assert recording.unreadable == 1


@pytest.mark.parametrize(
    ("line", "kpa"),
    [
        ("Undertryck: 40.1 kPa", -40.1),
        ("podciśnienie = 40.1 kPa", -40.1),
        ("suction 40.1 kPa", -40.1),
        ("Luftdruck: 101.3 kPa; Druck: 40.1 kPa", 40.1),
        ("Verlust: 0.2 kPa; Druck: 40.1 kPa", 40.1),
        ("Druck absolut: 141.4 kPa; Druck relativ: 40.1 kPa", 40.1),
        ("Tid: 12 s, Tryck: 40.1 kPa", 40.1),
        ("manomètre: 40.1 kPa", 40.1),
        ("Вакуум: 40.1 кПа", -40.1),
    ],
)
def test_gauges_in_the_words_of_sheets(line: str, kpa: float) -> None:
    found = best(text_candidates(line)[0])
    assert found is not None
    assert found.sample.unit is not None
    assert found.sample.value == pytest.approx(kpa)


def test_words_are_found_whatever_their_accents() -> None:
    assert vocabulary.plain("Überdruck ß é İ ñ") == "uberdruck ss e i n"
    assert vocabulary.words_of("p1_max (kPa) Δp") == ["p1", "max", "kpa", "δp"]
    assert vocabulary.latin_units("Сила с ней, кПа (Время, с)") == "Сила с ней, kPa (Время, s)"
    with pytest.raises(KeyError):
        vocabulary.words("smell")
