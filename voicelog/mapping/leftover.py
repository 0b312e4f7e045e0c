"""Leftover: all that was said and is in no field; nothing vanishes but what was taken back."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.mapping.row import Spans

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.findings import Findings
    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Mention


def unplaced(
    row: Events,
    placements: Sequence[Placement],
    left_over: Sequence[Said],
    unnamed: Findings,
) -> tuple[Mention, ...]:
    """Everything said that is in no field: nothing vanishes but what was taken back."""
    found: dict[int, Mention] = {}
    for said in left_over:
        found[id(said)] = said.mention
    resaid = {
        (placement.said.kind, placement.said.mention.value)
        for placement in placements
        if placement.targets
    }
    for said in row.said:
        again = "said again" in said.tags and (said.kind, said.mention.value) not in resaid
        if said.dropped and (again or not said.replaced_by_repair) and "text" not in said.tags:
            found[id(said)] = replace(
                said.mention, qualifiers=said.mention.qualifiers | {"taken back"}
            )
    for said in row.aside:
        found[id(said)] = replace(said.mention, qualifiers=said.mention.qualifiers | {"aside"})
    kept = Spans((*unnamed.shown, *(m for value in unnamed.proposed for m in value.mentions)))
    mentions = [
        mention
        for mention in found.values()
        if not _idle(mention)
        and not (mention.kind == "remark" and kept.cover(mention.start, mention.end))
    ]
    mentions += unnamed.shown
    return tuple(sorted(mentions, key=lambda mention: (mention.start, mention.end)))


def _idle(mention: Mention) -> bool:
    """A term, or a remark that was only a name, says nothing when it stands alone."""
    return mention.kind == "term" or (
        mention.kind == "remark" and "bare" in mention.qualifiers and not mention.negated
    )
