"""The seam: a `Recogniser` turns audio into a transcript. Behind it, faster-whisper.

Voice activity comes first, so silence and noise never reach the model. Each window is
encoded once; it is decoded without word timestamps (with them the model reads the tail
twice and adds a thank-you), the times come from aligning the text afterwards, with the
same prompt in front, and the second look scores other wordings on the same encoder output.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import chain, islice
from typing import TYPE_CHECKING, Protocol

from voicelog.errors import ConfigError, ModelError, NoSpeech
from voicelog.heard import Transcript
from voicelog.speech import models, seam, settings, signal, voice
from voicelog.speech.engine import Engine, threads
from voicelog.speech.passage import Ears, Piece, read, take_in
from voicelog.speech.vocabulary import Vocabulary
from voicelog.speech.vocabulary import of as general

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from voicelog.heard import Audio
    from voicelog.speech.models import Model
    from voicelog.speech.passage import Passage
    from voicelog.speech.voice import Span

_HELD = 16
"""Windows whose encoder output is held at once: five megabytes each at most."""


class Recogniser(Protocol):
    """What the rest of voicelog knows of speech recognition."""

    @property
    def model_name(self) -> str: ...

    def begin(self, audio: Audio) -> None:
        """Listen to a recording whose vocabulary is not known yet; `transcribe` goes on there."""
        ...

    def transcribe(self, audio: Audio, vocabulary: Vocabulary | None = None) -> Transcript:
        """The words spoken in `audio`. Raises NoSpeech when nobody speaks."""
        ...

    def transcribe_many(
        self, recordings: Sequence[Audio], vocabularies: Sequence[Vocabulary | None]
    ) -> tuple[Transcript | NoSpeech, ...]:
        """The same for each recording, in order; NoSpeech where nobody speaks."""
        ...


@dataclass(frozen=True, slots=True)
class _Sound:
    """A recording with its windows, ready to be read."""

    audio: Audio
    speech: tuple[Span, ...]
    pieces: tuple[Piece, ...]
    told: Vocabulary

    def telling(self, told: Vocabulary) -> _Sound:
        """The same, with the words to expect."""
        pieces = tuple(
            replace(piece, phrases=told.phrases, terms=told.terms, units=told.units)
            for piece in self.pieces
        )
        return replace(self, told=told, pieces=pieces)


class WhisperRecogniser:
    """faster-whisper behind the seam: int8 on the CPU unless told otherwise."""

    def __init__(
        self,
        model: Model | str | Path | None = None,
        profile: str = "standard",
        device: str = "auto",
        compute_type: str = "auto",
        cpu_threads: int = 0,
        lanes: int = 1,
    ) -> None:
        """Find, check and load. Raises ModelError, and ConfigError for an unknown profile.

        `lanes` recordings may be heard at once, from as many threads.
        """
        self._settings = settings.load()
        if profile not in self._settings.profiles:
            known = ", ".join(self._settings.profiles)
            raise ConfigError(f"speech.toml: no profile {profile!r}; there are: {known}")
        self._profile_name = profile
        self._profile = self._settings.profiles[profile]
        self._model = model if isinstance(model, models.Model) else models.find(model)
        self._how = (device, compute_type, lanes)
        cores = threads(cpu_threads)
        # Steps of a decoder are too small to be shared between cores: models that listen at the
        # same time, each on cores of its own, are quicker than each on all of them in turn.
        beside = lanes == 1 and cores > 1 and "partner" in self._profile.second
        share = max(1, cores // 3) if beside else cores
        with ThreadPoolExecutor(1, thread_name_prefix="loading") as pool:
            second = pool.submit(self._second, share)  # most of it is not Python
            self._engine = Engine(self._model, *self._how, cores - share if beside else cores)
        self._ears = Ears(
            self._engine,
            second.result(),
            self._profile,
            self._settings.recheck,
            ThreadPoolExecutor(2, thread_name_prefix="listening") if beside else None,
        )
        self._begun: _Sound | None = None

    @property
    def model_name(self) -> str:
        return self._model.name

    def _second(self, cores: int) -> tuple[tuple[str, Engine | None], ...]:
        """Who listens beside the first model, or how it reads again."""
        second: dict[str, Engine | None] = {}
        for way in self._profile.second:
            partner = self._model.partner
            if way != "partner":
                second[way] = None
                continue
            try:
                if partner is None:
                    raise ModelError(f"{self._model.name} has no partner")
                second[partner] = Engine(models.find(partner), *self._how, cores)
            except ModelError:
                second["unprompted"] = None
        return tuple(second.items())

    def begin(self, audio: Audio) -> None:
        """Do all that needs no vocabulary, for as many windows as are held at once."""
        sound = self._listened(audio)
        if len(sound.pieces) <= _HELD:
            sound = replace(sound, pieces=tuple(take_in(self._ears, sound.pieces)))
        self._begun = sound

    def transcribe(self, audio: Audio, vocabulary: Vocabulary | None = None) -> Transcript:
        """The words spoken in `audio`. Raises NoSpeech when nobody speaks."""
        (heard,) = self.transcribe_many([audio], [vocabulary])
        if isinstance(heard, NoSpeech):
            raise heard
        return heard

    def transcribe_many(
        self, recordings: Sequence[Audio], vocabularies: Sequence[Vocabulary | None]
    ) -> tuple[Transcript | NoSpeech, ...]:
        """A transcript for each recording, as heard alone; NoSpeech where nobody speaks.

        All windows of all recordings are decoded together, which is faster.
        """
        sounds = [
            self._listened(audio).telling(told if told is not None else general())
            for audio, told in zip(recordings, vocabularies, strict=True)
        ]
        pieces = [piece for sound in sounds for piece in sound.pieces]
        passages = chain.from_iterable(
            read(self._ears, pieces[at : at + _HELD], self._settings.vocabulary.longest)
            for at in range(0, len(pieces), _HELD)
        )
        return tuple(
            self._transcript(each, [*islice(passages, len(each.pieces))]) for each in sounds
        )

    def _listened(self, audio: Audio) -> _Sound:
        begun, self._begun = self._begun, None
        if begun is not None and begun.audio is audio:
            return begun
        chances = voice.probabilities(audio.samples)
        speech = voice.stretches(chances, self._settings.voice)
        windows = voice.windows(speech, len(audio.samples), self._settings.voice)
        pieces = tuple(Piece(each, audio.samples, chances) for each in windows)
        return _Sound(audio, speech, pieces, Vocabulary(()))

    def _transcript(self, sound: _Sound, passages: list[Passage]) -> Transcript | NoSpeech:
        audio, windows = sound.audio, [piece.window for piece in sound.pieces]
        words, suspicions, second = seam.joined(passages, windows, self._settings.voice.overlap_s)
        if not words:
            return NoSpeech(
                f"{audio.path or 'the recording'}: nobody speaks in it; "
                "hold the microphone closer and say it again"
            )
        warnings = signal.check(audio.samples, sound.speech, self._settings.signal)
        prompt = self._engine.context(sound.told.phrases, self._settings.vocabulary.longest)
        return Transcript(
            words,
            model=self._model.name,
            model_sha256=self._model.sha256,
            settings=(
                ("profile", self._profile_name),
                ("beam", str(self._profile.beam)),
                ("second", ", ".join(name for name, _ in self._ears.second)),
                ("device", self._engine.device),
                ("compute_type", self._engine.compute_type),
                ("prompt", self._engine.text(prompt)),
            ),
            duration_s=audio.duration_s,
            warnings=tuple(dict.fromkeys((*audio.warnings, *warnings))),
            suspicions=suspicions,
            second=second,
        )
