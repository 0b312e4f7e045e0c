"""Values said in every way and order, on every card of the golden set: what must be read follows
from how a note was put together (`tests/spoken.py`), so that nobody's choice of examples decides.
"""

from __future__ import annotations

from itertools import islice
from pathlib import Path

import pytest

from tests import spoken
from voicelog import cards
from voicelog.bench.score import Entry, Tally, score
from voicelog.pipeline import Chain

NOTES = 1500
RIGHT, UNFLAGGED, SILENT = 99.0, 92.0, 5
"""Per cent of the values, and how many may be silently wrong in a lot: what was reached."""


@pytest.mark.parametrize("seed", [11, 12])
def test_values_are_read_however_they_are_put(seed: int) -> None:
    golden = sorted((Path(__file__).parent / "golden" / "cards").glob("*.yaml"))
    shop = [*cards.shipped().values(), *map(cards.load, golden)]
    chain = Chain()
    outcomes, silent = [], []
    for note in islice(spoken.notes(shop, seed), NOTES):
        draft = chain.read(note.text, note.card, note.step.number)
        found = score(note.card, note.expected, map(Entry.of_value, draft.values))
        outcomes += found
        silent += [
            f"{note.card.number} {note.step.number}: {note.text!r}: {each.key}"
            for each in found
            if each.silent and each.proposed is not None
        ]
    tally = Tally.of(outcomes)
    assert len(silent) <= SILENT, "\n".join(silent)
    assert 100 * tally.right >= RIGHT * tally.expected, tally
    assert 100 * tally.right_unflagged >= UNFLAGGED * tally.expected, tally
