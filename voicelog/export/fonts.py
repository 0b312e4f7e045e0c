"""The typeface of printed records: Source Sans Pro (SIL Open Font License 1.1).

It comes from the package `font-source-sans-pro`, so every machine prints the same bytes;
nothing of it is part of this software. It has Latin with all European letters, Greek,
Cyrillic, and the signs of the trade (≥ ≤ ± Ω ° µ Δ). What it lacks is spelt out as a code
point. Identifiers are set with the typeface's own slashed zero, so 0 and O differ on paper.
"""

from __future__ import annotations

import unicodedata
from functools import cache
from html import escape
from importlib.util import find_spec
from pathlib import Path

from voicelog.errors import ExportError
from voicelog.export.text import code_point, visible

TEXT = "Record-Text"
BOLD = "Record-Bold"
CODE = "Record-Code"
CODE_BOLD = "Record-CodeBold"

SLASHED_ZERO = 1097
"""Number of the glyph "zero.0" in both files: the slashed zero, as wide as every figure."""

_PACKAGE = "font_source_sans_pro"
_FILES = {
    TEXT: "SourceSansPro-Regular.ttf",
    BOLD: "SourceSansPro-Bold.ttf",
    CODE: "SourceSansPro-Regular.ttf",
    CODE_BOLD: "SourceSansPro-Bold.ttf",
}


def folder() -> Path:
    """Where the typeface's files are; the package is located, not imported. Raises ExportError."""
    spec = find_spec(_PACKAGE)
    if spec is None or spec.origin is None:
        raise ExportError(
            "the typeface of printed records is missing; install it with:"
            " pip install font-source-sans-pro==0.0.1"
        )
    return Path(spec.origin).parent / "files"


@cache
def register() -> frozenset[int]:
    """Make the fonts known to reportlab; the code points that all of them have."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFError, TTFont

    known: list[set[int]] = []
    for name, file in _FILES.items():
        path = folder() / file
        try:
            font = TTFont(name, str(path))
        except (OSError, TTFError) as error:
            raise ExportError(
                f"{path}: can't be read ({error}); install font-source-sans-pro==0.0.1 again"
            ) from error
        if name in (CODE, CODE_BOLD):
            font.face.charToGlyph[ord("0")] = SLASHED_ZERO
            font.face.name += b"Code"  # else its glyphs are taken for those of the other one
        known.append(set(font.face.charToGlyph))
        pdfmetrics.registerFont(font)
    pdfmetrics.registerFontFamily(TEXT, TEXT, BOLD, TEXT, BOLD)
    pdfmetrics.registerFontFamily(CODE, CODE, CODE_BOLD, CODE, CODE_BOLD)
    return frozenset.intersection(*map(frozenset, known))


def printable(text: str) -> str:
    """`text` as it can be printed: what the typeface lacks or nobody can see is spelt out."""
    known = register()
    shown = unicodedata.normalize("NFC", visible(text)).replace("\t", "    ")
    return "".join(
        character if character == "\n" or ord(character) in known else code_point(character)
        for character in shown
    )


def marked_up(text: str) -> str:
    """`printable(text)` for a paragraph: nothing in it is taken for mark-up."""
    return escape(printable(text), quote=False).replace("\n", "<br/>")
