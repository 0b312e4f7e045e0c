"""The whole chain on one screen: audio -> transcript -> reading -> draft.

    audio.load -> Chain.hear -> Chain.propose -> (a person) -> records -> export

Nothing here saves anything, and nothing here decides what is right.
"""

from __future__ import annotations

from bisect import bisect_right
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import accumulate
from typing import TYPE_CHECKING

from voicelog import cards
from voicelog.errors import NoSpeech
from voicelog.heard import Audio, Transcript
from voicelog.objects import Card, Draft, FieldValue, Mention, Reading, Take
from voicelog.speech import vocabulary

if TYPE_CHECKING:
    from collections.abc import Sequence
    from concurrent.futures import Future

    from voicelog.speech.recognise import Recogniser


class Chain:
    """A recogniser, kept for as long as notes come in, and what reads and maps what it heard."""

    def __init__(self, recogniser: Recogniser | None = None, reads_soon: bool = False) -> None:
        """With `reads_soon`, what reads is loaded while the first recording is listened to."""
        self._recogniser = recogniser
        self._reads_soon = reads_soon
        self._loading: Future[Draft] | None = None

    def hear(self, audio: Audio, card: Card | None = None, step: str | None = None) -> Take:
        """What was said, heard with the vocabulary of the step. Raises NoSpeech, CardError."""
        (heard,) = self.hear_many(((audio, card, step),))
        if isinstance(heard, NoSpeech):
            raise heard
        return heard

    def hear_many(
        self, wanted: Sequence[tuple[Audio, Card | None, str | None]]
    ) -> tuple[Take | NoSpeech, ...]:
        """The same for each recording with its card and step; NoSpeech where nobody speaks."""
        if self._recogniser is None:
            raise ValueError("this chain was made to read text; give it a recogniser")
        if self._reads_soon and self._loading is None and wanted[0][1] is not None:
            pool = ThreadPoolExecutor(1, thread_name_prefix="loading")
            self._loading = pool.submit(read_text, "checked", wanted[0][1])  # brings in all of it
            pool.shutdown(wait=False)
        heard = self._recogniser.transcribe_many(
            [audio for audio, _, _ in wanted],
            [
                vocabulary.of(card, cards.find_step(card, step)) if card is not None else None
                for _, card, step in wanted
            ],
        )
        return tuple(
            each if isinstance(each, NoSpeech) else Take(each, audio_sha256=audio.sha256)
            for each, (audio, _, _) in zip(heard, wanted, strict=True)
        )

    def propose(self, takes: tuple[Take, ...], card: Card, step: str | None = None) -> Draft:
        """Values for the card's fields out of all takes of one note, read as one text."""
        if self._loading is not None:
            self._loading.result()
        from voicelog import mapping  # like what `_read` imports: nothing that listens needs it

        transcript = Transcript.joined(tuple(take.transcript for take in takes))
        if transcript.second:
            other = self._read(tuple(map(_second, takes)), card, step)
            draft = self._read(takes, card, step, other)
            draft = mapping.compared(draft, transcript.text, other, transcript.second, card)
        else:
            draft = self._read(takes, card, step)
        starts = _take_starts(takes)
        values = tuple(_located(value, transcript, starts) for value in draft.values)
        return replace(draft, takes=takes, values=values)

    def _read(
        self, takes: tuple[Take, ...], card: Card, step: str | None, other: Draft | None = None
    ) -> Draft:
        """Takes as one text, read, mapped and weighed, in view of the `other` reading."""
        from voicelog import doubt, mapping  # the largest part of all imports
        from voicelog.reading import Reader

        transcript = Transcript.joined(tuple(take.transcript for take in takes))
        reading = Reader(card).read(transcript, step)
        reading = _with_steps(reading, takes, _take_starts(takes))
        draft = mapping.draft(reading, card, step)
        if other is None:
            return doubt.weigh(draft, reading, card)
        counted = mapping.counted_alike(draft, transcript.text, other, transcript.second)
        return doubt.weigh(draft, reading, card, mapping.agreed(draft, other), counted)

    def note(self, audio: Audio, card: Card, step: str | None = None) -> Draft:
        """One recording, all the way to a draft."""
        return self.propose((self.hear(audio, card, step),), card, step)

    def read(self, text: str, card: Card, step: str | None = None) -> Draft:
        """One text, all the way to a draft."""
        return self.propose((Take(Transcript.of_text(text)),), card, step)


def read_text(text: str, card: Card, step: str | None = None) -> Draft:
    """One text, all the way to a draft; make a `Chain` to read many."""
    return Chain().read(text, card, step)


def _second(take: Take) -> Take:
    """`take` as a second model wrote it."""
    second = take.transcript.second
    return replace(take, transcript=Transcript.of_text(second)) if second else take


def _take_starts(takes: tuple[Take, ...]) -> list[int]:
    """Character of the joined text at which each take begins."""
    lengths = [len(take.transcript.text) + bool(take.transcript.words) for take in takes]
    return [0, *accumulate(lengths)][: len(takes)]


def _with_steps(reading: Reading, takes: tuple[Take, ...], starts: list[int]) -> Reading:
    """`reading` with a step mention where the page's selection moved the context."""
    moves = tuple(
        Mention("step", "", at, at, value=take.step, stage="selection")
        for take, at in zip(takes, starts, strict=True)
        if take.step is not None
    )
    if not moves:
        return reading
    mentions = sorted((*moves, *reading.mentions), key=lambda mention: mention.start)
    return replace(reading, mentions=tuple(mentions))


def _located(value: FieldValue, transcript: Transcript, starts: list[int]) -> FieldValue:
    """`value` with its take and, where the words have times, its seconds of audio."""
    take = max(bisect_right(starts, value.start) - 1, 0)
    words = transcript.words_in(value.start, value.end)
    if not words or words[-1].end_s <= words[0].start_s:
        return value if value.take == take else replace(value, take=take)
    return replace(value, take=take, start_s=words[0].start_s, end_s=words[-1].end_s)
