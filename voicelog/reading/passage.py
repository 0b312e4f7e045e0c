"""The passage under reading: its text, its atoms, what the card knows, and who claimed what.

Stages run in a fixed order and each one works on the atoms that no earlier stage has
claimed, so no digit is ever read into two values.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from voicelog.objects import Mention, MentionKind
from voicelog.reading import lost_apostrophes, lost_colons
from voicelog.reading.atoms import Atom, atomise
from voicelog.reading.lexing import NumberWord, lex, word_at
from voicelog.reading.numerals import Numerals
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from voicelog.objects import Value
    from voicelog.reading.atoms import Key
    from voicelog.reading.cues import Cues

_NOTHING = [""] * 32
_HORIZON = 128
"""Atoms that one number, with its signs and its unit, spans at most."""


def spread(words: Key, start: int, end: int) -> Iterator[tuple[str, int, int]]:
    """`words` over the characters `start`..`end`, each with the part that stands for it."""
    count = len(words)
    for at, word in enumerate(words):
        yield word, start + (end - start) * at // count, start + (end - start) * (at + 1) // count


@dataclass(slots=True)
class Passage:
    """Working state of one reading; lives in `doc._.passage` and never leaves the room."""

    text: str
    atoms: list[Atom]
    cues: Cues
    texts: list[str] = field(default_factory=list)
    """The text of each atom and, so that nobody has to ask where they end, emptiness behind."""
    claims: list[str] = field(default_factory=list)
    """For each atom the name of the stage that read it, "" for none."""
    words: list[NumberWord | None] = field(default_factory=list)
    """For each atom the number word that begins at it."""
    steps: list[tuple[int, str]] = field(default_factory=list)
    """(atom, number) of each step that the note names."""
    doubted: dict[int, tuple[str, tuple[Value, ...]]] = field(default_factory=dict)
    """Start of a number -> (code, other values): a doubt that an earlier stage has about it; with
    no code the other values are only noted."""
    cuts: set[int] = field(default_factory=set)
    """Atoms before which a number ends: values of a list that were said without a pause."""
    respelt: list[tuple[int, int, Key]] = field(default_factory=list)
    """(start, end, words): characters that are read as other words than they were written."""
    named: set[int] = field(default_factory=set)
    """Atoms at which a name of the card begins that sounds like a fraction."""
    counted: set[int] = field(default_factory=set)
    """Where names of what is counted begin that were written as they sound."""
    _taken: bytearray = field(default_factory=bytearray)
    """1 for each claimed atom: a look-out for the next one has to be quick."""
    _readers: dict[int, Numerals] = field(default_factory=dict)
    """Readers of numbers by where they stop; each remembers what it has read."""

    @classmethod
    def of(cls, text: str, cues: Cues) -> Passage:
        atoms = lost_apostrophes.mended(list(atomise(lost_colons.mended(text))), cues)
        count = len(atoms)
        texts = [atom.text for atom in atoms] + _NOTHING
        return cls(text, atoms, cues, texts, [""] * count, lex(atoms), _taken=bytearray(count))

    def step_at(self, index: int) -> str | None:
        """The step that the note is in at atom `index`."""
        return next((step for at, step in reversed(self.steps) if at <= index), self.cues.step)

    def free(self, first: int, last: int) -> bool:
        """Whether no atom of `first`..`last` (exclusive) is claimed."""
        return not any(self.claims[first:last])

    def claim(self, first: int, last: int, stage: str) -> None:
        """Mark the atoms `first`..`last` (exclusive) as read by `stage`."""
        for index in range(first, last):
            self.claims[index] = stage
            self._taken[index] = 1

    def split(self, index: int, length: int) -> None:
        """Cut the atom `index` in two behind `length` characters: figures run together."""
        atom = self.atoms[index]
        head = atom._replace(text=atom.text[:length], end=atom.start + length)
        tail = atom._replace(text=atom.text[length:], start=atom.start + length, glued=False)
        self.atoms[index : index + 1] = head, tail
        self.texts[index : index + 1] = head.text, tail.text
        self.claims.insert(index, self.claims[index])
        self._taken.insert(index, self._taken[index])
        self._readers.clear()
        self.words[index:] = [
            word_at(self.atoms, index),
            word_at(self.atoms, index + 1),
            *(word and word.moved(1) for word in self.words[index + 1 :]),
        ]

    def respell(self, first: int, last: int, words: Key) -> None:
        """Read the atoms `first`..`last` (exclusive), which nobody has claimed, as `words`."""
        start, end = self.atoms[first].start, self.atoms[last - 1].end
        self.respelt.append((start, end, words))
        glued = self.atoms[first].glued
        atoms = [
            Atom(word, at, till, "word", glued and at == start)
            for word, at, till in spread(words, start, end)
        ]
        self.atoms[first:last] = atoms
        self.texts[first:last] = words
        self.claims[first:last] = [""] * len(words)
        self._taken[first:last] = bytes(len(words))
        more = len(words) - (last - first)
        self.steps[:] = [(at + more if at >= last else at, step) for at, step in self.steps]
        self.words[:] = lex(self.atoms)
        self._readers.clear()

    def is_respelt(self, start: int, end: int) -> bool:
        """Whether words between these characters are read as others."""
        return any(first < end and start < last for first, last, _ in self.respelt)

    def asked(self, mentions: Iterable[Mention], reach: int = 0) -> list[Mention]:
        """`mentions`, those that such words tell with a doubt; up to `reach` characters ahead."""
        if not self.respelt:
            return list(mentions)
        return [
            replace(each, doubts=tuple(dict.fromkeys((*each.doubts, "misheard_term"))))
            if self.is_respelt(each.start - reach, each.end)
            else each
            for each in mentions
        ]

    def asked_places(self, places: Iterable[Mention]) -> list[Mention]:
        """`places`, with a doubt where the word that counts them was misheard; the name of a field
        before a place that is plain leaves that as it is."""
        said = {word_key(word) for _, _, words in self.respelt for word in words}
        asked: list[Mention] = []
        for each in places:
            counted = {word_key(name[3:]) for name in each.qualifiers if name[:3] == "of:"}
            asked += [each] if said.isdisjoint(counted | {"all"}) else self.asked([each])
        return asked

    def begin_at(self, index: int) -> None:
        """Let a number begin at atom `index`, whatever it is glued to."""
        self.atoms[index] = self.atoms[index]._replace(glued=False)
        self._readers.clear()

    def barrier(self, first: int) -> int:
        """Index of the first claimed atom at or after `first`, looking no further than any
        number reaches."""
        limit = min(len(self._taken), first + _HORIZON)
        found = self._taken.find(1, first, limit)
        return max(first, limit) if found < 0 else found

    def numerals(self, first: int) -> Numerals:
        """A reader of the numbers at `first`, which stops before what is claimed."""
        stop = self.barrier(first)
        reader = self._readers.get(stop)
        if reader is None:
            reader = self._readers[stop] = Numerals(self.atoms, stop, self.words)
            reader.named = self.named
        return reader

    def stretches(self) -> Iterator[tuple[int, int]]:
        """The unclaimed stretches of atoms, in order."""
        first = 0
        while first < len(self.atoms):
            last = first
            while (
                last < len(self.atoms)
                and not self.claims[last]
                and (last == first or last not in self.cuts)
            ):
                last += 1
            if last > first:
                yield first, last
            first = last if first < last and last in self.cuts else last + 1

    def mention(self, kind: MentionKind, first: int, last: int, stage: str, **rest: Any) -> Mention:
        """A mention over the atoms `first`..`last` (exclusive)."""
        start, end = self.atoms[first].start, self.atoms[last - 1].end
        return Mention(kind, self.text[start:end], start, end, stage=stage, **rest)
