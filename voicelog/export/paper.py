"""The paper of a printed record: page, styles, page x of y, QR code, frames that print.

Black and white by design: nothing is told by colour, so a photocopy says the same.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from reportlab.lib import colors
from reportlab.lib.enums import TA_CENTER, TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate, Paragraph

from voicelog.export.fonts import BOLD, CODE, CODE_BOLD, TEXT, marked_up, printable, register

WIDTH, HEIGHT = A4
MARGIN = 16 * mm
TOP, BOTTOM = 21 * mm, 21 * mm
INNER = WIDTH - 2 * MARGIN

GREY = colors.Color(0.35, 0.35, 0.35)
RULE = colors.Color(0.62, 0.62, 0.62)
TINT = colors.Color(0.92, 0.92, 0.92)

PLAIN: list[tuple[Any, ...]] = [
    ("FONTNAME", (0, 0), (-1, -1), TEXT),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 3),
    ("RIGHTPADDING", (0, 0), (-1, -1), 3),
    ("TOPPADDING", (0, 0), (-1, -1), 1.6),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2.4),
]
"""Style that every table on the sheet begins with."""

CAUTION = (
    "Limits and verdicts are arithmetic: no release, no statement on fitness for use."
    " Approved data, local rules and licensed staff decide."
)
"""Stands at the foot of every page."""


@cache
def styles() -> dict[str, ParagraphStyle]:
    """Paragraph styles by what they are for; the fonts are registered on the way."""
    register()
    base = ParagraphStyle(
        "base", fontName=TEXT, fontSize=9, leading=11.2, splitLongWords=1, strikeWidth=0.5
    )
    bold = ParagraphStyle("bold", base, fontName=BOLD)
    small = ParagraphStyle("small", base, fontSize=7.6, leading=9.4)
    return {
        "text": base,
        "bold": bold,
        "small": small,
        "long text": ParagraphStyle("long text", base, leftIndent=4 * mm, rightIndent=4 * mm),
        "long note": ParagraphStyle("long note", small, leftIndent=4 * mm, rightIndent=4 * mm),
        "label": ParagraphStyle("label", small, textColor=GREY),
        "code": ParagraphStyle("code", base, fontName=CODE),
        "small code": ParagraphStyle("small code", small, fontName=CODE),
        "value": ParagraphStyle("value", base, fontName=CODE_BOLD, fontSize=9.3, leading=11.2),
        "number": ParagraphStyle(
            "number", base, fontName=CODE_BOLD, fontSize=9.3, leading=11.2, alignment=TA_RIGHT
        ),
        "right label": ParagraphStyle("right label", small, textColor=GREY, alignment=TA_RIGHT),
        "right": ParagraphStyle("right", base, alignment=TA_RIGHT),
        "title": ParagraphStyle("title", bold, fontName=CODE_BOLD, fontSize=21, leading=24),
        "heading": ParagraphStyle("heading", bold, fontSize=12, leading=14.5),
        "heading code": ParagraphStyle(
            "heading code", bold, fontName=CODE_BOLD, fontSize=12, leading=14.5
        ),
        "step": ParagraphStyle("step", bold, fontSize=10.5, leading=13),
        "tally": ParagraphStyle("tally", bold, fontSize=15, leading=17, alignment=TA_CENTER),
        "tally label": ParagraphStyle("tally label", small, alignment=TA_CENTER),
        "tally inverse": ParagraphStyle(
            "tally inverse", bold, fontSize=15, leading=17, alignment=TA_CENTER,
            textColor=colors.white,
        ),
        "tally label inverse": ParagraphStyle(
            "tally label inverse", small, alignment=TA_CENTER, textColor=colors.white
        ),
        "inverse": ParagraphStyle(
            "inverse", bold, fontSize=8.6, leading=10.6, textColor=colors.white,
            alignment=TA_CENTER,
        ),
    }  # fmt: skip


def para(text: str, style: str = "text") -> Paragraph:
    """A paragraph of plain text: nothing in it is mark-up."""
    return Paragraph(marked_up(text), styles()[style])


def rich(markup: str, style: str = "text") -> Paragraph:
    """A paragraph of mark-up whose variable parts went through `marked_up`."""
    return Paragraph(markup, styles()[style])


def clipped(text: str, font: str, size: float, width: float) -> str:
    """`text` on one line of `width` points, cut with an ellipsis where it is longer."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    line = printable(text).replace("\n", " ")
    if stringWidth(line, font, size) <= width:
        return line
    low, high = 0, len(line)
    while low < high:
        middle = (low + high + 1) // 2
        if stringWidth(line[:middle] + "…", font, size) <= width:
            low = middle
        else:
            high = middle - 1
    return line[:low] + "…"


class QrCode(Flowable):
    """A QR code (ISO/IEC 18004, error correction M) with its quiet zone of four modules."""

    def __init__(self, text: str, size: float) -> None:
        import segno

        super().__init__()
        self.width = self.height = size
        self._matrix = segno.make(text, error="m", micro=False, boost_error=False).matrix

    def draw(self) -> None:
        canvas = self.canv
        module = self.width / (len(self._matrix) + 8)
        canvas.setFillColor(colors.black)
        path = canvas.beginPath()
        for down, row in enumerate(self._matrix):
            start = None
            for across, dark in enumerate([*row, 0]):
                if dark and start is None:
                    start = across
                elif not dark and start is not None:
                    path.rect(
                        (start + 4) * module,
                        self.height - (down + 5) * module,
                        (across - start) * module,
                        module,
                    )
                    start = None
        canvas.drawPath(path, stroke=0, fill=1)


class _Pages(Canvas):
    """Keeps the pages back until their number is known."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs | {"initialFontName": TEXT})  # else Helvetica
        self._kept: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802 — reportlab's name
        self._kept.append(dict(self.__dict__))
        self._startPage()  # type: ignore[attr-defined]  # the published way to keep a page

    def save(self) -> None:
        for number, page in enumerate(self._kept, 1):
            self.__dict__.update(page)
            self.setFont(TEXT, 7.6)
            self.setFillColor(colors.black)
            self.drawRightString(WIDTH - MARGIN, 11 * mm, f"Page {number} of {len(self._kept)}")
            super().showPage()
        super().save()


class Sheet(BaseDocTemplate):
    """A4 pages with a running head and the caution at the foot. The same story, the same bytes."""

    def __init__(self, path: str, *, title: str, head: str, house: str) -> None:
        register()
        super().__init__(
            path,
            pagesize=A4,
            invariant=1,
            title=title,
            author=house,
            subject="Maintenance record",
            creator="voicelog",
            lang="en-GB",
        )
        self._head, self._house = head, house
        frame = Frame(MARGIN, BOTTOM, INNER, HEIGHT - TOP - BOTTOM, 0, 0, 0, 0)
        self.addPageTemplates([PageTemplate("page", [frame], onPage=self._furnish)])

    def _furnish(self, canvas: Canvas, _: Any) -> None:
        canvas.saveState()
        canvas.setStrokeColor(colors.black)
        canvas.setLineWidth(0.6)
        canvas.setFillColor(colors.black)
        top = HEIGHT - 14 * mm
        canvas.line(MARGIN, top - 1.6 * mm, WIDTH - MARGIN, top - 1.6 * mm)
        canvas.setFont(CODE, 8.4)
        canvas.drawString(MARGIN, top, clipped(self._head, CODE, 8.4, INNER * 0.6))
        canvas.setFont(TEXT, 8.4)
        canvas.drawRightString(WIDTH - MARGIN, top, clipped(self._house, TEXT, 8.4, INNER * 0.38))
        canvas.setLineWidth(0.4)
        canvas.line(MARGIN, 15.5 * mm, WIDTH - MARGIN, 15.5 * mm)
        canvas.setFont(TEXT, 7.2)
        canvas.drawString(MARGIN, 11 * mm, CAUTION)
        canvas.restoreState()

    def print(self, story: list[Flowable]) -> None:
        """Lay out `story` and write the file."""
        self.build(story, canvasmaker=_Pages)
