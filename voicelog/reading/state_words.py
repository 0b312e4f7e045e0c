"""State words: words that say how a thing is, from the trade and from everyday verdicts."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Literal

from voicelog.reading.talk import talk
from voicelog.reading.trade import trade_terms
from voicelog.reading.words import verb_stem, word_key

if TYPE_CHECKING:
    from collections.abc import Mapping

Polarity = Literal["pass", "fail"]


@cache
def verdicts() -> Mapping[str, Polarity]:
    words = talk().remarks
    return {**dict.fromkeys(words.passed, "pass"), **dict.fromkeys(words.failed, "fail")}


@cache
def trade(label: str) -> Mapping[str, str]:
    """Word key -> canonical name of one label of models_config/terms.jsonl; a fault is a verb or
    a property, so its own word is the key: "sticks" is no plural of a stick."""
    key = str.lower if label == "FAULT" else word_key
    return {
        key(term.pattern): term.id
        for term in trade_terms()
        if term.label == label and isinstance(term.pattern, str) and " " not in term.pattern
    }


@cache
def state_words() -> frozenset[str]:
    """Words that say by themselves how a thing is ("chafed", "secure"), as they are said."""
    return frozenset(trade("FAULT")) | frozenset(trade("GOOD")) | frozenset(verdicts())


@cache
def state_phrases() -> Mapping[str, tuple[str, Polarity]]:
    """The same, said in several words ("worn out"): what carries it, and its polarity."""
    words = talk().remarks
    return {
        **dict.fromkeys(words.verdict_pass, ("verdict", "pass")),
        **dict.fromkeys(words.verdict_fail, ("verdict", "fail")),
        **dict.fromkeys(words.state_pass, ("state", "pass")),
        **dict.fromkeys(words.state_fail, ("state", "fail")),
    }


@cache
def phrase_heads() -> frozenset[str]:
    """First words of the phrases."""
    return frozenset(phrase.split()[0] for phrase in state_phrases())


@cache
def left_undone() -> frozenset[str]:
    """Words that say in one that something was not done: "unchecked", "untested"."""
    return frozenset(f"un{word}" for word in talk().remarks.undone)


@cache
def work_stems() -> frozenset[str]:
    """Stems of the verbs that tell of work, which was not done behind a "didn't"."""
    return frozenset(map(verb_stem, talk().remarks.work))


@cache
def telling() -> frozenset[str]:
    """Every word, or key of one, that says something by itself: most words of a note don't."""
    said = talk().remarks
    names = (trade(label) for label in ("GOOD", "REPAIRED", "FAULT", "CONDITION"))
    words = (
        said.no, said.not_, said.undone, said.undone_verbs, said.light, said.heavy, said.functions,
        said.exactly, said.sounds_like_pass, said.sounds_like_fail, verdicts(), left_undone(),
        *names,
    )  # fmt: skip
    return frozenset({"free", "clear", "short", "get", "got", "bad"}.union(*words))
