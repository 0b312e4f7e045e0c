"""The seam: a `Recogniser` turns audio into a transcript. Behind it, faster-whisper.

Voice activity comes first, so silence and noise never reach the model. Each window is
encoded once; it is decoded without word timestamps (with them the model reads the tail
twice and adds a thank-you), and the times come from aligning the text afterwards, with the
same prompt in front.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from voicelog.errors import ConfigError, NoSpeech
from voicelog.objects import Transcript, Word
from voicelog.speech import models, settings, voice
from voicelog.speech import vocabulary as vocabularies
from voicelog.speech.engine import Engine

if TYPE_CHECKING:
    from pathlib import Path

    from voicelog.objects import Audio
    from voicelog.speech.models import Model
    from voicelog.speech.vocabulary import Vocabulary
    from voicelog.speech.voice import Window


class Recogniser(Protocol):
    """What the rest of voicelog knows of speech recognition."""

    @property
    def model_name(self) -> str: ...

    def transcribe(self, audio: Audio, vocabulary: Vocabulary | None = None) -> Transcript:
        """The words spoken in `audio`. Raises NoSpeech when nobody speaks."""
        ...


class WhisperRecogniser:
    """faster-whisper behind the seam: int8 on the CPU unless told otherwise."""

    def __init__(
        self,
        model: Model | str | Path | None = None,
        profile: str = "standard",
        device: str = "auto",
        compute_type: str = "auto",
        cpu_threads: int = 0,
    ) -> None:
        """Find, check and load. Raises ModelError, and ConfigError for an unknown profile."""
        self._settings = settings.load()
        if profile not in self._settings.profiles:
            known = ", ".join(self._settings.profiles)
            raise ConfigError(f"speech.toml: no profile {profile!r}; there are: {known}")
        self._profile_name = profile
        self._profile = self._settings.profiles[profile]
        self._model = model if isinstance(model, models.Model) else models.find(model)
        self._engine = Engine(self._model, device, compute_type, cpu_threads)

    @property
    def model_name(self) -> str:
        return self._model.name

    def transcribe(self, audio: Audio, vocabulary: Vocabulary | None = None) -> Transcript:
        """The words spoken in `audio`. Raises NoSpeech when nobody speaks."""
        told = vocabulary if vocabulary is not None else vocabularies.of()
        chances = voice.probabilities(audio.samples)
        speech = voice.stretches(chances, self._settings.voice)
        words: list[Word] = []
        context = self._engine.context(told.phrases, self._settings.vocabulary.longest)
        for window in voice.windows(speech, len(audio.samples), self._settings.voice):
            words += self._read(audio, window, context)
        if not words:
            raise NoSpeech(
                f"{audio.path or 'the recording'}: nobody speaks in it; "
                "hold the microphone closer and say it again"
            )
        return Transcript(
            tuple(words),
            model=self._model.name,
            model_sha256=self._model.sha256,
            settings=(
                ("profile", self._profile_name),
                ("beam", str(self._profile.beam)),
                ("device", self._engine.device),
                ("compute_type", self._engine.compute_type),
                ("prompt", self._engine.text(context)),
            ),
            duration_s=audio.duration_s,
            warnings=audio.warnings,
        )

    def _read(self, audio: Audio, window: Window, context: tuple[int, ...]) -> list[Word]:
        heard = self._engine.encode(window.cut(audio.samples))
        tokens = self._engine.decode(heard, context, self._profile.beam)
        aligned = self._engine.align(heard, context, tokens)
        words = []
        for text, start, end in self._engine.words(tokens):
            chance = min(aligned.chances[start:end])
            begin, finish = aligned.starts_s[start], aligned.starts_s[end]
            words.append(
                Word(
                    text,
                    round(window.time_s(begin), 2),
                    round(window.time_s(max(begin, finish)), 2),
                    round(chance, 4),
                )
            )
        return words
