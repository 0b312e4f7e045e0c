"""Golden notes as training sentences: `python -m voicelog.bench.training.dictated NOTES CARDS OUT`.

NOTES has a golden note a line, CARDS is a folder of their cards; OUT gets an object a line (name,
text, phrases) for `prepare --dictated`. Notes with figures, abbreviations or signs are left out:
how a voice says them is not known, and what should be written is what was said, word for word.
What is to be measured on afterwards is left out by its id (`--but PREFIX`, repeated).
"""

from __future__ import annotations

import argparse
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING

from voicelog import cards
from voicelog.speech import vocabulary

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from voicelog.objects import Card

_PLAIN = re.compile(r"[A-Za-z ,.'?;:-]+")
_ABBREVIATION = re.compile(r"[A-Z]{2,}")
_DASH = re.compile(r"\s*[;:]\s+|\s+-+\s+")
_NUMBER_HYPHEN = re.compile(r"\b(\w+ty)-(?=\w)")


def written(text: str) -> str | None:
    """`text` as a voice says it and a model is to write it; None where that is not known."""
    if not _PLAIN.fullmatch(text) or _ABBREVIATION.search(text):
        return None
    text = _NUMBER_HYPHEN.sub(r"\1 ", _DASH.sub(", ", text))
    return text[:1].upper() + text[1:]


def sentences(notes: Path, shelf: Mapping[str, Card], but: tuple[str, ...]) -> Iterator[str]:
    """A JSON object for each note that can be learnt from."""
    for line in notes.read_text(encoding="utf-8").splitlines():
        note = json.loads(line)
        text = written(note["text"])
        if text is None or note["form"] != "clean" or note["id"].startswith(but):
            continue
        phrases = vocabulary.of(shelf[note["card"]], note["step"]).phrases
        yield json.dumps({"name": note["id"], "text": text, "phrases": phrases})


def main() -> None:
    """Three paths, and what is kept for measuring."""
    asked = argparse.ArgumentParser(description=__doc__)
    for name in ("notes", "cards", "out"):
        asked.add_argument(name, type=Path)
    asked.add_argument("--but", action="append", default=[])
    given = asked.parse_args()
    shelf = cards.shipped() | {
        card.number: card for card in map(cards.load, sorted(given.cards.glob("*.yaml")))
    }
    made = sentences(given.notes, shelf, tuple(given.but))
    given.out.write_text("".join(f"{line}\n" for line in made), encoding="utf-8")


if __name__ == "__main__":
    main()
