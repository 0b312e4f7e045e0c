"""The loaded model, one layer above CTranslate2: encode once, decode and align on that.

`Heard` keeps the encoder output of one window, so the first look and every second look
share it.
"""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from voicelog.errors import ModelError
from voicelog.heard import RATE_HZ

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.speech.models import Model

FRAMES_PER_S = 100
TOGETHER = 8
"""Windows that are decoded in one go. Fewer waste the time in which weights are read, more no
longer fit into the caches: at 20 the same texts took twice as long."""
_LONGEST = 3000
_STEP = 300
"""Frames: windows are padded to whole steps, so that those of about the same length can be
decoded together, and each is padded as it would be alone."""
_NEAR = 40
"""Prompt tokens that go before a text that is laid on the audio. The model heeds the end of its
prompt most: with 40 of 160, margins moved by 0.6 nats on the demo recordings while each score
took a third of the time."""
_TOKENS_PER_S = 50
_CIRCLING = 200
"""Tokens that no window can hold: a model that writes more goes round in circles, and is sure."""


@dataclass(frozen=True, slots=True)
class Heard:
    """Encoder output of one window, [1, half its frames, width].

    `frames` of them are sound, the rest is padding.
    """

    output: np.ndarray
    frames: int


@dataclass(frozen=True, slots=True)
class Aligned:
    """A token sequence laid on the audio."""

    chances: tuple[float, ...]
    """Probability of each text token, given the prompt and the tokens before it."""
    starts_s: tuple[float, ...]
    """Where each token begins in the window; one more entry: where the last one ends."""


def _view(array: np.ndarray) -> Any:
    """`array` as CTranslate2 takes it."""
    import ctranslate2

    return ctranslate2.StorageView.from_array(np.ascontiguousarray(array))


def threads(wanted: int = 0) -> int:
    """CPU threads to use: `wanted`, else one for each core this process may run on."""
    return wanted or max(1, min(8, len(os.sched_getaffinity(0))))


class Engine:
    """One model, ready to listen. English only: that is what the reading understands."""

    def __init__(
        self,
        model: Model,
        device: str = "auto",
        compute_type: str = "auto",
        lanes: int = 1,
        cpu_threads: int = 0,
    ) -> None:
        """Load checked weights. Raises ModelError when they can't be loaded.

        `lanes` threads may use the engine at once, each with `cpu_threads` of its own.
        """
        os.environ.setdefault("HF_HUB_OFFLINE", "1")
        import ctranslate2
        from faster_whisper import WhisperModel
        from faster_whisper.tokenizer import Tokenizer

        if device == "auto":
            device = "cuda" if ctranslate2.get_cuda_device_count() else "cpu"
        if compute_type == "auto":
            compute_type = "int8" if device == "cpu" else "int8_float16"
        self.device, self.compute_type = device, compute_type
        self._listen_s, self._beyond_s = model.listen_s, model.beyond_s
        self._timed = model.timed
        self.cpu_threads = threads(cpu_threads)
        try:
            self._whisper = WhisperModel(
                str(model.folder),
                device=device,
                compute_type=compute_type,
                cpu_threads=self.cpu_threads,
                num_workers=lanes,
                local_files_only=True,
            )
        except (RuntimeError, ValueError, OSError) as error:
            raise ModelError(
                f"model {model.name} can't be loaded from {model.folder} on {device} ({error})"
            ) from error
        self._model = self._whisper.model
        self._figure_tokens: tuple[int, ...] | None = None
        self._tokenizer = Tokenizer(
            self._whisper.hf_tokenizer,
            self._model.is_multilingual,
            task="transcribe",
            language="en",
        )

    def encode(self, samples: np.ndarray, whole: bool = False) -> Heard:
        """Listen to a window of at most 30 s, padded with silence as the model needs it.

        `whole`: padded to 30 s, which every model knows best and which takes longest.
        """
        from faster_whisper.audio import pad_or_trim

        features = self._whisper.feature_extractor(samples)
        frames = min(_LONGEST, -(-len(samples) * FRAMES_PER_S // RATE_HZ))
        wanted_s = max(self._listen_s, len(samples) / RATE_HZ + self._beyond_s)
        steps = math.ceil((_LONGEST if whole else wanted_s * FRAMES_PER_S) / _STEP)
        padded = pad_or_trim(features[..., :frames], min(_LONGEST, steps * _STEP))
        output = self._model.encode(_view(padded[np.newaxis]), to_cpu=True)
        return Heard(np.asarray(output), frames)

    def tokens(self, text: str) -> list[int]:
        return list(self._tokenizer.encode(text))

    def text(self, tokens: list[int] | tuple[int, ...]) -> str:
        return str(self._tokenizer.decode(list(tokens))).strip()

    def raw(self, token: int) -> str:
        """The text of one token, its leading space included."""
        return str(self._tokenizer.decode([token]))

    def context(self, phrases: tuple[str, ...], longest: int) -> tuple[int, ...]:
        """The last `longest` tokens of the phrases, the first phrases nearest to the speech.

        The model heeds the end of its prompt most. What is cut off is cut at its beginning, so
        that prompts are equally long: only such windows can be decoded together.
        """
        taken: list[int] = []
        for phrase in phrases:
            if len(taken) >= longest:
                break
            taken = [*self.tokens(" " + phrase), *taken]
        return tuple(taken[-longest:])

    def _start(self, context: tuple[int, ...]) -> list[int]:
        before = [self._tokenizer.sot_prev, *context] if context else []
        return [*before, *self._tokenizer.sot_sequence]

    def decode(
        self,
        heard: Sequence[Heard],
        contexts: Sequence[tuple[int, ...]],
        beam: int,
        greedy: float = 0.0,
        figures: bool = True,
    ) -> list[tuple[int, ...]]:
        """The likeliest text tokens of each window, after the prompt of each.

        With `greedy` below 0, each is read without a beam first, and what comes out is kept if its
        mean log probability is at least that: a beam finds nothing else where the model is sure,
        and every step of it copies all that was computed for the prompt, for each of its branches.
        Without `figures`, it must write numbers as words.
        """
        texts: list[tuple[int, ...]] = [()] * len(heard)
        unsure = list(range(len(heard)))
        if greedy < 0 and beam > 1:
            read = self._read(heard, contexts, 1, figures)
            texts = [tokens for tokens, _ in read]
            unsure = [
                at
                for at, (tokens, mean) in enumerate(read)
                if mean < greedy or len(tokens) > _CIRCLING
            ]
        left, told = [heard[at] for at in unsure], [contexts[at] for at in unsure]
        again = self._read(left, told, beam, figures)
        for at, (tokens, _) in zip(unsure, again, strict=True):
            texts[at] = tokens
        return texts

    def _read(
        self,
        heard: Sequence[Heard],
        contexts: Sequence[tuple[int, ...]],
        beam: int,
        figures: bool,
    ) -> list[tuple[tuple[int, ...], float]]:
        """Text tokens of each window, and the mean log probability of all that was written.

        Windows and prompts of the same length are decoded together: the weights are read once
        for all of them.
        """
        alike: dict[tuple[int, int], list[int]] = {}
        for at, (window, context) in enumerate(zip(heard, contexts, strict=True)):
            alike.setdefault((window.output.shape[1], len(context)), []).append(at)
        read: list[tuple[tuple[int, ...], float]] = [((), 0.0)] * len(heard)
        for (_, length), group in alike.items():
            for first in range(0, len(group), TOGETHER):
                some = group[first : first + TOGETHER]
                starts = [self._start(contexts[at]) for at in some]
                results = self._model.generate(
                    _view(np.concatenate([heard[at].output for at in some])),
                    starts
                    if self._timed
                    else [[*s, self._tokenizer.no_timestamps] for s in starts],
                    beam_size=beam,
                    max_length=min(448, length + 224),
                    suppress_tokens=[-1] if figures else [-1, *self._figures()],
                    return_scores=True,
                )
                for at, result in zip(some, results, strict=True):
                    tokens = result.sequences_ids[0]
                    text = tuple(token for token in tokens if token < self._tokenizer.eot)
                    read[at] = (text, result.scores[0])
        return read

    def _figures(self) -> tuple[int, ...]:
        """Every token that holds a figure."""
        if self._figure_tokens is None:
            vocabulary = self._whisper.hf_tokenizer.get_vocab()
            self._figure_tokens = tuple(
                sorted(
                    token
                    for piece, token in vocabulary.items()
                    if token < self._tokenizer.eot and any(sign.isdigit() for sign in piece)
                )
            )
        return self._figure_tokens

    def align(self, heard: Heard, context: tuple[int, ...], tokens: tuple[int, ...]) -> Aligned:
        """Where each token lies and how likely it is, after the nearest part of the prompt."""
        if not tokens:
            return Aligned((), (0.0,))
        result = self._lay(heard, context, tokens, heard.frames)
        starts = [0.0] * (len(tokens) + 1)
        seen = -1
        for token, frame in result.alignments:
            if token > seen:
                for index in range(seen + 1, min(token, len(tokens)) + 1):
                    starts[index] = frame / _TOKENS_PER_S
                seen = token
        for index in range(seen + 1, len(starts)):
            starts[index] = heard.frames / FRAMES_PER_S
        return Aligned(tuple(map(float, result.text_token_probs)), tuple(starts))

    def nobody(self, heard: Heard) -> float:
        """Chance that nobody speaks in the window: the model's own token for it, unprompted."""
        start = self._start(())
        (result,) = self._model.generate(
            _view(heard.output),
            [start],
            beam_size=1,
            max_length=len(start) + 1,
            return_no_speech_prob=True,
        )
        return float(result.no_speech_prob)

    def chances(
        self, heard: Heard, context: tuple[int, ...], tokens: tuple[int, ...]
    ) -> tuple[float, ...]:
        """How likely each token is, as `align` has it, without the work for its place.

        A text at a time: five of them in one go gave the same to the last digit and took 1.3 times
        as long, since each needs the encoder's output for itself.
        """
        if not tokens:
            return ()
        result = self._lay(heard, context, tokens, 2, median_filter_width=1)
        return tuple(map(float, result.text_token_probs))

    def _lay(
        self,
        heard: Heard,
        context: tuple[int, ...],
        tokens: tuple[int, ...],
        frames: int,
        **more: int,
    ) -> Any:
        near = self._start(context[-_NEAR:])
        return self._model.align(_view(heard.output), near, [list(tokens)], frames, **more)[0]

    def words(self, tokens: tuple[int, ...]) -> list[tuple[str, int, int]]:
        """(word, first token, token after the last): split at spaces, punctuation kept on."""
        pieces, groups = self._tokenizer.split_to_word_tokens(list(tokens))
        found: list[tuple[str, int, int]] = []
        at = 0
        for piece, group in zip(pieces, groups, strict=True):
            if found and not piece.startswith(" "):
                word, start, _ = found[-1]
                found[-1] = (word + piece, start, at + len(group))
            else:
                found.append((piece, at, at + len(group)))
            at += len(group)
        return [(word.strip(), start, end) for word, start, end in found if word.strip()]
