"""Many recordings at once: each core hears one of its own, over one copy of the weights.

A single note keeps several cores busy only part of the time: a decoder's steps are too small
to share. So a backlog is heard side by side, one thread a recording, and the features of one
are taken while another is decoded. What is heard is exactly what would be heard one by one.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

from voicelog.errors import NoSpeech
from voicelog.speech import engine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.objects import Audio, Transcript
    from voicelog.speech.recognise import Recogniser
    from voicelog.speech.vocabulary import Vocabulary


def lanes(backlog: int, cores: int = 0) -> int:
    """How many recordings to hear side by side on this machine (or on `cores` of it)."""
    return max(1, min(backlog, engine.threads(cores)))


def transcribe_many(
    recogniser: Recogniser,
    recordings: Sequence[Audio],
    vocabularies: Sequence[Vocabulary | None],
    side_by_side: int = 0,
) -> tuple[Transcript | NoSpeech, ...]:
    """A transcript for each recording, in order; NoSpeech where nobody speaks.

    `recogniser` should have been made with as many lanes. Raises what `transcribe` raises
    beside NoSpeech.
    """

    def hear(audio: Audio, vocabulary: Vocabulary | None) -> Transcript | NoSpeech:
        try:
            return recogniser.transcribe(audio, vocabulary)
        except NoSpeech as silence:
            return silence

    count = side_by_side or lanes(len(recordings))
    if count == 1:
        return tuple(map(hear, recordings, vocabularies))
    # the longest first: what is left at the end, when lanes fall idle, is short
    order = sorted(range(len(recordings)), key=lambda n: -len(recordings[n].samples))
    with ThreadPoolExecutor(count, thread_name_prefix="listening") as pool:
        heard = {n: pool.submit(hear, recordings[n], vocabularies[n]) for n in order}
        return tuple(heard[n].result() for n in range(len(recordings)))
