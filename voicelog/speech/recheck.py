"""The second look: does the audio bear out every word that a value hangs on?

Probabilities of words are no guard: wrong values reach 1.0. Two things are. A second reading,
by another model or without the prompt, that differs in something critical; and the score of
a rival wording (fifteen against fifty, "1, 74" against 174) laid on the same audio, with the
same prompt in front. Neither corrects anything: each is a reason to ask. The thresholds were
fitted on one part of a development set and are data (speech.toml).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from voicelog.heard import Suspicion
from voicelog.speech import rivals
from voicelog.speech.critical import differences, other_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from voicelog.speech.rivals import Rival
    from voicelog.speech.settings import Recheck

READ_OTHERWISE = "a second reading of the same sound differs"
SOUNDS_LIKE = "another wording fits the sound about as well"
BY_THE_CARD = "a word of the card stands here for one that sounds like it"
UNCLEAR = "words that can't be told from others by ear"
UNLIKELY = "a word beside it fits the sound badly"
UNWRITTEN = "somebody speaks on behind this word, and nothing is written of it"
OTHER_WORDS = "a second reading has other words here"
"""For words that change no value by themselves; a remark is made of them."""


class Scorer(Protocol):
    """Scores wordings on the audio of one window."""

    def score(self, text: str) -> float:
        """Sum of the log probabilities (nats) of the words of `text`, mean over the models."""
        ...


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known of one window's text beside the text itself."""

    others: tuple[str, ...]
    """Other readings of the same audio."""
    least_chance: Callable[[int, int], float]
    """Least probability of the tokens in a stretch of the text."""
    paused: Callable[[int, int], bool]
    """Whether there is a pause inside a stretch of the text."""
    agreed: Callable[[int, int], bool] = lambda _start, _end: False
    """Whether every other reading has the same words as a stretch of the text."""


def suspicions(
    text: str,
    evidence: Evidence,
    scorer: Scorer,
    rule: Recheck,
    most: int,
    known: Sequence[Suspicion] = (),
) -> tuple[Suspicion, ...]:
    """Stretches of `text` that the audio doesn't bear out, with those that are `known` already.

    At most `most` rivals are scored, those of the words first that the model was least sure of.
    """
    found = [*known, *_read_otherwise(text, evidence.others)]
    unclear = rivals.doubtful(text, evidence.agreed)
    found += [Suspicion(start, end, (), 0.0, UNCLEAR) for start, end in unclear]
    found += _unlikely(text, evidence, rule)
    left = [rival for rival in rivals.of(text) if not _covered(rival, found)]
    worth = [rival for rival in left if _worth_scoring(rival, evidence, rule)]
    if worth:
        kept = scorer.score(text)
        worth.sort(key=lambda rival: evidence.least_chance(rival.start, rival.end))
        for rival in worth[:most]:
            margin = kept - scorer.score(rival.applied(text))
            if margin < _threshold(rival, evidence, rule):
                found.append(
                    Suspicion(
                        rival.start,
                        rival.end,
                        (rival.other.strip(),),
                        round(margin, 2),
                        SOUNDS_LIKE,
                    )
                )
    loose = {span for other in evidence.others for span in other_words(text, other)}
    found += [
        Suspicion(start, end, (), 0.0, OTHER_WORDS)
        for start, end in loose
        if not any(each.start < end and start < each.end for each in found)
    ]
    return _joined(found)


def _read_otherwise(text: str, others: Sequence[str]) -> Iterator[Suspicion]:
    """Where another reading contradicts `text`, however the sound scores the two.

    A model that is sure of itself is no judge: where it found its own words likelier by 5 nats and
    more, they were wrong in 24 of 47 places (352 notes in voices kept for measuring, clean to 15 dB
    with reverb).
    """
    for other in others:
        for differs in differences(text, other):
            if differs.start < differs.end:
                said = other[differs.other_start : differs.other_end]
                alternatives = (said,) if said else ()
                yield Suspicion(differs.start, differs.end, alternatives, 0.0, READ_OTHERWISE)


def _unlikely(text: str, evidence: Evidence, rule: Recheck) -> Iterator[Suspicion]:
    """A word that the audio hardly bears out puts its neighbours in doubt with it.

    Not so one that the other readings have in the same place: two models rarely share a slip.
    """
    spans = [match.span() for match in re.finditer(r"\S+", text)]
    for at, (start, end) in enumerate(spans):
        if evidence.least_chance(start, end) < rule.unlikely and not evidence.agreed(start, end):
            first, last = spans[max(0, at - 1)][0], spans[min(len(spans) - 1, at + 1)][1]
            yield Suspicion(first, last, (), 0.0, UNLIKELY)


def _covered(rival: Rival, found: Iterable[Suspicion]) -> bool:
    return any(each.start < rival.end and rival.start < each.end for each in found)


def _worth_scoring(rival: Rival, evidence: Evidence, rule: Recheck) -> bool:
    """Scoring costs time; a figure that the model was sure of has no near rival but a teen, and
    where it was certain not even that one. One that all readings have is weighed against the
    nearest only.
    """
    chance = evidence.least_chance(rival.start, rival.end)
    if rival.kind in ("teen", "opposite"):
        return chance < rule.certain
    if rival.other == "not" or "serviceable" in rival.other:
        return True
    if rival.kind in ("number", "further", "letter") and evidence.agreed(rival.start, rival.end):
        return rival.kind != "further" and chance < rule.shared
    if chance < rule.sure:
        return True
    return rival.kind == "group" and evidence.paused(rival.start, rival.end)


def _threshold(rival: Rival, evidence: Evidence, rule: Recheck) -> float:
    if rival.kind in ("teen", "opposite") or rival.other == "not" or "serviceable" in rival.other:
        return rule.teen
    if rival.kind in ("number", "further", "letter"):
        return rule.near
    if rival.kind == "group" and evidence.paused(rival.start, rival.end):
        return rule.paused
    return rule.other


def _joined(found: Sequence[Suspicion]) -> tuple[Suspicion, ...]:
    """Overlapping suspicions as one, its alternatives in the order of their margins."""
    joined: list[Suspicion] = []
    for each in sorted(found, key=lambda one: (one.start, one.end)):
        if joined and each.start < joined[-1].end:
            last = joined.pop()
            near, far = sorted((last, each), key=lambda one: one.margin)
            joined.append(
                Suspicion(
                    last.start,
                    max(last.end, each.end),
                    tuple(dict.fromkeys((*near.alternatives, *far.alternatives))),
                    near.margin,
                    near.why,
                )
            )
        else:
            joined.append(each)
    return tuple(joined)
