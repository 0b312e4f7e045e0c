"""Work verbs: how a piece of talk begins that tells what was done to a thing.

The verbs are [everyday] `worked` and `no_work` of models_config/talk.toml.
"""

from __future__ import annotations

import re
from functools import cache

from voicelog.reading.talk import talk


@cache
def work() -> re.Pattern[str]:
    """Matches where work is told: "and then I topped", "wound", but not "looked"."""
    words = talk().everyday
    other, done = (
        "|".join(re.escape(each).replace(r"\ ", r"\s+") for each in sorted(found))
        for found in (words.no_work, words.worked)
    )
    return re.compile(
        r"\s*(?:(?:and|then|so|but|i|we|i['’]ve|we['’]ve|had|have|to|just|only)\s+)*"
        rf"(?!(?:{other})\b)(?:re)?(?:[a-z]{{2,}}ed|{done})\b",
        re.IGNORECASE,
    )
