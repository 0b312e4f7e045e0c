"""Mapping: which value belongs to which field.

    reading -> events -> repair -> placing -> settle -> findings -> Draft

`draft` is what the chain calls, `agreed`, `counted_alike` and `compared` with the draft of a second
reading. Its values carry the doubts that reading and mapping had; `voicelog.doubt` adds those that
come from the audio and from the numbers themselves.
"""

from voicelog.mapping.drafting import draft
from voicelog.mapping.second_reading import agreed, compared, counted_alike

__all__ = ["agreed", "compared", "counted_alike", "draft"]
