"""Text that is safe to print: what can't be seen is spelt out, what could be run is quoted.

Two rules, both reversible by a reader who knows them; the JSON Lines export needs neither
and keeps every text as it was.

* `visible`: a control character (other than tab and line feed), a mark that changes the
  direction of writing, an invisible or private character becomes its code point in angle
  quotes: "‹U+202E›". A text that holds such marks would otherwise show something else than
  what was signed (Unicode Technical Report 36, section 2).
* `guarded`: a CSV cell that a spreadsheet would take for a formula gets an apostrophe in
  front, and so does a cell that begins with an apostrophe. Taking one leading apostrophe
  away from a text cell restores it.
"""

from __future__ import annotations

import re
import unicodedata

_HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
"""Unicode categories that print as nothing or move what stands around them."""

_PLAIN = re.compile(r"[\x20-\x7e\t\n]*")
_HARMLESS = re.compile(r"(?![=+\-@'])[!-~][ -~\n]*")
"""Most cells: neither rule has anything to do."""

_FORMULA = "=+-@＝＋－＠"
"""First characters that start a formula in common spreadsheets, with their full-width forms."""


def code_point(character: str) -> str:
    """The character spelt out, such as ‹U+0007›."""
    return f"‹U+{ord(character):04X}›"


def is_hidden(character: str) -> bool:
    """Whether `character` prints as nothing, or moves what stands around it."""
    return unicodedata.category(character) in _HIDDEN


def visible(text: str) -> str:
    """`text` with every character that can't be seen spelt out; tabs and line feeds stay.

    CR LF becomes a line feed, as every editor shows it.
    """
    if _PLAIN.fullmatch(text):
        return text
    text = text.replace("\r\n", "\n")
    return "".join(
        code_point(character) if character not in "\t\n" and is_hidden(character) else character
        for character in text
    )


def guarded(text: str) -> str:
    """`visible(text)`, made harmless for a spreadsheet that opens the CSV file.

    For text cells alone: a number stays a number, so -5 is written as -5.
    """
    if _HARMLESS.fullmatch(text):
        return text
    shown = visible(text)
    start = shown.lstrip()
    if shown[:1] in ("\t", "'") or (start and start[0] in _FORMULA):
        return "'" + shown
    return shown


def unguarded(cell: str) -> str:
    """The inverse of the apostrophe rule of `guarded`, for a reader of a text cell."""
    return cell.removeprefix("'")
