"""What was said, take by take, with the marks that a reviewer reads by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicelog.speech.recheck import OTHER_WORDS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.objects import Draft, Note

UNSURE = 0.6
"""Words below this probability are marked. Probability alone finds few of the wrong ones:
the marks on suspicions and on values in doubt are the stronger ones."""
MARGIN_S = 0.3
"""Sound around a word that is played with it."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """One word and what is to be known about it."""

    text: str
    start: int
    """Character in the text of all takes."""
    end: int
    start_s: float
    end_s: float
    unsure: bool
    instead: tuple[str, ...]
    """What may have been said instead."""
    read: bool
    """Some value, or a mention that found no field, was read out of it."""


@dataclass(frozen=True, slots=True)
class TakeRow:
    """One take on the page."""

    number: int
    audio: str
    step: str | None
    start_s: float
    end_s: float
    words: tuple[Spoken, ...]


def rows(note: Note) -> tuple[TakeRow, ...]:
    """The takes of a note; spans of words are those of its values."""
    return tuple(_rows(note.draft))


def _rows(draft: Draft) -> Iterator[TakeRow]:
    spans = [(value.start, value.end) for value in draft.values]
    spans += [(mention.start, mention.end) for mention in draft.unplaced]
    offset = 0
    for number, take in enumerate(draft.takes):
        transcript = take.transcript
        words = []
        for word, at in zip(transcript.words, transcript.word_starts, strict=True):
            doubted = [
                found
                for found in transcript.suspicions
                if found.start < at + len(word.text) and at < found.end and found.why != OTHER_WORDS
            ]
            start = offset + at
            end = start + len(word.text)
            instead = [*word.alternatives, *(a for found in doubted for a in found.alternatives)]
            words.append(
                Spoken(
                    word.text,
                    start,
                    end,
                    word.start_s,
                    word.end_s,
                    bool(doubted) or word.probability < UNSURE,
                    tuple(dict.fromkeys(instead)),
                    any(a < end and start < b for a, b in spans),
                )
            )
        start_s = max(0.0, words[0].start_s - MARGIN_S) if words else 0.0
        end_s = words[-1].end_s + MARGIN_S if words else transcript.duration_s
        yield TakeRow(number, take.audio_sha256, take.step, start_s, end_s, tuple(words))
        offset += len(transcript.text) + bool(transcript.words)
