"""A recogniser for quick tests: it hears what it was told it would hear."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.errors import NoSpeech
from voicelog.heard import Transcript, Word

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.heard import Audio
    from voicelog.speech.vocabulary import Vocabulary


class FakeRecogniser:
    """Stands on the far side of `Recogniser`.

    `heard` maps the SHA-256 of a recording to what is said in it; recordings it does not name
    take the next text of `queue`, and when that is empty nobody speaks (NoSpeech).
    """

    model_name = "fake"

    def __init__(
        self, heard: Mapping[str, str] | None = None, queue: tuple[str, ...] | list[str] = ()
    ) -> None:
        self._heard = dict(heard or {})
        self._queue = list(queue)
        self.vocabularies: list[Vocabulary | None] = []
        """What each call was told to expect."""
        self.begun: list[Audio] = []
        """What it began to listen to before it was told."""

    def begin(self, audio: Audio) -> None:
        """Only noted."""
        self.begun.append(audio)

    def transcribe(self, audio: Audio, vocabulary: Vocabulary | None = None) -> Transcript:
        """Words spread evenly over the audio. Raises NoSpeech when no text is left."""
        self.vocabularies.append(vocabulary)
        text = self._heard.get(audio.sha256)
        if text is None and self._queue:
            text = self._queue.pop(0)
        if not text:
            raise NoSpeech("nobody speaks in this recording; record it again")
        said = text.split()
        each = audio.duration_s / len(said)
        words = tuple(
            Word(word, round(index * each, 3), round((index + 1) * each, 3), 0.99)
            for index, word in enumerate(said)
        )
        return Transcript(
            words,
            model=self.model_name,
            model_sha256="0" * 64,
            settings=(("recogniser", "fake"),),
            duration_s=audio.duration_s,
            warnings=audio.warnings,
        )

    def transcribe_many(
        self, recordings: Sequence[Audio], vocabularies: Sequence[Vocabulary | None]
    ) -> tuple[Transcript | NoSpeech, ...]:
        """One after the other."""

        def hear(audio: Audio, vocabulary: Vocabulary | None) -> Transcript | NoSpeech:
            try:
                return self.transcribe(audio, vocabulary)
            except NoSpeech as silence:
                return silence

        return tuple(map(hear, recordings, vocabularies))
