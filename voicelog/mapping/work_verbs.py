"""Work verbs: how a piece of talk begins that tells what was done to a thing.

The verbs are [everyday] `worked`, `no_work` and `no_mending` of models_config/talk.toml.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterable


@cache
def work() -> re.Pattern[str]:
    """Matches where work is told: "and then I topped", "wound", but not "looked"."""
    return _verbs(talk().everyday.no_work)


@cache
def mending() -> re.Pattern[str]:
    """The same where it may have put a fault right: not "reported"."""
    words = talk().everyday
    return _verbs(words.no_work | words.no_mending)


@cache
def act() -> re.Pattern[str]:
    """The same for whatever somebody did: "tried", too."""
    return _verbs(())


def _verbs(other_than: Iterable[str]) -> re.Pattern[str]:
    other, done = (
        "|".join(re.escape(each).replace(r"\ ", r"\s+") for each in sorted(found))
        for found in (other_than, talk().everyday.worked)
    )
    but = rf"(?!(?:{other})\b)" if other else ""
    return re.compile(
        r"\s*(?:(?:and|then|so|but|i|we|i['’]ve|we['’]ve|had|have|to|just|only|wire)\s+)*"
        rf"{but}(?:re)?(?:[a-z]{{2,}}ed|{done})\b",
        re.IGNORECASE,
    )
