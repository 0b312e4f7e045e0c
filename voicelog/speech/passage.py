"""Windows read twice: decode, compare, choose, align, and doubt what doesn't hold.

Any number of windows, of one recording or of many, is read in one go, and each of them
exactly as it would be read alone.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from voicelog.heard import RATE_HZ, Suspicion, Word
from voicelog.speech import expected, recheck
from voicelog.speech.critical import differences, same_words
from voicelog.speech.repetition import over_again, says_twice, too_fast, unrepeated
from voicelog.speech.voice import FRAME

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from concurrent.futures import ThreadPoolExecutor

    from voicelog.speech.engine import Aligned, Engine, Heard
    from voicelog.speech.settings import Profile, Recheck
    from voicelog.speech.voice import Window

T = TypeVar("T")
R = TypeVar("R")

_PAUSE_FRAMES = 4
"""32 ms frames without speech that make a pause inside a number."""
_PAUSE_CHANCE = 0.35
_REST_FRAMES, _VOICE_FRAMES = 25, 5
"""A rest of 0.8 s behind the last word and 0.16 s of voice behind that: somebody speaks on."""
_SHORT_S = 4.5
"""Only in windows shorter than this was a word written again that was said once."""
_MOST_TOKENS = 200
"""A longer text is laid on no audio."""
_LEAST_SHARE = 0.8
"""A reading with fewer of the words of another than this left something out."""
_CLAUSE = re.compile(r"[^.;!?,]+[.;!?,]*\s*")


@dataclass(frozen=True, slots=True)
class Ears:
    """The models that listen to a window, and how."""

    first: Engine
    second: tuple[tuple[str, Engine | None], ...]
    """Second readings by name; None where the first model reads once more in another way."""
    profile: Profile
    rule: Recheck
    beside: ThreadPoolExecutor | None = None
    """Where models work side by side; without it, one after the other."""

    @property
    def engines(self) -> tuple[Engine, ...]:
        """Every model, the first one first."""
        return (self.first, *(engine for _, engine in self.second if engine is not None))

    def each(self, work: Callable[[T], R], items: Sequence[T]) -> list[R]:
        """Do `work` for every model, an item each."""
        return [*(self.beside.map if self.beside else map)(work, items)]


@dataclass(frozen=True, slots=True)
class Piece:
    """A window, with the recording that it is cut from."""

    window: Window
    samples: np.ndarray
    chances: np.ndarray
    """Voice probabilities of the whole recording."""
    phrases: tuple[str, ...] = ()
    terms: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    """Of its vocabulary, like the phrases."""
    heard: tuple[Heard, ...] = ()
    """What each model took in of it, in the order of `Ears.engines`, where that was done before."""


@dataclass(frozen=True, slots=True)
class Passage:
    """What was read in one window."""

    words: tuple[Word, ...] = ()
    suspicions: tuple[Suspicion, ...] = ()
    second: str = ""
    """What another reading has; none where only one model reads, and always the same."""

    @property
    def text(self) -> str:
        """The words as one text."""
        return " ".join(word.text for word in self.words)


@dataclass(frozen=True, slots=True)
class _Listener:
    """One model with what it heard of a window and the prompt in its own tokens."""

    engine: Engine
    sound: np.ndarray
    heard: Heard
    context: tuple[int, ...]
    _laid: dict[str, Aligned] = field(default_factory=dict)
    _scores: dict[str, float] = field(default_factory=dict)

    def laid(self, text: str) -> Aligned:
        """`text` laid on the audio."""
        if text not in self._laid:
            tokens = tuple(self.engine.tokens(" " + text))
            self._laid[text] = self.engine.align(self.heard, self.context, tokens)
        return self._laid[text]

    def score(self, text: str) -> float:
        """Sum of the log probabilities (nats) of the tokens of `text`; -inf when it is too long."""
        if text not in self._scores:
            self._scores[text] = self._score(text)
        return self._scores[text]

    def _score(self, text: str) -> float:
        tokens = tuple(self.engine.tokens(" " + text))
        if len(tokens) > _MOST_TOKENS:
            return -math.inf
        laid = self._laid.get(text)
        chances = laid.chances if laid else self.engine.chances(self.heard, self.context, tokens)
        return sum(math.log(max(chance, 1e-10)) for chance in chances)


class _Scores:
    """Scores of wordings by every model that heard the window."""

    def __init__(self, ears: Ears, listeners: Sequence[_Listener]) -> None:
        self._ears, self._listeners = ears, listeners

    def score(self, text: str) -> float:
        scores = self._ears.each(lambda listener: listener.score(text), self._listeners)
        return sum(scores) / len(scores)


def take_in(ears: Ears, pieces: Sequence[Piece]) -> list[Piece]:
    """The same windows with what every model hears in them: all that needs no vocabulary."""
    sounds = [piece.window.cut(piece.samples) for piece in pieces]
    heard = ears.each(lambda engine: [*map(engine.encode, sounds)], ears.engines)
    by_window = zip(*heard, strict=True)
    return [replace(piece, heard=each) for piece, each in zip(pieces, by_window, strict=True)]


def read(ears: Ears, pieces: Sequence[Piece], longest: int) -> list[Passage]:
    """Read each window; `longest` is the most tokens of a prompt."""
    profile, engines = ears.profile, ears.engines

    def listen(at: int) -> tuple[list[_Listener], list[str]]:
        engine, listeners = engines[at], []
        for piece in pieces:
            sound = piece.window.cut(piece.samples)
            heard = piece.heard[at] if piece.heard else engine.encode(sound)
            context = engine.context(piece.phrases, longest)
            listeners.append(_Listener(engine, sound, heard, context))
        return listeners, _texts(listeners, profile)

    heard = ears.each(listen, range(len(engines)))
    listeners, (first, texts), partners = [each for each, _ in heard], heard[0], iter(heard[1:])
    readings = [texts]
    for name, engine in ears.second:
        if engine is None:
            others = _texts(first, profile, prompted=name != "unprompted", figures=name != "words")
        else:
            _, others = next(partners)
            lost = [at for at, text in enumerate(others) if _left_out(text, texts[at])]
            again = _texts([first[at] for at in lost], profile, prompted=False)
            for at, text in zip(lost, again, strict=True):
                others[at] = text
        readings.append(others)
    return [
        Passage() if _nobody(ears, own) else _judged(ears, piece, own, said)
        for piece, own, said in zip(
            pieces, zip(*listeners, strict=True), zip(*readings, strict=True), strict=True
        )
    ]


def _texts(
    listeners: Sequence[_Listener], how: Profile, prompted: bool = True, figures: bool = True
) -> list[str]:
    """What each of them (all of one model) reads.

    Where the text of a short window says something twice at once, the window is read again with
    all the silence behind it that the model can take: only then does it know that the speech
    has ended, and "three" is not written as "three three".
    """
    if not listeners:
        return []
    engine = listeners[0].engine
    contexts = [each.context if prompted else () for each in listeners]

    def read(heard: Sequence[Heard], told: Sequence[tuple[int, ...]]) -> list[str]:
        read = engine.decode(heard, told, how.beam, how.greedy, figures=figures)
        return list(map(engine.text, read))

    texts = read([each.heard for each in listeners], contexts)
    twice = [
        at
        for at, text in enumerate(texts)
        if len(listeners[at].sound) < _SHORT_S * RATE_HZ and says_twice(text)
    ]
    if twice:
        longer = [engine.encode(listeners[at].sound, whole=True) for at in twice]
        for at, text in zip(twice, read(longer, [contexts[at] for at in twice]), strict=True):
            texts[at] = text
    return [unrepeated(text) for text in texts]


def _left_out(text: str, other: str) -> bool:
    """Whether `text` lacks a good part of what `other` says."""
    return len(text.split()) < _LEAST_SHARE * len(other.split())


def _judged(
    ears: Ears, piece: Piece, listeners: Sequence[_Listener], readings: Sequence[str]
) -> Passage:
    """One window: the best of its readings, and what doesn't hold in it."""
    first, scores = listeners[0], _Scores(ears, listeners)
    kept = _best(readings, first, scores)
    text = _spoken(kept, first, piece.phrases, ears.rule.leak)
    if not text:
        return Passage()
    words = _words(first, text, piece.window)
    text = " ".join(word.text for word in words)
    wording = expected.heard(
        text,
        piece.terms,
        lambda start, end: _least(words, start, end),
        scores,
        ears.rule,
        ears.profile.expected,
        piece.units,
    )
    if wording.text != text:
        words = _words(first, wording.text, piece.window)
        text = " ".join(word.text for word in words)
    evidence = recheck.Evidence(
        tuple(other for other in dict.fromkeys(readings) if other != kept),
        lambda start, end: _least(words, start, end),
        lambda start, end: _paused(_within(words, start, end), piece.chances),
        lambda start, end: all(same_words(text, start, end, other) for other in readings),
    )
    known = (*wording.asked, *unwritten(words, text, piece.chances))
    doubts = recheck.suspicions(text, evidence, scores, ears.rule, ears.profile.rivals, known)
    same = kept if len(listeners) > 1 else ""  # a model that agrees with itself proves little
    return Passage(words, doubts, next(iter(evidence.others), same))


def _nobody(ears: Ears, listeners: Sequence[_Listener]) -> bool:
    """Whether what the voice detector took for speech is none: music, a machine that sings.

    A reading out of nothing is made of the prompt's words or of stock phrases.
    """
    chances = ears.each(lambda listener: listener.engine.nobody(listener.heard), listeners)
    return sum(chances) / len(chances) >= ears.rule.nobody


def _best(readings: Sequence[str], first: _Listener, scores: _Scores) -> str:
    """The reading that all models together find likeliest, a word at a time.

    Readings that agree in all that is critical need no scoring: the first is kept. One that
    leaves out a good part of what another heard is not kept: a lost value is worse. One that says
    the whole of another over again is not kept either ("12, 12, 12" against "twelve"): words that
    repeat are likely ones, whatever was said. It differs, so what is kept is asked about. One with
    more words than anybody can say in that time is only kept where all are like that.
    """
    one, *others = readings
    rivals = [one, *(other for other in dict.fromkeys(others) if differences(one, other))]
    seconds = len(first.sound) / RATE_HZ
    rivals = [each for each in rivals if not too_fast(each, seconds)] or rivals
    rivals = [each for each in rivals if not any(over_again(each, other) for other in rivals)]
    longest = max(len(each.split()) for each in rivals)
    rivals = [each for each in rivals if len(each.split()) >= _LEAST_SHARE * longest]
    if len(rivals) == 1:
        return rivals[0]
    for text in rivals:
        if len(first.engine.tokens(text)) < _MOST_TOKENS:
            first.laid(text)  # of the one that is kept, the times are wanted too
    return max(rivals, key=lambda text: scores.score(text) / max(1, len(text.split())))


def _spoken(text: str, first: _Listener, phrases: tuple[str, ...], leak: float) -> str:
    """`text` without clauses that the prompt put there and the audio doesn't hold.

    A clause whose words all stand in one phrase of the prompt is scored without the prompt.
    """
    told = [_plain(phrase) for phrase in phrases]
    suspects = [
        match.span()
        for match in _CLAUSE.finditer(text)
        if len(_plain(match[0]).split()) >= 2 and any(_plain(match[0]) in each for each in told)
    ]
    if not suspects:
        return text
    tokens = tuple(first.engine.tokens(" " + text))
    given = first.engine.chances(first.heard, (), tokens)
    ends, at = [], -1
    for token in tokens:
        at += len(first.engine.raw(token))
        ends.append(at)
    kept = text
    for start, end in reversed(suspects):
        chances = [chance for chance, stop in zip(given, ends, strict=True) if start < stop <= end]
        mean = sum(math.log(max(chance, 1e-10)) for chance in chances) / max(1, len(chances))
        if mean < leak:
            kept = kept[:start] + kept[end:]
    return kept.strip()


def _plain(text: str) -> str:
    return " ".join(re.findall(r"[\w'-]+", text.casefold()))


def _words(first: _Listener, text: str, window: Window) -> tuple[Word, ...]:
    """The words of `text` as they lie on the audio."""
    tokens = tuple(first.engine.tokens(" " + text))
    words, aligned = [], first.laid(text)
    for word, start, end in first.engine.words(tokens):
        chances = aligned.chances[start:end]
        begin, finish = aligned.starts_s[start], aligned.starts_s[end]
        words.append(
            Word(
                word,
                round(window.time_s(begin), 2),
                round(window.time_s(max(begin, finish)), 2),
                round(float(np.exp(np.mean(np.log(np.maximum(chances, 1e-10))))), 4),
            )
        )
    return tuple(words)


def _within(words: tuple[Word, ...], start: int, end: int) -> list[Word]:
    found, at = [], 0
    for word in words:
        if at < end and at + len(word.text) > start:
            found.append(word)
        at += len(word.text) + 1
    return found


def _least(words: tuple[Word, ...], start: int, end: int) -> float:
    """Least probability of the words in a stretch of the text."""
    return min((word.probability for word in _within(words, start, end)), default=1.0)


def unwritten(words: Sequence[Word], text: str, chances: np.ndarray) -> tuple[Suspicion, ...]:
    """The last word, where the voice rests inside it and then speaks on.

    A model that has written all that it knows lays its last word on the rest of the sound.
    """
    last = words[-1]
    voiced = chances[int(last.start_s * RATE_HZ / FRAME) : int(last.end_s * RATE_HZ / FRAME) + 1]
    rest = after = 0
    for chance in voiced:
        if chance < _PAUSE_CHANCE:
            rest, after = (rest if after == 0 else 0) + 1, 0
        elif rest >= _REST_FRAMES:
            after += 1
            if after >= _VOICE_FRAMES:
                start = len(text) - len(last.text)
                return (Suspicion(start, len(text), (), 0.0, recheck.UNWRITTEN),)
        else:
            rest = 0
    return ()


def _paused(words: list[Word], chances: np.ndarray) -> bool:
    """Whether the voice rests for about an eighth of a second inside these words."""
    if not words:
        return False
    first = int(words[0].start_s * RATE_HZ / FRAME) + 3
    last = int(words[-1].end_s * RATE_HZ / FRAME) - 3
    rest = 0
    for chance in chances[first:last]:
        rest = rest + 1 if chance < _PAUSE_CHANCE else 0
        if rest >= _PAUSE_FRAMES:
            return True
    return False
