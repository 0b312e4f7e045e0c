"""Upkeep: the care that a thing was given tells how it is only where its label asks for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.talk import talk

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
