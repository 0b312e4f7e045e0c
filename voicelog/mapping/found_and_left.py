"""Fields of a card that come in pairs: one for the value found, one for the value left."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from voicelog.mapping import orders
from voicelog.mapping.adjusted import LEFT
from voicelog.mapping.unit_fit import alike, compatible
from voicelog.reading.percard import per_card
from voicelog.reading.settings import reasons_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Said
    from voicelog.objects import Card, Field, FieldValue
    from voicelog.reading.lexicon import Place

FOUND = frozenset({"as found", "as found weak"})
DEALT = "dealt"
"""Tag of a value that went to the one of a pair that it was said for."""
_FOUND = re.compile(r"\b(?:as[ _-]?)?(?:found|before)\b")
_LEFT = re.compile(r"\b(?:as[ _-]?)?(?:left|after)\b")
_SURE = 9.0


class Pair(NamedTuple):
    """Where the value found goes, and the value left."""

    found: Place
    left: Place


@per_card
def pairs_of(card: Card | None) -> Mapping[Place, Pair]:
    """The pair that a field belongs to, for the fields of `card` that have a partner: in their
    own step, or else the only one in another (taken down in one step, built up in the next)."""
    fields = {
        (step.number, each.name): each
        for step in (card.steps if card else ())
        for each in step.fields
    }
    told = {place: _without(_FOUND, each) for place, each in fields.items()}
    candidates = [
        Pair(found, left)
        for found, rest in told.items()
        for left, other in (fields.items() if rest else ())
        if left != found and _alike(fields[found], other) and rest & _without(_LEFT, other)
    ]
    pairs: dict[Place, Pair] = {}
    for pair in candidates:
        if pair.found[0] == pair.left[0]:
            pairs.update(dict.fromkeys(pair, pair))
    apart = [pair for pair in candidates if pairs.keys().isdisjoint(pair)]
    named = Counter(place for pair in apart for place in pair)
    for pair in apart:
        if all(named[place] == 1 for place in pair):
            pairs.update(dict.fromkeys(pair, pair))
    return pairs


def _alike(found: Field, left: Field) -> bool:
    return left.type == found.type and left.positions == found.positions


def _without(word: re.Pattern[str], field: Field) -> set[str]:
    """What is left of the field's label and name without the word, where they have it."""
    texts = (field.label.lower(), field.name.lower().replace("_", " "))
    return {
        " ".join(re.findall(r"\w+", word.sub(" ", text))) for text in texts if word.search(text)
    }


def deal(placements: Sequence[Placement], card: Card) -> None:
    """Give what was found and what was left each to its own field, where the card has a pair and
    the words tell which is which: "lifts at six point four as found, six point oh as left"."""
    pairs = pairs_of(card)
    if not pairs:
        return
    groups: dict[tuple[Pair, tuple[str | None, ...]], list[Placement]] = {}
    for placement in placements:
        if len(placement.targets) == 1 and placement.said.is_number:
            target = placement.targets[0]
            pair = pairs.get(target.place)
            if pair is not None:
                groups.setdefault((pair, target.positions), []).append(placement)
    for (pair, _), group in groups.items():
        roles = [_role(placement.said) for placement in group]
        if roles == [None, "left"]:
            roles = ["found", "left"]  # "had nought point nine, now nought point three"
        elif roles == [None, "found"]:
            roles = ["left", "found"]  # "sixty one hertz, was forty eight"
        both = {"found", "left"} == set(roles)
        for placement, role in zip(group, roles, strict=True):
            plain = {"as found", "as left"} & placement.said.tags
            if role is not None and (plain or both):
                _move(placement, pair, pair.found if role == "found" else pair.left)


def _role(said: Said) -> str | None:
    """Whether a value was said to be the one found or the one left: plain words count first."""
    for tags in ({"as found", "as left"}, FOUND | LEFT):
        told = said.tags & tags
        if told:
            found, left = bool(told & FOUND), bool(told & LEFT)
            return None if found and left else "found" if found else "left"
    return None


def _move(placement: Placement, pair: Pair, place: Place) -> None:
    target = placement.targets[0]
    cue = target.cue
    if cue is not None and place not in cue.places:
        plain = cue.places.get(target.place, 0.0)
        cue = replace(cue, places={**cue.places, place: plain})
    placement.targets = (target._replace(place=place, cue=cue),)
    placement.said.tags.add(DEALT)
    if placement.rival is not None and placement.rival.place in pair:
        placement.margin = _SURE


def _share_places(one: Placement, other: Placement) -> bool:
    """Whether two values went to one place at least that is the same."""
    return not set(one.targets[0].positions).isdisjoint(other.targets[0].positions)


def doubt_apart(placements: Sequence[Placement], fields: Mapping[Place, Field]) -> None:
    """Ask about a value as found when the one as left, said behind it, did not come to its field
    and place, and about both when they came to two of one dimension: "the jaw trip at one point
    four eight as found, out of limits so I slackened it half a turn, as left it's one point three
    nine"."""
    numbers = [
        each
        for each in placements
        if each.said.is_number and (each.targets or _role(each.said) is not None)
    ]  # what was done in between came to no field
    for one, other in pairwise(numbers):
        _doubt_pair(one, other, fields)
    for index, left in enumerate(numbers):
        if orders.is_left(left.said) and left.targets:
            _doubt_last_of(numbers[:index], left)


def _doubt_last_of(before: Sequence[Placement], left: Placement) -> None:
    """Ask about values as found at several places when one as left, said behind them without a
    place of its own, came to the last of these alone: "as found red forty five, blue fifty two, as
    left sixty" may be that of both."""
    target = left.targets[0]
    near = [each for each in before if each.targets and _are_alike(each, left)]
    last = near[-1].targets[0].spot if near else None
    if last is None or last is not target.spot or any(orders.is_left(each.said) for each in near):
        return
    found = [e for e in near if "as found" in e.said.tags and not _share_places(e, left)]
    for each in (*found, *[left] * bool(found)):
        each.said.doubts.append("ambiguous_place")


def _are_alike(one: Placement, other: Placement) -> bool:
    """Whether two values went to one field, or to the two of a pair."""
    dealt = DEALT in one.said.tags & other.said.tags
    return dealt or one.targets[0].place == other.targets[0].place


def _doubt_pair(one: Placement, other: Placement, fields: Mapping[Place, Field]) -> None:
    dealt = DEALT in one.said.tags & other.said.tags
    if other.said.found and other.targets:
        return  # what work came to is held against all that was told before
    lost = not other.targets and "as left" in other.said.tags and alike(one.said, other.said)
    if dealt or not (lost or orders.is_found(one.said)) or not orders.is_left(other.said):
        return
    places = [each.targets[0].place for each in (one, other) if each.targets]
    if len(places) == 2 and places[0] == places[1] and _share_places(one, other):
        return
    one.said.doubts.append("number_beside_number")
    units = [fields[place].unit for place in places]
    akin = len(places) == 2 and all(units) and compatible(units[0] or "", units[1] or "")
    if akin or (other.targets and other.targets[0].inherited):
        other.said.doubts.append("ambiguous_place")


def doubt(values: list[FieldValue], card: Card) -> list[FieldValue]:
    """`values`, in doubt where one field took what was found and what was left, though the step
    has a field for each: either may stand in the wrong one."""
    if all(value.as_found is None for value in values):
        return values
    pairs = pairs_of(card)
    return [
        replace(value, reasons=(*value.reasons, *reasons_of(("ambiguous_place",))))
        if value.as_found is not None and value.key[:2] in pairs
        else value
        for value in values
    ]
