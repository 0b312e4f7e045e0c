"""models_config/talk.toml: the words of everyday talk, verdicts, repairs and asides."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from voicelog import config
from voicelog.errors import ConfigError
from voicelog.reading.words import lowered

if TYPE_CHECKING:
    from collections.abc import Iterator

_GAP = r"[\s,.;:!…-]+"
"""What may stand between the words of a procedure phrase as a recogniser writes it."""


@dataclass(frozen=True, slots=True)
class Everyday:
    """Words that are neither names nor values."""

    ordinary: frozenset[str]
    plain: frozenset[str]
    common: frozenset[str]
    verbs: frozenset[str]
    states: frozenset[str]
    orders: frozenset[str]
    taken_off: frozenset[str]
    put_on: frozenset[str]
    openers: frozenset[str]
    excepting: frozenset[str]
    beside: frozenset[str]
    worked: frozenset[str]
    no_work: frozenset[str]
    going_by: frozenset[str]
    jobs: frozenset[str]
    seen_to: frozenset[str]
    brought: frozenset[str]
    no_mending: frozenset[str]


@dataclass(frozen=True, slots=True)
class RemarkWords:
    """Words of remarks, by what they do."""

    passed: frozenset[str]
    failed: frozenset[str]
    verdict_pass: frozenset[str]
    verdict_fail: frozenset[str]
    state_pass: frozenset[str]
    state_fail: frozenset[str]
    undone: frozenset[str]
    undone_verbs: frozenset[str]
    work: frozenset[str]
    not_yet: frozenset[str]
    put_off: frozenset[str]
    sorts: frozenset[str]
    functions: frozenset[str]
    exactly: frozenset[str]
    stressed: frozenset[str]
    no: frozenset[str]
    not_: frozenset[str]
    ends_no: frozenset[str]
    cut_un: frozenset[str]
    tellings: frozenset[str]
    told_about: frozenset[str]
    stop: frozenset[str]
    light: frozenset[str]
    heavy: frozenset[str]
    seen: frozenset[str]
    present: frozenset[str]
    where: frozenset[str]
    amounts: frozenset[str]
    beyond: frozenset[str]
    replies: frozenset[str]
    vague: frozenset[str]
    poorly: frozenset[str]
    staying: frozenset[str]
    carrying: frozenset[str]
    some: frozenset[str]
    particles: frozenset[str]
    put_in: frozenset[str]
    fittings: frozenset[str]
    closures: frozenset[str]
    trips: frozenset[str]
    either_way: frozenset[str]
    handed_over: frozenset[str]
    sounds_like_pass: frozenset[str]
    sounds_like_fail: frozenset[str]
    sounds_like_no: frozenset[str]
    kin: dict[str, str]
    opposites: dict[str, str]
    same: dict[str, str]
    alike: dict[str, list[str]]
    upkeep: dict[str, list[str]]


@dataclass(frozen=True, slots=True)
class MoodWords:
    """Words that tell whether what is told is so; blanks stand between those of a phrase."""

    adverbs: frozenset[str]
    shown: frozenset[str]
    wanting: frozenset[str]
    wishing: frozenset[str]
    objects: frozenset[str]
    subjects: frozenset[str]
    conditions: frozenset[str]
    until: frozenset[str]
    so_long: frozenset[str]
    seeking: frozenset[str]
    asking: frozenset[str]
    asked: frozenset[str]
    hearsay: frozenset[str]
    calling: frozenset[str]
    refusing: frozenset[str]
    far_from: frozenset[str]
    nearly: frozenset[str]
    partly: frozenset[str]
    for_now: frozenset[str]
    for_later: frozenset[str]
    no_time: frozenset[str]
    held_up: frozenset[str]
    no_means: frozenset[str]
    easily: frozenset[str]
    of_it: frozenset[str]


@dataclass(frozen=True, slots=True)
class Talk:
    """The shape of talk.toml."""

    everyday: Everyday
    remarks: RemarkWords
    mood: MoodWords
    procedure: dict[str, tuple[str, ...]]
    asides: dict[str, tuple[str, ...]]
    quoted: dict[str, tuple[str, ...]]
    spares: dict[str, tuple[str, ...]]
    about: dict[str, tuple[str, ...]]
    tries: dict[str, tuple[str, ...]]
    reserved: dict[str, tuple[str, ...]]
    reserved_next: dict[str, tuple[str, ...]]
    reserved_numbers: dict[str, tuple[str, ...]]
    taken_back: dict[str, tuple[str, ...]]
    mended: dict[str, tuple[str, ...]]


@cache
def talk() -> Talk:
    """The words of this installation. Raises ConfigError."""
    return config.load(Talk, "talk.toml")


@cache
def everyday_words() -> frozenset[str]:
    """Words of everyday talk: they name nothing, and nobody misses them."""
    words = talk().everyday
    return words.plain | words.ordinary | words.verbs | words.common


@dataclass(frozen=True, slots=True)
class Phrases:
    """Many expressions as one; `kinds` tells what the group that matched stands for."""

    pattern: re.Pattern[str]
    """It knows lower case only: what tells case apart can be skipped by its first letter."""
    kinds: tuple[str, ...]

    def find(self, text: str, start: int = 0, end: int | None = None) -> Iterator[re.Match[str]]:
        """Where the expressions stand in `text`, in any case; a match's own text is lowered."""
        return self.pattern.finditer(lowered(text), start, len(text) if end is None else end)

    def kind(self, match: re.Match[str]) -> str:
        """What the words of `match` do."""
        group = match.lastgroup or ""  # the outermost group, which closes last
        return self.kinds[int(group[1:])]


def _compiled(section: dict[str, tuple[str, ...]], gap: str, where: str) -> Phrases:
    kinds = tuple(section)
    joined = ["|".join(expressions).replace(" ", gap) for expressions in section.values()]
    parts = "|".join(f"(?P<_{index}>{part})" for index, part in enumerate(joined))
    try:
        # the look behind stands once, in front: at most places of a text it is all that is tried
        return Phrases(re.compile(rf"(?<![\w'])(?:{parts})(?!\w)"), kinds)
    except re.error as fault:
        for kind, part in zip(kinds, joined, strict=True):  # only now: it takes as long again
            try:
                re.compile(part)
            except re.error as error:
                raise ConfigError(f"talk.toml, [{where}] {kind}: {error}") from error
        raise ConfigError(f"talk.toml, [{where}]: {fault}") from fault


@cache
def procedure_phrases() -> Phrases:
    """The procedure words as one expression. Raises ConfigError naming the act."""
    return _compiled(talk().procedure, _GAP, "procedure")


@cache
def aside_openers() -> Phrases:
    """The openers of asides as one expression. Raises ConfigError naming the kind."""
    return _compiled(talk().asides, r",?\s+", "asides")


@cache
def quoting_words() -> Phrases:
    """Words behind what they quote, as one expression. Raises ConfigError."""
    return _compiled(talk().quoted, r"\s+", "quoted")


@cache
def spare_words() -> Phrases:
    """Words behind a count of what lies ready, as one expression. Raises ConfigError."""
    return _compiled(talk().spares, r"\s+", "spares")


@cache
def other_tries() -> Phrases:
    """Words that tell of another try, as one expression. Raises ConfigError."""
    return _compiled(talk().tries, r"\s+", "tries")


@cache
def reserved_words() -> Phrases:
    """Words that take a part of a good state back, as one expression. Raises ConfigError."""
    return _compiled(talk().reserved, r"\s+", "reserved")


@cache
def reserved_next() -> Phrases:
    """Words of the clause behind what passes that tell what is not so. Raises ConfigError."""
    return _compiled(talk().reserved_next, r"\s+", "reserved_next")


@cache
def reserved_numbers() -> Phrases:
    """Words that take a number back, or a part of it, as one expression. Raises ConfigError."""
    return _compiled(talk().reserved_numbers, r"\s+", "reserved_numbers")


@cache
def taken_back() -> Phrases:
    """Words that take back what was said before, as one expression. Raises ConfigError."""
    return _compiled(talk().taken_back, r"\s+", "taken_back")


@cache
def mended_words() -> Phrases:
    """Words behind a fault that tell of its mending, as one expression. Raises ConfigError."""
    return _compiled(talk().mended, r"\s+", "mended")
