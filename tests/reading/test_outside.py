"""Published test cases: some cited here, all of them where the folder is at hand."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from voicelog.bench import outside

if TYPE_CHECKING:
    from pathlib import Path

CITED = {
    # NVIDIA NeMo, inverse text normalisation tests (Apache 2.0): "spoken~written"
    "test_cases_cardinal.txt": [
        "two hundred and fifty four~254",
        "one million one hundred fifty six thousand one hundred seventy three~1156173",
        "minus twenty five thousand thirty seven~-25037",
        "eleven hundred twenty one~1121",
        "twenty one crore ninety eight lakh thirty six thousand five hundred and ninety three"
        "~219836593",
    ],
    "test_cases_decimal.txt": [
        "point one two o five~.1205",
        "eighteen point o o o~18.000",
        "five point two million~5.2 million",
        "one hundred sixty four point five eight thousand~164.58 thousand",
    ],
    "test_cases_ordinal.txt": [
        "twenty five thousand one hundred eleventh~25111th",
        "one hundredth~100th",
        "forty eighth~48th",
        "zeroth~0th",
    ],
    "test_cases_fraction.txt": [
        "1/4~one quarter",
        "31/32~thirty one thirty seconds",
        "2 1/2~two and a half",
        "1/2007~one two thousand seventh",
    ],
    "test_cases_measure.txt": [
        "one thousand five hundred thirty one c c~1531 cc",
        "eight hundred thirty eight point two millimeters~838.2 mm",
        "one point o o o o two eight cubic deci meters~1.000028 dm³",
        "seven point five peta bytes~7.5 pb",
    ],
    "test_cases_date.txt": [
        "the twenty fifth of july two thousand twelve~25 july 2012",
        "june twentieth twenty fourteen~june 20 2014",
        "nineteen eighties~1980s",
    ],
    "test_cases_time.txt": [
        "eleven o six p m~11:06 p.m.",
        "quarter past one~01:15",
        "two thirty~02:30",
    ],
    "test_cases_range.txt": ["2-5~two - five", "1980-1986~nineteen eighty to nineteen eighty six"],
    "test_cases_serial.txt": ["B2A23C~B two A twenty three C", "f++~f plus plus"],
}
NOT_FOR_A_SHOP = {
    "1/2007~one two thousand seventh",
    "seven point five peta bytes~7.5 pb",
    "nineteen eighties~1980s",
    "two thirty~02:30",
    "f++~f plus plus",
}
QUANTITIES = [
    # cited from quantulum3's quantities.json (MIT licence)
    {
        "req": "The door is 2 1/2 in thick, and it will be for at least several hundred years",
        "res": [{"value": 2.5, "unit": "inch", "surface": "2 1/2 in"}],
    },
    {
        "req": "Hubble's predicted position for six weeks' time could be in error by up to "
        "4,000 km",
        "res": [{"value": 4000, "unit": "kilometre", "surface": "4,000 km"}],
    },
    {
        "req": "I want a hundred and two of those",
        "res": [{"value": 102, "unit": "dimensionless", "surface": "a hundred and two"}],
    },
]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "nemo_itn").mkdir()
    (tmp_path / "quantulum3").mkdir()
    for name, lines in CITED.items():
        (tmp_path / "nemo_itn" / name).write_text("\n".join(lines), encoding="utf-8")
    (tmp_path / "quantulum3" / "quantities.json").write_text(json.dumps(QUANTITIES))
    return tmp_path


def test_every_cited_case_that_means_something_passes(folder: Path) -> None:
    reports = outside.reports(folder)
    assert {report.name for report in reports} == {*CITED, "quantities.json"}
    assert [(report.name, report.failed) for report in reports if report.failed] == []
    excused = {case for report in reports for case, _ in report.not_applicable}
    assert excused == NOT_FOR_A_SHOP | {"a hundred and two ~ 102 dimensionless"}


def test_every_excuse_says_why(folder: Path) -> None:
    for report in outside.reports(folder):
        assert all(why for _, why in report.not_applicable)


def test_a_wrong_reading_is_counted_as_failed(folder: Path) -> None:
    path = folder / "nemo_itn" / "test_cases_cardinal.txt"
    path.write_text("two hundred and fifty four~255\nsixty~60", encoding="utf-8")
    report = next(r for r in outside.reports(folder) if r.name == path.name)
    assert (report.passed, report.total) == (1, 2)
    assert report.failed == ("two hundred and fifty four~255",)


def test_no_folder_no_report(tmp_path: Path) -> None:
    assert outside.reports(tmp_path) == ()
