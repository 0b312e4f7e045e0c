"""Signs: a number whose minus may not have been said, or not have been written.

"Dew point - 48 C", "two millimetres low", "minus 21, middle 22, back wall 23": common practice, no
source.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.mapping.row import ENDED

if TYPE_CHECKING:
    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field


def may_be_lost(row: Events, placement: Placement, field: Field, last: Placement | None) -> bool:
    """Whether a number may be below zero; `last` is the value before it."""
    said = placement.said
    if not said.is_number:
        return False
    listed = last is not None and _goes_on(row, last, placement, field)
    return listed or _is_dashed(row, said, field) or _is_told_below(row, said, field)


_DASH = re.compile(r"[^\W_]\s+[-–—]\s+\Z")


def _is_dashed(row: Events, said: Said, field: Field) -> bool:
    """ "Dew point - 48 C": the dash may be a pause, or the sign."""
    if _DASH.search(row.text, max(0, said.start - 6), said.start) is None:
        return False
    below = (field.min is not None and field.min < 0) or (field.max is not None and field.max <= 0)
    return below or field.unit in {"degC", "degF"}


_BELOW = re.compile(r"\s+(?:too\s+)?(?:behind|below|down|low|short|shy|under)\b", re.IGNORECASE)


def _is_told_below(row: Events, said: Said, field: Field) -> bool:
    """ "Two millimetres low" where the limits lie on both sides of zero: it may be minus two."""
    both = field.min is not None and field.max is not None and field.min < 0 < field.max
    value = said.mention.value
    above = not isinstance(value, Decimal) or value > 0
    return both and above and _BELOW.match(row.text, said.end) is not None


def _goes_on(row: Events, last: Placement, placement: Placement, field: Field) -> bool:
    """Whether a bare number goes on with a list of one field that began below zero, or whose limits
    lie there."""
    one, other = last.said, placement.said
    if not one.is_number or other.kind != "count" or not last.targets:
        return False
    if row.breaks.between(one.end, other.start) == ENDED or "plus" in other.mention.qualifiers:
        return False
    first, second = one.mention.value, other.mention.value
    below = (isinstance(first, Decimal) and first < 0) or (field.max is not None and field.max < 0)
    above = isinstance(second, Decimal) and second > 0
    return below and above and last.targets[0].place == placement.targets[0].place
