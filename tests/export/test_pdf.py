"""Printed sheets: every value is on paper, legible, and the same bytes each time."""

from __future__ import annotations

import hashlib
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

import pytest

from tests.export.scene import HOSTILE, remark, said
from voicelog.errors import ExportError
from voicelog.export import fonts, pdf
from voicelog.export.line import converted, limits_text
from voicelog.export.rows import plain, worded
from voicelog.export.text import code_point
from voicelog.export.ucum import printed
from voicelog.objects import Field
from voicelog.records import Filter

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.export.scene import Site

needs_poppler = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs poppler-utils")


def text_of(path: Path) -> str:
    command = ["pdftotext", "-layout", str(path), "-"]
    return subprocess.run(command, check=True, capture_output=True).stdout.decode()


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


@pytest.fixture
def sheet(worked: Site, exported: Callable[..., Path]) -> str:
    """Text of the wheel change's sheet."""
    return text_of(exported(worked, "pdf") / pdf.file_name("48-2213"))


@needs_poppler
def test_every_value_is_on_the_sheet(worked: Site, exported: Callable[..., Path]) -> None:
    folder = exported(worked, "pdf", state="all")
    sheets = {n: squeezed(text_of(folder / pdf.file_name(n))) for n in ("48-2213", "48-2230")}
    for record in worked.store.records.search(Filter(state="all")):
        text = sheets[record.work_order]
        digest = record.signature.digest
        card = worked.store.cards.get(record.card, record.revision)
        for fact in (
            record.id, record.work_order, record.card, record.title, record.source,
            record.equipment, record.serial_number, record.signature.name,
            record.signature.certificate, record.signature.meaning, digest,
            record.signature.at.strftime("%Y-%m-%d %H:%M"), record.transcript,
        ):  # fmt: skip
            assert squeezed(fact) in text, fact
        for decision in record.decisions:
            step = card.step(decision.step)
            field = step.field(decision.field) if step else None
            assert field is not None
            shown = worded(decision.value) + printed(decision.unit) + limits_text(field)
            assert squeezed(shown) in text, shown
            for more in (field.label, decision.why, decision.reference, decision.follow_up or ""):
                assert squeezed(more) in text, more


@needs_poppler
def test_what_was_struck_out_is_still_there(sheet: str) -> None:
    assert "BK-0113" in sheet
    assert "BK-0130" in sheet
    assert "R-000003 said 94" in sheet
    assert re.search(r"Proposed was 101\.5 N·m", sheet)


@needs_poppler
def test_who_did_what(sheet: str) -> None:
    for words in (
        "Tomé d'Ávila (tom)", "Ruža Šimić", "B1 C-77140", "Łukasz Żółtek", "B1 C-90233",
        "Signed: confirmed", "Signed: corrected", "Signed: inspected independently",
        "NOT YET DONE", "step 30 asks for it", "2026-11-20 09:21 +01:00",
    ):  # fmt: skip
        assert words in sheet, words


@needs_poppler
def test_open_items_are_listed(worked: Site, sheet: str) -> None:
    items = worked.store.orders.status("48-2213").items
    assert len(items) >= 4
    for number, item in enumerate(items, 1):
        assert squeezed(f"{number}. {item.sentence}") in squeezed(sheet)


@needs_poppler
def test_every_page_has_its_number_and_the_caution(sheet: str) -> None:
    pages = sheet.split("\f")[:-1]
    assert len(pages) > 1
    for number, page in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in page
        assert "no release, no statement on fitness for use" in page
        assert "Work order 48-2213" in page
        assert "Ellery Harbour" in page


@needs_poppler
def test_no_sheet_says_that_something_may_be_used(
    worked: Site, exported: Callable[..., Path]
) -> None:
    folder = exported(worked, "pdf", state="all")
    for path in folder.glob("*.pdf"):
        text = text_of(path).casefold().replace("no release, no statement on fitness for use", "")
        for word in ("airworth", "serviceable", "released", "fit for", "safe"):
            assert word not in text


@needs_poppler
def test_outside_limits_is_told_in_words(worked: Site, exported: Callable[..., Path]) -> None:
    text = text_of(exported(worked, "pdf") / pdf.file_name("48-2230"))
    assert "▼ BELOW LIMIT" in text
    assert "▲ ABOVE LIMIT" in text
    assert "within, at the limit" in text
    assert re.search(r"58 over 80\s+psi\s+≥ 60 psi\s+▼ BELOW LIMIT", text)


@needs_poppler
def test_a_superseded_record_is_marked(worked: Site, exported: Callable[..., Path]) -> None:
    text = text_of(exported(worked, "pdf", state="all") / pdf.file_name("48-2213"))
    assert "SUPERSEDED by record R-000005" in text
    assert "corrects record R-000003" in text


@needs_poppler
def test_a_sheet_is_whole_whatever_was_filtered(
    worked: Site, exported: Callable[..., Path]
) -> None:
    folder = exported(worked, "pdf", person="lukasz")
    assert [path.name for path in folder.glob("*.pdf")] == [pdf.file_name("48-2213")]
    text = text_of(folder / pdf.file_name("48-2213"))
    assert "R-000001" in text
    assert "R-000005" in text


@needs_poppler
def test_fonts_are_embedded(worked: Site, exported: Callable[..., Path]) -> None:
    folder = exported(worked, "pdf")
    command = ["pdffonts", str(folder / pdf.file_name("48-2213"))]
    table = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    rows = table.splitlines()[2:]
    assert rows
    assert all("SourceSansPro" in row and " yes yes yes " in row for row in rows)


@needs_poppler
def test_signs_of_the_trade_and_european_names(site: Site, exported: Callable[..., Path]) -> None:
    signs = "≥ ≤ ± Ω ° µ Δ Ø × – … ½ ₂ Łódź Ștefan Žďár Ångström Κώστας Наталья İğ ß þ"
    remark(site, signs)
    text = text_of(exported(site, "pdf") / pdf.file_name("48-2240"))
    assert squeezed(signs) in squeezed(text)


@needs_poppler
def test_hostile_text_is_printed(hostile: Site, exported: Callable[..., Path]) -> None:
    folder = exported(hostile, "pdf")
    for number, text in enumerate(HOSTILE):
        shown = text_of(folder / pdf.file_name(f"H-{number}"))
        body = re.sub(r".*Work order H-\d+ .*\n", "", shown)
        body = re.sub(r".*Limits and verdicts are arithmetic.*\n", "", body)
        assert squeezed(fonts.printable(text)) in squeezed(body), number


@needs_poppler
def test_long_texts_everywhere_run_over_pages(site: Site, exported: Callable[..., Path]) -> None:
    long = "why it was so, and so it was. " * 400
    site.confirm(
        "W" * 300,
        said("10", "remarks", long),
        said("10", "wheel_off", "SN-" + "0" * 3000),
        said("10", "axle", "pass", as_spoken=long),
        text=long,
        changes={("axle", None): {"kind": "correct", "value": "fail", "why": long,
                                  "follow_up": "deferred", "reference": long}},
    )  # fmt: skip
    (path,) = exported(site, "pdf").glob("*.pdf")
    text = text_of(path)
    assert len(text.split("\f")) > 4
    assert squeezed("FAILED") in squeezed(text)
    assert squeezed(text).count(squeezed("why it was so, and so it was.")) > 1900


def test_what_the_typeface_lacks_is_spelt_out() -> None:
    assert fonts.printable("שלום") == "".join(map(code_point, "שלום"))
    assert fonts.printable("\U0001f527") == "‹U+1F527›"
    assert fonts.printable("e\u0301") == "é"
    assert fonts.marked_up("<b>&</b>\n") == "&lt;b&gt;&amp;&lt;/b&gt;<br/>"


def test_the_slashed_zero_is_the_typeface_s_own() -> None:
    font_tools = pytest.importorskip("fontTools.ttLib")
    for file in sorted(fonts.folder().glob("SourceSansPro-[RB][eo]*.ttf")):
        if "It" in file.name:
            continue
        font = font_tools.TTFont(file)
        assert font.getGlyphID("zero.0") == fonts.SLASHED_ZERO
        assert font["hmtx"]["zero.0"][0] == font["hmtx"]["zero"][0]


def test_a_missing_typeface_is_said_clearly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voicelog.export.fonts.find_spec", lambda _: None)
    with pytest.raises(ExportError, match="pip install font-source-sans-pro"):
        fonts.folder()


@pytest.mark.parametrize(
    ("work_order", "name"),
    [
        ("48-2213", "work-order-48-2213.pdf"),
        ("../../etc/passwd", None),
        ("a/b\\c:d*e?", None),
        ("Žďár 7", None),
        ("WO-7", "work-order-WO-7.pdf"),
        ("x" * 300, None),
        ("con", "work-order-con.pdf"),
        ("\u202e", None),
    ],
)
def test_file_names(work_order: str, name: str | None) -> None:
    made = pdf.file_name(work_order)
    assert re.fullmatch(r"work-order-[A-Za-z0-9._-]{1,80}\.pdf", made)
    assert ".." not in made
    if name is None:
        name = made
        assert hashlib.sha256(work_order.encode()).hexdigest()[:8] in made
    assert made == name


def test_work_orders_that_differ_in_case_have_files_of_their_own(
    site: Site, exported: Callable[..., Path]
) -> None:
    numbers = ("abc", "ABC", "Abc", "a c", "a-c")
    for number in numbers:
        remark(site, number, number)
    names = [path.name.casefold() for path in exported(site, "pdf").glob("*.pdf")]
    assert len(set(names)) == len(numbers)


@pytest.mark.parametrize(
    ("value", "unit", "low", "high", "expected"),
    [
        # 18.07 N·m shows as 160 in whole lbf·in and is out of 160 to 190
        (Decimal("18.07"), "N*m", 160, 190, "≈ 159.93 in·lbf"),
        (Decimal("18.0776"), "N*m", 160, 190, "≈ 160.0002 in·lbf"),
        (Decimal("0.25"), "ft*lbf", 1, 3, "3.00 in·lbf"),
        (Decimal("3"), "in*lbf", 1, 3, None),
        (Decimal("3"), None, 1, 3, None),
        (Decimal("3"), "mm", 1, 3, None),
    ],
)
def test_a_converted_value_shows_its_verdict(
    value: Decimal, unit: str | None, low: int, high: int, expected: str | None
) -> None:
    field = Field("t", "T", "measurement", "in*lbf", Decimal(low), Decimal(high))
    assert converted(value, unit, field) == expected
    assert converted(value, unit, replace(field, min=None, max=None)) is None


def test_limits_as_a_person_writes_them() -> None:
    field = Field("t", "T", "measurement", "N*m", Decimal("95"), Decimal("105.0"))
    assert limits_text(field) == "95 – 105.0 N·m"
    assert limits_text(replace(field, max=None)) == "≥ 95 N·m"
    assert limits_text(replace(field, min=None)) == "≤ 105.0 N·m"
    assert limits_text(replace(field, min=None, max=None)) == ""
    assert limits_text(None) == ""
    assert plain(Decimal("1E+3")) == "1000"
    assert date(2026, 1, 1).isoformat() in worded(date(2026, 1, 1))
