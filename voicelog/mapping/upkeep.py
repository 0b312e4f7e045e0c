"""Upkeep: the care that a thing was given tells how it is only where its label asks for it, and
that it was put in tells nothing of what it does."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.reading.talk import talk
from voicelog.reading.words import verb_stem

if TYPE_CHECKING:
    from voicelog.objects import Field, Mention


def is_all(mention: Mention, field: Field) -> bool:
    """Whether a remark tells of a thing only that it was cared for, and its check asks something
    else: "greased the limit switch" where the switch has to trip."""
    wanted = talk().remarks.upkeep.get(mention.text.lower().split()[-1])
    if wanted is None:
        return False
    words = " ".join((*field.say, field.label)).lower().split()
    return not any(word.startswith(tuple(wanted)) for word in words)


def is_put_in(mention: Mention, wanted: tuple[str, ...] | None, field: Field) -> bool:
    """Whether a remark tells of a thing only that it was put in or set, and its check asks what it
    does, or whether it is on: "fitted a new valve" where the valve has to open."""
    word = mention.text.lower()
    if wanted is None or mention.value != "pass" or mention.negated:
        return False
    if word not in talk().remarks.put_in or verb_stem(word) in wanted:
        return False
    return wanted[-1] in _TURNED or wants_a_deed(field, wanted)


_TURNED = frozenset(map(verb_stem, ("closed", "down", "off", "open", "out", "shut", "up")))


def wants_a_deed(field: Field, wanted: tuple[str, ...]) -> bool:
    """Whether a label tells what its thing has to do: "Bar returns", "Stop buttons work"."""
    words = field.label.lower().split()
    for before, word in pairwise(("", *words)):
        if verb_stem(word) == wanted[0]:
            many = before.endswith("s") and before not in talk().everyday.verbs  # not "runs clear"
            if word.endswith("s") or (many and not word.endswith("ed")):
                return True
    return False
