"""Loose: values whose field nothing named plainly, and those beside the name of another thing."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping import by_unit, denied_things, plainly, roles
from voicelog.mapping.adjusted import FOUND, LEFT
from voicelog.mapping.joined_names import JOINED
from voicelog.mapping.row import HALF, PLACE_WORD, PLAIN, Cue, Spot
from voicelog.phonetics import alike
from voicelog.reading.labels import OWN, belonging, head, keys_of, names
from voicelog.reading.spoken import lexemes
from voicelog.reading.talk import talk
from voicelog.reading.words import tokenise, word_key

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from collections.abc import Set as AbstractSet

    from voicelog.mapping.placement import Placement, Target
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field, Mention
    from voicelog.reading.lexicon import Place

_MISHEARD = 0.6
"""Jaro-Winkler similarity from which on a word may stand for another one of the same name."""
_UNPLACED = frozenset({"ambiguous_place", "loosely_named", "placed_by_unit"})
_LAST_WORD = re.compile(
    r"(?:^|[\s,])([a-z]{3,})\s+(?:(?:on|at|for|of|in|under)\s+)?(?:the\s+)?\Z", re.I
)


def doubt(
    row: Events, placement: Placement, field: Field, before: int, *, unexplained: bool
) -> str | None:
    """The doubt of a place in `field` that nothing named plainly, among words that nothing
    explains; `before` is where the value before it ended."""
    said, target = placement.said, placement.targets[0]
    if target.by_unit or by_unit.is_spent(said, field, target):
        return by_unit.doubt(row, placement, field, unexplained=unexplained)
    counted = said.kind == "remark" and field.type == "count"
    if counted and not denied_things.are_counted(row, said, field):
        return "loosely_named"
    chosen = plainly.is_only_choice(row, placement) and not unexplained
    chosen = chosen or _came_of(row, said, target)
    if chosen or plainly.is_asked_for(said, field):
        return None
    apart = target.cue is not None and row.breaks.between(target.cue.end, said.start) > 0
    fault = said.mention.value == "fail" and "verdict" not in said.mention.qualifiers
    told = fault or _told_of_otherwise(row, placement)
    if fault and half_named(target) and plainly.is_of_another(row, field, target):
        return "loosely_named"
    loose = target.inherited or half_named(target) or (told and apart)
    loose = loose and not (fault and _is_left_out(row, said, target.spot))
    concluded = _concluded(row, placement, before) if said.kind == "remark" and loose else None
    if concluded is not None and (
        (unexplained and "thing" not in concluded)
        or (_names_another(target) and not plainly.is_named_with(row, said, field, target))
    ):
        # "my torch is dead" is no word on what was named before
        clear = "finding" in concluded or plainly.is_denied_again(row, placement)
        return None if clear else "loosely_named"
    loosely = _is_loose(row, placement, field, before, unexplained=unexplained)
    named = loosely and (
        plainly.is_wholly_named(row, placement, field, before)
        or plainly.is_under_its_limit(row, said, field, before)
    )
    return "loosely_named" if loosely and not named else None


def _came_of(row: Events, said: Said, target: Target) -> bool:
    """Whether it is what came of a value before, whose place nothing puts in doubt: "had 1.6 mm of
    play. New bush in, now it's 0.3"."""
    found = said.found[-1] if said.found else None
    if found is None and target.inherited and said.tags & LEFT:
        before = row.number_before(said)
        found = before if before is not None and before.tags & FOUND else None
    return found is not None and _UNPLACED.isdisjoint((*said.doubts, *found.doubts))


def _is_left_out(row: Events, said: Said, spot: Spot | None) -> bool:
    """Whether a fault is told of a place that was left out of what is good, right behind it: "all
    good except number two, the eye's bent"."""
    start = row.breaks.sentence_start(said.start)
    if spot is None or row.anchors_in(spot.end, said.start):
        return False
    return any(
        word.value == "except" and not row.unexplained(word.end, spot.start, word.end)
        for word in row.words_in(start, spot.start)
    )


def _is_loose(
    row: Events, placement: Placement, field: Field, before: int, *, unexplained: bool
) -> bool:
    """Whether what led to `field` is too little of a name among the words beside it."""
    said, target = placement.said, placement.targets[0]
    if said.is_number and (
        _of_another_thing(row, placement, field, before) or _is_elsewhere(row, placement, field)
    ):
        return True
    plain = 1.0 if target.cue is None else target.cue.places.get(target.place, 0.0)
    if target.inherited and target.cue is not None and target.cue.mention.stage == JOINED:
        plain = HALF  # "upper pivot pin point three, lower gate point one five"
    if target.cue is None or plain > OWN:
        return False
    counted = said.kind == "count" and "unit_unsaid" not in target.fit.doubts
    figures = said.kind == "identifier" or counted or said.option is not None
    figures = figures and not _is_tied(row, placement, field)
    figures = figures and not roles.told(row, said, field, target.cue.mention.text)
    figures = figures and not plainly.are_so(row, said, field, target.cue)
    patterned = any(name.startswith("field:") for name in said.mention.qualifiers)
    if plain > HALF:  # "oil" for the seal chamber's, but not "gearbox oil"
        first = min(target.cue.start, said.start)
        start = row.clause_start(first)
        start = before if start < before <= first else start
        loosely = unexplained and not said.tags & LEFT
        loosely = loosely or row.unexplained(start, first, start)
        loosely = loosely or row.unexplained(said.end, target.cue.start, said.end)
        return loosely and not plainly.is_all_that_is_measured(row, said, field, target)
    told = unexplained and not said.tags & LEFT  # "wound both of them to forty five"
    return (figures and not patterned) or (told and said.is_number)


_LOCATED = re.compile(
    r"\s*(?:(?:too|also|as\s+well)\s*)?\Z|\s+(?:[\w.]+\s+){0,4}?"
    r"(?:after|along|around|at|beside|between|by|from|in|near|on|under|when|while|with)\b",
    re.I,
)
_ONE = re.compile(r"\s+one\b", re.I)


def _concluded(row: Events, placement: Placement, before: int) -> frozenset[str]:
    """What a verdict ends that was told right before it: what was told of a "thing" of those
    spoken of ("the middle one does nothing when I push it, so that's a fail"), or the clause of
    a "finding", when it stands alone ("birdcaging two metres from the hook, fail")."""
    said, target = placement.said, placement.targets[0]
    if "verdict" not in said.mention.qualifiers:
        return frozenset()
    concluded = set()
    spot, start = target.spot, row.clause_start(said.start)
    if spot is not None and before <= spot.start:
        named = any(isinstance(anchor, Cue) for anchor in row.anchors_in(spot.end, said.start))
        pronoun = _ONE.match(row.text, spot.end) or row.text[spot.start : spot.end].endswith(" one")
        head = row.text[row.clause_start(spot.start) : spot.start].lower().split()
        heads = target.inherited and plainly.ON.issuperset(head)  # "three lets water in, so fail"
        if (pronoun or heads) and not named and row.breaks.between(spot.end, said.start) < 2:
            concluded.add("thing")
    if not row.text[start : said.start].strip():
        begin = row.clause_start(max(0, start - 2))
        alike = (each for each in row.said if each.mention.value == said.mention.value)
        found = [each for each in alike if begin <= each.start < start - 1][-1:]
        if (
            found
            and any(target.place in cue.places for cue in found[0].inner)
            and _LOCATED.match(row.text, found[0].end, start - 1)
        ):
            concluded.add("finding")
    return frozenset(concluded)


def _is_tied(row: Events, placement: Placement, field: Field) -> bool:
    """Whether a code or an option, though one word alone named its field, can be meant for no
    other one: "the wrench is TW114", "gasket on the left torn", but not "brake scored" for the
    brake's band."""
    said, target = placement.said, placement.targets[0]
    cue = target.cue
    if said.kind == "count" or cue is None or target.inherited or placement.rival is not None:
        return False
    start = row.clause_start(cue.start)
    if not start <= cue.start < cue.end <= said.start or row.unexplained(start, cue.start, start):
        return False
    named = [[token.key for token in tokenise(name)] for name in names(field)]
    telling = [[key for key in name if key not in talk().everyday.common] for name in named]
    nouns = {name[-1] for name in telling if name} | {word_key(belonging(field))}
    if said.option is not None and word_key(cue.mention.text) not in nouns:
        return False
    words = row.text[cue.end : said.start]
    for anchor in reversed(row.anchors_in(cue.end, said.start)):
        own = {key for name in named for key in name}
        if isinstance(anchor, Cue) and not own.issuperset(
            map(word_key, anchor.mention.text.split())
        ):
            return False  # "cast number of the fixed liner" is not that of the swing liner
        words = words[: anchor.start - cue.end] + words[anchor.end - cue.end :]
    return set(words.lower().replace(",", " ").split()) <= plainly.TIES


def _told_of_otherwise(row: Events, placement: Placement) -> bool:
    """Whether nothing explains what was told of a place, nor who a verdict in a later clause is on:
    "hose T chef through the cover, they lay and be good" (A and B are)."""
    said, target = placement.said, placement.targets[0]
    named = target.spot or target.cue
    if named is None or named.end > said.start or said.mention.value != "pass":
        return False
    end = row.breaks.clause_end(named.end, len(row.text))
    start = row.clause_start(said.start)
    if end >= start or not row.unexplained(named.end, end, named.end):
        return False
    return row.unexplained(start, said.start, start)


def of_a_part(row: Events, placement: Placement) -> Iterator[str]:
    """The doubt of a fault of a part of the thing whose state a check asks for: "cover hinge pin
    at the back is worn" does not tell whether the cover is shut."""
    mention, target = placement.said.mention, placement.targets[0]
    cue = None if target.inherited or target.spot is not None else target.cue
    faulty = mention.kind == "remark" and any(name.startswith("is:") for name in mention.qualifiers)
    if faulty and cue is not None and mention.value == "fail":
        between = row.breaks.between(cue.end, mention.start)
        if between < 2 and row.unexplained(cue.end, mention.start, cue.end):
            yield "loosely_named"


_BESIDE = r"above|behind|below|beneath|beside|between|by|near|next\s+to|opposite|over|under"
_BY = re.compile(rf"\b(?:{_BESIDE})\s+(?:(?:the|number)\s+)*\Z", re.I)
_AT = re.compile(rf"\b(?:{_BESIDE}|at|in|inside|of|on|outside|to)\s+(?:(?:the|number)\s+)*\Z", re.I)


def by_a_place(row: Events, placement: Placement, before: int) -> Iterator[str]:
    """The doubt of what is told of a thing that nothing explains, where a name of the field only
    tells where that is: "the deck plate by door four is worn" is no word on the door's sill."""
    said, target = placement.said, placement.targets[0]
    if said.kind != "remark" or target.cue is None:
        return
    placed = target.cue.in_spot or target.inherited
    named = [] if target.inherited else [target.cue.start]
    if target.spot is not None:
        named.append(target.spot.start)
    start = max(before, row.clause_start(said.start))
    place = min(named, default=said.end)
    by = (_AT if placed else _BY).search(row.text, start, place) if start < place else None
    if by is None or place >= said.start:
        return
    things = (each for each in row.anchors_in(start, by.start()) if isinstance(each, Cue))
    other = any(target.place not in each.places for each in things)
    if other or row.unexplained(start, by.start(), start):
        yield "loosely_named"


_ANY_FIELD = frozenset({"verdict", "none"})


def _is_strange(mention: Mention) -> bool:
    """Whether it is a state of which the label of a check may know nothing ("pump 3 dry")."""
    told = any(name.startswith("says:") for name in mention.qualifiers)
    return "state" in mention.qualifiers and not told


def told_by_option(placements: Iterable[Placement]) -> set[Place]:
    """The choices of which an option was told that is no verdict: what is "good" beside those
    that are "frayed" is no word on another field."""
    return {
        target.place
        for each in placements
        for target in each.targets
        if each.said.option is not None and "verdict" not in each.said.mention.qualifiers
    }


def on_place_alone(
    row: Events, placement: Placement, fields: Mapping[Place, Field], told_of: AbstractSet[Place]
) -> bool:
    """ "Burner one good": a verdict, a fault, "none" or a state that no label asks for, of a place
    of several fields, none of which was named."""
    target = placement.targets[0]
    if placement.said.option is not None and target.place in told_of:
        return False
    cue = target.cue
    mention = placement.said.mention
    if cue is None or not cue.in_spot:
        return False
    if not _ANY_FIELD & mention.qualifiers and mention.value != "fail" and not _is_strange(mention):
        return False
    word = fields[target.place].position_word
    told = any(
        isinstance(other, Cue) and other.places.get(target.place, 0.0) > PLACE_WORD
        for other in row.named
    )
    others = (
        each
        for place, each in fields.items()
        if place[0] == target.place[0] and place != target.place and each.position_word == word
    )
    return not told and any(
        not set(each.positions).isdisjoint(target.positions) and _takes(each, placement.said)
        for each in others
    )


def _takes(field: Field, said: Said) -> bool:
    """Whether a field may be what a verdict, a fault or an option is said of: "plug one worn" is
    no word on its gap, "plug one good" may be."""
    if said.option is None or "verdict" in said.mention.qualifiers:
        return True
    return field.type == "check" or said.option in field.options


def on_a_lost_place(row: Events, placement: Placement, field: Field) -> Iterator[str]:
    """The doubt of a place that was only said of something before, when a word that nothing
    explains stands where this value's own would be: "..., right forty, and three turns on the luck
    push rod"."""
    said, target = placement.said, placement.targets[0]
    if target.spot is None or target.spot.end > row.clause_start(said.start):
        return
    if said.spot is not None:
        return
    start = target.spot.end
    own = keys_of(field)
    for cue in row.anchors_in(start, row.breaks.clause_end(said.end, len(row.text))):
        if isinstance(cue, Spot) or target.place not in cue.places:
            continue
        since = said.end if said.end <= cue.start else start
        last = row.text[since : cue.start].split()[-1:]
        beside = bool(last) and row.text[cue.start - 1] == " " and word_key(last[0]) not in own
        at = cue.start - len(last[0]) - 2 if beside else cue.start
        if beside and is_strange_word(row, at, cue.start, target.place):
            yield "ambiguous_place"
            return


def _is_elsewhere(row: Events, placement: Placement, field: Field) -> bool:
    """Whether a label tells where there must be none of something, and another place was said in
    its stead: "no cracks in the dome" is no word on those in the backplate."""
    said, cue = placement.said, placement.targets[0].cue
    if said.mention.stage != "remarks" or field.positions or cue is None:
        return False
    if word_key(cue.mention.text) != word_key(head(field)):
        return False
    return denied_things.is_elsewhere(row, said, keys_of(field))


def half_named(target: Target) -> bool:
    """Whether one word of the field's names is all that led to it."""
    return target.cue is not None and target.cue.places.get(target.place, 1.0) <= HALF


def _names_another(target: Target) -> bool:
    """Whether what half names the field is the plain name of another: "jet good" is no word on
    the sensor that lowers the jet."""
    return half_named(target) and target.cue is not None and target.cue.plainest >= PLAIN


def _of_another_thing(row: Events, placement: Placement, field: Field, before: int) -> bool:
    """Whether right before a value, or its place, stands what is no name of its field: "jockey
    came in at nine bar, oil pressure on the diesel four point five bar"."""
    said, target = placement.said, placement.targets[0]
    if said.tags & LEFT:
        return False  # "two shims fitted, now one point seven": what was done names nothing
    start = max(before, row.clause_start(said.start))
    for anchor in row.anchors_in(start, said.start):
        if isinstance(anchor, Cue):
            half = not anchor.in_spot and 0 < anchor.places.get(target.place, 0.0) <= HALF
            ahead = _words_before(field, anchor.mention.text) if half else set()
        else:
            half, ahead = anchor is target.spot and target.inherited, set()
        if half and is_strange_word(row, start, anchor.start, target.place, ahead):
            return True
    return False


def _words_before(field: Field, word: str) -> set[str]:
    """The words that stand before `word` in the names of the field."""
    key = word_key(word)
    names = [[token.key for token in tokenise(name)] for name in (*field.say, field.label)]
    return {one for name in names for one, other in pairwise(name) if other == key}


def is_strange_word(
    row: Events, start: int, end: int, place: Place, ahead: AbstractSet[str] = frozenset()
) -> bool:
    """Whether the last word of the stretch, but for "on the" and its like, is no name of the field
    and explained by nothing; one that sounds much like a word of `ahead` was misheard for it."""
    word = _LAST_WORD.search(row.text, start, end)
    if word is None:
        return False
    first, said = word.start(1), word[1].lower()
    if said in talk().everyday.plain or (said,) in lexemes() or plainly.VERB.search(said):
        return False
    over = [a for a in row.anchors_in(max(0, first - 40), end) if a.start <= first < a.end]
    if over:
        return all(isinstance(anchor, Cue) and place not in anchor.places for anchor in over)
    if any(alike(word_key(said), other) >= _MISHEARD for other in ahead):
        return False
    return not any(each.start <= first < each.end for each in row.words)
