"""Exceptions: places that are left out, or may be, of what was said of all places of a field."""

from __future__ import annotations

import re
from functools import partial
from itertools import pairwise, product, takewhile
from typing import TYPE_CHECKING

from voicelog.mapping.adjusted import Adjusted
from voicelog.mapping.all_but import further
from voicelog.mapping.fit import CONTRARY
from voicelog.mapping.row import ENDED, PLACE_WORD, Cue, Spot, name_many
from voicelog.mapping.unit_fit import alike
from voicelog.mapping.whereabouts import SAID_OF_ALL
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Mention
    from voicelog.reading.lexicon import Place

_EXCEPTS = ("except", "apart", "aside", "other", "all", "excluding", "bar", "save", "with")
"""How words begin that except and do nothing else."""
_NEARLY = re.compile(
    r"\b(?:almost|nearly|practically|virtually|not(?:\s+quite)?|just\s+about|pretty\s+much|more\s+or\s+less)"
    r"\s+(?:all|every|each|both|everything|everywhere)\b",
    re.IGNORECASE,
)

_OF_IT = re.compile(
    r"[.;!\s]+(?:and\s+)?"
    r"(?:th(?:at|is|ose|ese)(?:\s+(?:ones?|two))?|it|they|which|(?:there\s+)?(?P<who>i|we))(?=['’\s])",
    re.IGNORECASE,
)
""" "All lamps six volts bar three. That was ...": the next sentence goes on about the exception."""
_BUT = re.compile(r"\bbut\b", re.IGNORECASE)
""" "No blisters on either hose but two on the intake": told of one place in spite of it."""


class Excepted(Adjusted):
    """Acts on "except" and its like."""

    def exception(self, word: Mention) -> None:
        """ "All pulleys free except number three": the third is not spoken of."""
        start = self.events.breaks.sentence_start(word.start)
        if start and not self.events.text[start : word.start].strip():
            start = self.events.breaks.sentence_start(start - 1)  # a recogniser's "... . Except"
        end = self.events.breaks.sentence_end(word.end, len(self.events.text))
        new = self.after(word.end)
        following = new is not None and new.start < end
        if new is not None and following:
            end = new.start
        excepted = [a for a in self.anchors_in(word.end, end) if isinstance(a, Spot)]
        names = {name for spot in excepted for name in spot.names}
        names |= further(self.events, new if following and excepted else None)
        old = self._named(next(self.before(word.start), None), word, end)
        of_all = SAID_OF_ALL.search(self.events.text, start, word.end) is not None
        plain = word.text.lower().startswith(_EXCEPTS)
        only = word.text.lower() == "only"
        turns = only and following and self._turns_to_another(old, word)
        loosely = only and following and not of_all and self._told_of_many(old)  # asked about
        differs = not only or _contradict(old, new if following else None)
        of_it = (of_all or loosely) and differs and self._of_the_same(word, start, end)
        if turns or not (plain or of_it):
            return  # "nothing weeping, lights, only number three is out"
        ahead = new is not None and following and self._ahead_of(word, old, new)
        old = new if ahead else old
        own = self.prefix_of(old) if old is not None else []
        named = [anchor for anchor in own if isinstance(anchor, Cue) and not anchor.in_spot]
        since = max(start, own[0].start) if named else start  # no places of another field
        spots = (a for a in self.anchors_in(since, word.start) if isinstance(a, Spot))
        several = [spot for spot in spots if len(spot.names) > 1]
        groups = [each for each in several if names & set(each.names)]
        if groups:
            groups[-1].names = tuple(name for name in groups[-1].names if name not in names)
        none = old is not None and old.mention.stage == "remarks"  # "no broken wires except on two"
        several_named = of_all or loosely or (plain and any(cue.plural for cue in named))
        told = old is not None and (
            old.kind == "remark"
            or none
            or old.option is not None
            or (old.is_number and several_named)
        )
        if told and old is not None:
            remarks = (each for each in self.before(old.start) if each.kind == "remark")
            for each in (old, *takewhile(partial(self._tells_before, old), remarks)):
                each.without |= names
        signed = all(" " in spot.mentions[0].text for spot in excepted)
        sure = plain or word.text.lower() == "but"
        sure = sure or (only and (following or signed))  # "only three streaks": which, or how many
        heard = sure or (following and not ahead)  # "accept" before what is told may be no except
        known = groups or (
            told and names and not several
        )  # "the right" of four doors is one of two
        if old is not None and new is not None and following and _say_the_same(old, new):
            heard = False  # "all knocking except six, that one's dead": one may be misread
        if old is not None and (loosely or not (heard and known)):
            old.doubts.append("exception")
        if ahead or not following:
            for spot in excepted:
                spot.dropped = True
        if excepted and not following and not ahead:
            self._told_of_it(excepted, end)

    def _told_of_many(self, old: Said | None) -> bool:
        """ "Bolts 680 newton metres, only bolt five got 635": of all of them, perhaps."""
        return old is not None and old.is_number and name_many(self.prefix_of(old))

    def _turns_to_another(self, old: Said | None, word: Mention) -> bool:
        """Whether another thing is named between what was told and the "only"."""
        between = self.anchors_in(old.end, word.start) if old is not None else []
        return any(isinstance(each, Cue) and not each.in_spot for each in between)

    def _tells_before(self, old: Said, said: Said) -> bool:
        """ "Lights one to eight checked. All lit but three": that all were checked is no verdict on
        the third, nor that they were cleaned, in a sentence before, as far as the same is named."""
        if said.mention.text.lower() in talk().remarks.undone:
            return True
        row = self.events
        same = said.mention.value == old.mention.value
        if row.breaks.between(said.end, old.start) < ENDED or not same:
            return False
        one, other = self._places_named(said), self._places_named(old)
        return not one or not other or not one.isdisjoint(other)

    def _places_named(self, said: Said) -> set[Place]:
        """The fields that are named in the clause of `said`."""
        row = self.events
        around = row.anchors_in(
            row.clause_start(said.start), row.breaks.clause_end(said.end, len(row.text))
        )
        cues = (*(a for a in around if isinstance(a, Cue) and not a.in_spot), *said.inner)
        return {place for cue in cues for place, plain in cue.places.items() if plain >= PLACE_WORD}

    def _told_of_it(self, excepted: Sequence[Spot], end: int) -> None:
        """ "All lamps six volts bar three. That was five point four.": the place of the values of
        the next sentence, as far as it names none."""
        row = self.events
        told = _OF_IT.match(row.text, end)
        if told is None:
            return
        stop = row.breaks.sentence_end(told.end(), len(row.text))
        spots = (a.start for a in row.anchors_in(end, stop) if isinstance(a, Spot))
        names = tuple(dict.fromkeys(name for spot in excepted for name in spot.names))
        spot = excepted[-1]
        for said in row.said_in(end, min(spots, default=stop)):
            if told["who"] and not said.is_number:
                continue  # "I greased it": whatever that was
            said.spot = Spot(spot.start, spot.end, names, spot.mentions, spot.words, spot.doubts)

    def _named(self, old: Said | None, word: Mention, end: int) -> Said | None:
        """`old`, unless it is said of all that has no name here, and a check is excepted:
        "everything okay except the drains" is no word on the drains."""
        if old is None or old.kind != "remark" or old.inner or self.prefix_of(old):
            return old
        told = [a for a in self.anchors_in(word.end, end) if isinstance(a, Cue) and not a.in_spot]
        between = self.events.text[old.end : word.start].strip(" ,")
        if not told or between or not word.text.lower().startswith(_EXCEPTS):
            return old
        self.said.remove(old)
        self.events.aside.append(old)
        self.starts = [each.start for each in self.said]
        return None

    def _ahead_of(self, word: Mention, old: Said | None, new: Said) -> bool:
        """ "Every lock but the second is tight": excepted before anything was told of them."""
        begin = self.events.clause_start(word.start)
        if old is not None and self.events.breaks.between(old.end, word.start) < 2:
            begin = max(begin, old.end)
        of_all = SAID_OF_ALL.search(self.events.text, begin, word.start)
        named = of_all is not None and self.anchors_in(begin, word.start)
        return bool(named) and not self.events.breaks.between(word.end, new.start)

    def _of_the_same(self, word: Mention, start: int, end: int) -> bool:
        """Whether no other field is named behind the "but": "all locks good, but the ground
        floor gap is seven" excepts nothing."""
        before = {a.canonical for a in self.anchors_in(start, word.start) if isinstance(a, Cue)}
        old = next(self.before(word.start), None)
        before |= {cue.canonical for cue in old.inner} if old is not None else set()
        behind = (a for a in self.anchors_in(word.end, end) if isinstance(a, Cue))
        return all(cue.in_spot or cue.canonical in before for cue in behind)


def _contradict(old: Said | None, new: Said | None) -> bool:
    """Whether a place has a value of its own: "all sixteen thou, only two seventeen", "all tight,
    only two is loose"; "all good, only two greased" says no other of the same. None where nothing
    is known of what it does."""
    if old is None or new is None:
        return old is not None
    if old.is_number or new.is_number:
        return old.is_number and new.is_number and alike(old, new)
    if old.option is not None or new.option is not None:
        return old.option != new.option
    return CONTRARY.get(str(old.mention.value)) == new.mention.value


def _say_the_same(one: Said, other: Said) -> bool:
    """Whether two remarks have one verdict, so that the second leaves the first no exception."""
    both = one.kind == other.kind == "remark" and one.option is None and other.option is None
    open_ = any(each.startswith("says:") for each in other.mention.qualifiers)  # good or bad here
    return both and one.mention.value == other.mention.value and not open_


def doubt(row: Events, placements: Sequence[Placement]) -> None:
    """Ask about values of several places of which one may be none."""
    _but_not_there(row, placements)
    _but_faulty(row, placements)
    _but_a_figure(row, placements)
    _but_the_same(row, placements)
    _and_another(row, placements)
    _of_the_last(row, placements)
    several = [p for p in placements if any(len(t.positions) > 1 for t in p.targets)]
    if not several:
        return
    placed = [p.said.start for p in placements if p.targets]
    fields_at = {id(t.spot): t.place for p in placements for t in p.targets if t.spot is not None}
    for placement in several:
        said = placement.said
        if _NEARLY.search(row.text, row.clause_start(said.start), said.end):
            said.doubts.append("partial")
        elif any(
            _is_another(row, placement, spot, fields_at.get(id(spot)), placed)
            for spot in _places_behind(row, placement)
        ):
            said.doubts.append("exception")


def _is_another(
    row: Events, placement: Placement, spot: Spot, field: Place | None, placed: Sequence[int]
) -> bool:
    """Whether something else may be told of one place behind what was told of all of them; `field`
    is what was told of that place, as far as it is known."""
    if _BUT.search(row.text, placement.said.end, spot.start):
        return field not in {target.place for target in placement.targets}
    return field is None and _tells(row, spot, placed)


def _places_behind(row: Events, placement: Placement) -> Iterator[Spot]:
    """Single places in the rest of the sentence that are among those of the value."""
    end = row.breaks.sentence_end(placement.said.end, len(row.text))
    positions = {name for target in placement.targets for name in target.positions}
    for anchor in row.anchors_in(placement.said.end, end):
        if isinstance(anchor, Spot) and len(anchor.names) == 1 and positions & set(anchor.names):
            yield anchor


def _tells(row: Events, spot: Spot, placed: Sequence[int]) -> bool:
    """Whether the clause of a place goes on in words that nothing explains, or tells what found no
    field: "dampers all dry, the rear left one weeps"."""
    end = row.breaks.clause_end(spot.end, len(row.text))
    start = row.clause_start(spot.start)
    if any(start <= at < end for at in placed):
        return False
    return row.unexplained(spot.end, end, spot.end)


def _but_not_there(row: Events, placements: Sequence[Placement]) -> None:
    """Ask about what was said of several places when one of them was not done: "forty amps all
    round, but I haven't done blue"."""
    for undone in row.said:
        if undone.kind != "remark" or undone.mention.value != "not done" or undone.dropped:
            continue
        end = row.breaks.clause_end(undone.end, len(row.text))
        told = max((each.end for each in row.said if each.end <= undone.start), default=0)
        since = max(told, row.clause_start(undone.start))
        around = row.anchors_in(undone.end, end) or row.anchors_in(since, undone.start)
        names = {name for spot in around if isinstance(spot, Spot) for name in spot.names}
        names |= {  # "... but I haven't done four"
            str(each.mention.value)
            for each in row.said
            if each.kind == "count" and undone.end <= each.start < end
        }
        begin = row.breaks.sentence_start(undone.start)
        for placement in placements:
            said = placement.said
            if said is undone or not begin <= said.start < undone.start:
                continue
            for target in placement.targets:
                if len(target.positions) > 1 and names.intersection(target.positions):
                    said.doubts.append("exception")


def _but_faulty(row: Events, placements: Sequence[Placement]) -> None:
    """Ask about what was found good of several, where a "but" tells of a condition that names no
    field: "all good but B leaks"."""
    for fault in placements:
        mention = fault.said.mention
        named = any(not target.inherited for target in fault.targets)
        if named or mention.negated or "bare" not in mention.qualifiers:
            continue
        for other in placements:
            said = other.said
            several = any(len(target.positions) > 1 for target in other.targets)
            if not several or said.mention.value != "pass" or said.end > mention.start:
                continue
            same = row.breaks.between(said.end, mention.start) < 2
            if same and _BUT.search(row.text, said.end, mention.start):
                said.doubts.append("exception")


def _but_the_same(row: Events, placements: Sequence[Placement]) -> None:
    """Ask about an exception of which the same verdict was heard as of all the others: "all of
    them lock off but two, the clip has come off"."""
    for one, other in pairwise(p for p in placements if p.said.kind == "remark"):
        said = other.said
        for all_, left_out in product(one.targets, other.targets):
            same = all_.place == left_out.place and all_.fit.value == left_out.fit.value
            spot = left_out.spot
            if same and spot is not None and spot.start > one.said.end:
                alone = not set(all_.positions) & set(left_out.positions)
                if alone and _LEADS.search(row.text, 0, spot.start):
                    said.doubts.append("exception")


_LEADS = re.compile(
    r"\b(?:only|bar|but|except(?:\s+for)?|save|apart\s+from|other\s+than)\s+(?:number\s+)?\Z",
    re.IGNORECASE,
)


def _doubt_before(
    row: Events, figure: Said, several: Sequence[Placement], *, whichever: bool = False
) -> None:
    """ "All shut tight, only two keeps dribbling": which of them, or how many. `whichever` it
    is, where it goes on from a place that was named ("except two one seven")."""
    for placement in several:
        places = {name for target in placement.targets for name in target.positions}
        other = placement.said
        same = other.end <= figure.start and row.breaks.between(other.end, figure.start) < ENDED
        if same and (whichever or str(figure.mention.value) in places):
            other.doubts.append("exception")


def _but_a_figure(row: Events, placements: Sequence[Placement]) -> None:
    """Ask about what was said of several places where a number behind it found no field, and is
    one of them behind their name: "all bolts two ninety, only bolts six A, could not reach"."""
    several = [p for p in placements if any(len(t.positions) > 1 for t in p.targets)]
    for figure in placements if several else ():
        said = figure.said
        if not figure.targets and said.kind == "count" and _LEADS.search(row.text, 0, said.start):
            _doubt_before(row, said, several)
        around = row.anchors_in(row.clause_start(said.start), said.start)
        named = around[-1] if around and said.is_number else None
        if named is None or row.text[named.end : said.start].strip():
            continue
        if isinstance(named, Spot):
            if not figure.targets and _LEADS.search(row.text, 0, named.start):
                _doubt_before(row, said, several, whichever=True)
            continue
        for placement in several:
            of_it = any(
                target.place in named.places and str(said.mention.value) in target.positions
                for target in placement.targets
            )
            other = placement.said
            lost = not figure.targets or not alike(said, other)
            same = other.end <= said.start and row.breaks.between(other.end, said.start) < 2
            if of_it and lost and same:
                other.doubts.append("exception")


_MANY = re.compile(r"\s+(?:couple|few|two|three|four|five|six|[2-6])\b", re.IGNORECASE)


def _of_the_last(row: Events, placements: Sequence[Placement]) -> None:
    """ "All but the last two": which these are is for a person to say."""
    for placement in placements:
        spot = placement.targets[0].spot if placement.targets else None
        words = row.text[spot.start : spot.end].lower().split() if spot is not None else []
        told = spot is not None and len(words) > 1 and words[-1] in {"first", "last"}
        if told and spot is not None and _MANY.match(row.text, spot.end):
            placement.said.doubts.append("exception")


_ALSO = re.compile(r"(?:,|\band)\s+(?:number\s+)?\Z", re.IGNORECASE)
_THAT = re.compile(r"(?:['’]s|\s*,?\s*(?:that|which|it|is|was|has|had))\b", re.IGNORECASE)


def _and_another(row: Events, placements: Sequence[Placement]) -> None:
    """Ask about all that was told where an exception goes on to a bare figure that is another of
    the places: "good apart from two, which I swapped, and seven that's frayed"."""
    for index, group in enumerate(placements):
        said = group.said
        if not said.without or not group.targets:
            continue
        names = {name for target in group.targets for name in target.positions}
        end = row.breaks.sentence_end(said.end, len(row.text))
        behind = [each.said for each in placements[index + 1 :] if each.said.start < end]
        for each in behind:
            figure = each.kind == "count" and str(each.mention.value) in names
            also = figure and _ALSO.search(row.text, said.end, each.start)
            if also and _THAT.match(row.text, each.end):
                for one in (said, *behind):
                    one.doubts.append("exception")
