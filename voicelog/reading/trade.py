"""models_config/terms.jsonl: what the whole trade says, whatever the card."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from voicelog.config import load_lines
from voicelog.errors import ConfigError
from voicelog.reading.words import tokenise, word_key


@dataclass(frozen=True, slots=True)
class TradeTerm:
    """A line of terms.jsonl: spaCy's pattern format, `pattern` a phrase or a list of tokens."""

    label: str
    id: str
    pattern: str | tuple[dict[str, Any], ...]


@cache
def trade_terms() -> tuple[TradeTerm, ...]:
    """The trade's vocabulary. Raises ConfigError naming the line's content."""
    terms = []
    for row in load_lines("terms.jsonl"):
        pattern = row.get("pattern")
        if set(row) != {"label", "id", "pattern"} or not isinstance(pattern, (str, list)):
            raise ConfigError(f"terms.jsonl: expected label, id and pattern, got {row}")
        terms.append(
            TradeTerm(
                row["label"], row["id"], pattern if isinstance(pattern, str) else tuple(pattern)
            )
        )
    return tuple(terms)


@cache
def trade_phrases() -> tuple[tuple[str, str], ...]:
    """(canonical, phrase) of each part of the trade's vocabulary that is a plain phrase."""
    return tuple(
        (term.id, term.pattern)
        for term in trade_terms()
        if isinstance(term.pattern, str) and term.label == "PART"
    )


@cache
def faults() -> frozenset[str]:
    """Words that say of a thing what is wrong with it ("broken", "missing")."""
    return frozenset(
        term.pattern.lower()
        for term in trade_terms()
        if term.label == "FAULT" and isinstance(term.pattern, str) and " " not in term.pattern
    )


@cache
def conditions() -> frozenset[str]:
    """Keys of the words that name a fault by themselves ("leak", "slack")."""
    return frozenset(
        word_key(term.pattern)
        for term in trade_terms()
        if term.label == "CONDITION" and isinstance(term.pattern, str) and " " not in term.pattern
    )


@cache
def _fault_ids() -> dict[str, str]:
    """Key of a word that tells of a fault -> the fault."""
    told = (each for each in trade_terms() if each.label in {"FAULT", "CONDITION"})
    return {
        word_key(each.pattern): each.id
        for each in told
        if isinstance(each.pattern, str) and " " not in each.pattern
    }


@cache
def faults_in(names: tuple[str, ...]) -> frozenset[str]:
    """The faults that `names` tell of: a crack for "treads cracked"."""
    keys = {token.key for name in names for token in tokenise(name)}
    return frozenset(fault for key, fault in _fault_ids().items() if key in keys)
