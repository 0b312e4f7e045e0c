"""Stage: steps that are named in the note ("step forty")."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.chain import stage
from voicelog.reading.numerals import Numerals
from voicelog.reading.spoken import letters

if TYPE_CHECKING:
    from collections.abc import Iterator

    from spacy.tokens import Doc

    from voicelog.objects import Mention
    from voicelog.reading.passage import Passage

NAME = "steps"
_POINTS = frozenset({".", "point", "decimal", "dot"})
_ARTICLES = frozenset({"a", "i"})
_ENDS = frozenset({"", ".", ",", ":", ";", "-"})
_FILLERS = frozenset({"number", "no", ".", "#", ":", "-"})


@stage(NAME)
def steps(doc: Doc) -> None:
    """Read "step" and the number that follows; the longest number that the card has wins."""
    passage: Passage = doc._.passage
    doc._.steps = list(_read(passage))


def _read(passage: Passage) -> Iterator[Mention]:
    card = passage.cues.card
    known = {step.number.casefold(): step.number for step in card.steps} if card else {}
    dotted = any("." in number for number in known)
    for index, atom in enumerate(passage.atoms):
        if atom.text != "step":
            continue
        at = index + 1
        while at < len(passage.atoms) and at < index + 3 and passage.atoms[at].text in _FILLERS:
            at += 1
        ways = [*(_dotted(passage, at) if dotted else ()), *_ways(passage, at)]
        ways += ((said, at + 1) for said in _letter(passage, at) if said in known)
        fits = [(said, last) for said, last in ways if said in known]
        if fits:
            said, last = fits[0]
            passage.steps.append((index, known[said]))
            yield passage.mention("step", index, last, NAME, value=known[said])
        elif ways:
            said, last = ways[0]
            yield passage.mention("step", index, last, NAME, value=said, doubts=("unknown_step",))
        else:
            continue
        passage.claim(index, last, NAME)


def _letter(passage: Passage, at: int) -> Iterator[str]:
    """The letter at `at`, spelt or not: "step B", "step bravo"; the "a" of "step a bit" is none."""
    word = passage.texts[at] if at < len(passage.atoms) else ""
    spelt = letters().get((word,))
    atom = passage.atoms[at] if word else None
    if spelt is not None:
        yield spelt.casefold()
    elif atom is not None and atom.shape == "word" and len(word) == 1:
        capital = passage.text[atom.start].isupper()
        if word not in _ARTICLES or capital or passage.texts[at + 1] in _ENDS:
            yield word


def _dotted(passage: Passage, at: int) -> Iterator[tuple[str, int]]:
    """ "Two point two", where the card numbers its steps so: "2.2"."""
    stop = min(passage.barrier(at), at + 6)
    for point in range(at + 1, stop - 1):
        if passage.atoms[point].text in _POINTS:
            head = Numerals(passage.atoms, point, passage.words).whole_number(at)
            tails = [(said, last) for said, last in _ways(passage, point + 1) if last <= stop]
            if head is not None and head.last == point and tails:
                yield f"{head.digits or head.value}.{tails[-1][0]}", tails[-1][1]
            return


def _ways(passage: Passage, at: int) -> Iterator[tuple[str, int]]:
    """(number as a card may spell it, index behind), longest first."""
    stop = passage.barrier(at)
    limit = min(stop, at + 6)
    for last in range(limit, at, -1):
        number = Numerals(passage.atoms, last, passage.words).whole_number(at)
        if number is None or number.last != last:
            continue
        digits = number.digits or str(number.value)
        letter = passage.atoms[last] if last < stop else None
        if letter is not None and letter.shape == "word" and len(letter.text) == 1:
            yield digits + letter.text, last + 1
        yield digits, last


STAGE = steps
