"""Repair: acts on procedure words before anything is placed.

What a speaker took back is dropped, and stays visible only when nothing took its place.
Sources in `voicelog/reading/procedure.py`.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from dataclasses import replace
from itertools import zip_longest
from typing import TYPE_CHECKING

from voicelog.mapping import came_right, found_states, remaining, reworked, taken_back, told_since
from voicelog.mapping.exceptions import Excepted
from voicelog.mapping.row import Cue, Spot

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Card, Mention

_HESITATION = re.compile(
    r"[\s,]*(?:\.{2,}|…|[-–—]{1,2}|(?:(?:uh|um|er|erm|ah|eh|hmm)\b[\s,.]*)+)[\s,.]*", re.IGNORECASE
)


_POINTING = re.compile(
    r"[\s,]*(?:no,?\s+)?(?:that|this|it|those|these|they)(?:\s+(?:was|is|were|are)|['’](?:s|re))\b",
    re.IGNORECASE,
)
""" "Actually that was bolt four": what was said stands, at another place."""
_TRAILING_REPAIR = re.compile(r"(?:(?:no|sorry)\s+)?i\s+(?:mean|should)", re.IGNORECASE)
_OF_A_WHILE = re.compile(r"\b(?:an?|half an?|few|couple(?: of)?)\s+[^\W\d_]+\s+\Z", re.IGNORECASE)


def _alike(one: Said, other: Said) -> bool:
    """Whether one can replace the other."""
    if one.kind == other.kind:
        return True
    if one.is_number and other.is_number:
        return True
    return {one.kind, other.kind} <= {"remark", "term"} or {one.kind, other.kind} <= {
        "identifier",
        "count",
        "quantity",
    }


def _complete(old: Said, new: Said) -> None:
    """ "Tango tango one zero niner, correction, one zero eight" takes back the last group of
    the identifier only; the rest of it stands, and the whole is asked about when there are more."""
    before, after = str(old.mention.value), str(new.mention.value)
    if old.kind != "identifier" or new.mention.unit is not None or not after.isdigit():
        return
    group = re.search(r"[0-9]+$", before)
    if group is None or before.isdigit() or len(group[0]) != len(after):
        return
    whole = before[: group.start()] + after
    new.mention = replace(
        new.mention,
        kind="identifier",
        value=whole,
        doubts=old.mention.doubts,
        alternatives=(after, *new.mention.alternatives),
        qualifiers=old.mention.qualifiers | new.mention.qualifiers,
    )
    if sum(map(str.isdigit, before)) > len(after):
        new.doubts.append("self_repair")


def _is_plain(cue: Cue) -> bool:
    """Whether the words name a field, and don't only count its positions."""
    return max(cue.places.values()) >= 0.9


class _Repair(Excepted):
    # --- acts -------------------------------------------------------------------

    def correct(self, word: Mention) -> None:
        new = self.after(word.end)
        if new is None or self.events.breaks.between(word.end + 2, new.start) == 2:
            if not self.relocate(word):
                self.unanswered(word)
            return
        old = next((each for each in self.before(word.start) if _alike(each, new)), None)
        if old is None:
            new.doubts.append("correction_of_nothing")
            return
        new_anchors = self.anchors_in(word.end, new.start) + list(new.inner)
        group = self._group_with(new_anchors, word.start)
        if group is not None and _alike(group, new):
            old = group
        elif new_anchors:
            self._drop_rivals(old, new_anchors)
        self.drop(old, new)
        _complete(old, new)

    def _group_with(self, anchors: Sequence[Cue | Spot], before: int) -> Said | None:
        """The last value whose own anchors name all that `anchors` name."""
        wanted_cues = {anchor.canonical for anchor in anchors if isinstance(anchor, Cue)}
        wanted_spots = {anchor.names for anchor in anchors if isinstance(anchor, Spot)}
        if not wanted_cues and not wanted_spots:
            return None
        for count, each in enumerate(self.before(before)):
            if count >= 40:
                return None
            own = [*self.prefix_of(each), *each.inner]
            cues = {anchor.canonical for anchor in own if isinstance(anchor, Cue)}
            spots = {anchor.names for anchor in own if isinstance(anchor, Spot)}
            if wanted_spots and not wanted_spots <= spots:
                continue
            if not wanted_spots and not wanted_cues <= cues:
                continue
            return each
        return None

    def _drop_rivals(self, old: Said, anchors: Sequence[Cue | Spot]) -> None:
        """The correction names another place: the old value's own place goes with it."""
        cues = {new.canonical for new in anchors if isinstance(new, Cue) and _is_plain(new)}
        spots = any(isinstance(new, Spot) for new in anchors)
        for anchor in self.prefix_of(old):
            if isinstance(anchor, Spot):
                anchor.dropped = spots
            elif cues and _is_plain(anchor):
                anchor.dropped = anchor.canonical not in cues

    def unanswered(self, word: Mention) -> None:
        """A repair word with nothing after it: the value before it no longer stands, unless the
        word trails ("one fifty, four I mean")."""
        earlier = self.before(word.start)
        old = next(earlier, None)
        if _TRAILING_REPAIR.match(word.text) and old is not None:
            first = next(earlier, None)
            if first is not None and _alike(first, old) and self._side_by_side(first, old):
                self._replace_in_doubt(first, old)
                return
        behind = word.start if old is None else min(old.end + 1, word.start)
        if old is not None and self.events.breaks.between(behind, word.start) < 2:
            self.drop(old)
            old.replaced_by_repair = False

    def _side_by_side(self, first: Said, second: Said) -> bool:
        """Whether two values stand in one sentence with no name between them."""
        apart = self.events.breaks.between(first.end, second.start) == 2
        return not apart and not self.anchors_in(first.end, second.start)

    def relocate(self, word: Mention) -> bool:
        """Only the place is corrected: "... no wait, that was bolt four"."""
        old = next(self.before(word.start), None)
        end = min(
            word.end + 40, self.events.breaks.sentence_end(word.end + 1, len(self.events.text))
        )
        new = self.after(word.end)
        if new is not None:
            end = min(end, new.start)
        places = self.anchors_in(word.end, end)
        if old is None or not places:
            return False
        self._drop_rivals(old, places)
        spots = [anchor for anchor in places if isinstance(anchor, Spot)]
        old.spot = spots[0] if len(spots) == 1 else old.spot
        old.doubts.append("self_repair")
        return True

    def slip(self, word: Mention) -> None:
        at = self._past_excuse(word)
        new = self.after(at)
        old = next(self.before(word.start), None)
        pointing = _POINTING.match(self.events.text, word.end) is not None
        if old is not None and (pointing or word.text.lower() not in {"rather", "actually", "no"}):
            near = new is not None and not self.events.breaks.between(at, new.start)
            if not near and self.relocate(word):
                return
        if new is None or old is None or not _alike(old, new):
            return
        if word.start - old.end > 24 or new.start - at > 24:
            return
        if self.anchors_in(old.end, new.start):
            return
        self._replace_in_doubt(old, new)

    def _past_excuse(self, word: Mention) -> int:
        """Where the words end that tell what went wrong: "no, counted one twice, four"."""
        end = taken_back.past_excuse(self.events.text, word.end)
        for each in self.events.said_in(word.end, end):
            self.said.remove(each)
            self.events.aside.append(each)
        for anchor in self.anchors_in(word.end, end):
            anchor.dropped = True
        self.starts = [each.start for each in self.said]
        return end

    def _replace_in_doubt(self, old: Said, new: Said) -> None:
        self.drop(old, new)
        new.doubts.append("self_repair")
        _complete(old, new)

    def hesitations(self) -> None:
        """Two values with nothing but a hesitation between them ("twenty... twenty two")."""
        for old, new in zip(self.said, self.said[1:], strict=False):
            if old.dropped or new.dropped or not (old.is_number and new.is_number):
                continue
            between = self.events.text[old.end : new.start]
            if between != "-" and _HESITATION.fullmatch(between):  # "90-91-89 bar"
                self._replace_in_doubt(old, new)

    def whole(self, word: Mention) -> None:
        for each in list(self.before(word.start)):
            each.dropped = True
            each.tags.add("said again")
        for anchor in self.anchors_in(0, word.start):
            anchor.dropped = True

    def override(self, word: Mention) -> None:
        for each in self.said[bisect_left(self.starts, word.end) :]:
            each.tags.add("override")

    def disregard(self, word: Mention) -> None:
        breaks = self.events.breaks
        start = breaks.sentence_start(word.start)
        if not any(each.start >= start for each in self.before(word.start)):
            start = breaks.sentence_start(max(0, start - 1))
        for each in list(self.before(word.start)):
            if each.start < start:
                break
            self.drop(each)
            each.inner.clear()
        for anchor in self.anchors_in(start, word.start):
            anchor.dropped = True

    def strike(self, word: Mention) -> None:
        new = self.after(word.end)
        old = next(self.before(word.start), None)
        if new is not None and old is not None and _alike(old, new):
            gap = self.events.breaks.between(word.end + 2, new.start)
            if gap < 2 and not self.anchors_in(word.end, new.start):
                self.correct(word)
                return
        if old is not None:
            self.drop(old)

    def negative(self, word: Mention) -> None:
        new = self.after(word.end)
        old = next(self.before(word.start), None)
        if old is None:
            if new is not None and new.start - word.end <= 2:
                new.doubts.append("misheard_polarity")
            return
        if new is not None and _alike(old, new) and new.start - word.end <= 40:
            self.correct(word)
        else:
            self.unanswered(word)

    def again(self, word: Mention) -> None:
        new = self.after(word.end)
        if new is not None:
            new.tags.add("again")

    def recited(self, word: Mention) -> None:
        """ "Bolt one ninety eight, that's what the book wants": was it done, or read out?"""
        old = next(self.before(word.start), None)
        if old is not None and self.events.breaks.between(old.end, word.start) < 2:
            old.doubts.append("instruction")

    def broken_off(self, word: Mention) -> None:
        new = self.after(word.end)
        if new is not None:
            new.doubts.append("self_repair")

    def hedge(self, word: Mention) -> None:
        breaks, text = self.events.breaks, self.events.text
        index = bisect_left(self.starts, word.start)
        if index < len(self.said) and self.said[index].start < word.end < self.said[index].end:
            return  # "looks like new" is an option of the card
        if self.inside_remark(word) or self._of_a_while(word):
            return
        start, end = breaks.sentence_start(word.start), breaks.sentence_end(word.end, len(text))
        clause = breaks.clause_end(word.end, len(text))
        for each in self.said[index:]:
            if each.start >= word.end:
                break
            each.doubts.append("hedged")  # "a clip or two"
        ahead = [
            each
            for each in self.said[bisect_left(self.starts, word.end) :][:4]
            if each.start < clause
        ]
        if ahead:
            for each in ahead:
                each.doubts.append("hedged")
            return
        behind = next((each for each in self.before(word.start) if each.start >= start), None)
        if behind is not None:
            behind.doubts.append("hedged")
            return
        later = self.after(word.end)
        if later is not None and later.start < end:
            later.doubts.append("hedged")

    def hearsay(self, word: Mention) -> None:
        """ "Both at five hundred, says the mate, I want to see that myself": all of that sentence,
        or of the one before where nothing else is told in its own."""
        breaks, text = self.events.breaks, self.events.text
        start, end = breaks.sentence_start(word.start), breaks.sentence_end(word.end, len(text))
        told = [each for each in self.said if start <= each.start < end]
        told = [each for each in told if each.end <= word.start or word.end <= each.start]
        if not told:
            last = next(self.before(word.start), None)
            start = start if last is None else breaks.sentence_start(last.start)
            told = [each for each in self.said if start <= each.start < word.start]
        for each in told:
            each.doubts.append("hedged")

    def _of_a_while(self, word: Mention) -> bool:
        """ "A minute or so", "a couple of turns or so": the hedge is on them, and on no value."""
        return word.text.lower() == "or so" and bool(
            _OF_A_WHILE.search(self.events.text[max(0, word.start - 40) : word.start])
        )

    def inside_remark(self, word: Mention) -> bool:
        """A hedge within the words of a remark ("should be ok")."""
        index = bisect_right(self.starts, word.start) - 1
        if index >= 0 and self.said[index].end >= word.end:
            self.said[index].doubts.append("hedged")
            return True
        return False


def repair(events: Events, card: Card) -> None:
    """Carry out the procedure words of `events`, in the order in which they were said."""
    acts = _Repair(events)
    acts.hesitations()
    following = "behind" if _trailing_tags(events) else "ahead"
    done = {
        "correction": acts.correct,
        "slip": acts.slip,
        "whole": acts.whole,
        "negative again": acts.override,
        "disregard": acts.disregard,
        "strike": acts.strike,
        "negative": acts.negative,
        "except": acts.exception,
        "say again": acts.again,
        "changed": acts.changed,
        "as found": lambda word: acts.tag(word, following),
        "as left": lambda word: acts.tag(word, following),
        "hedge": acts.hedge,
        "broken off": acts.broken_off,
        "recited": acts.recited,
        "hearsay": acts.hearsay,
    }
    for word, later in zip_longest(events.words, events.words[1:]):
        act = done.get(str(word.value))
        again = _said_once_more(word, later) or told_since.was_later(events, word)
        if act is not None and not again:
            act(word)
    acts.worked()
    found_states.mark(events, card)
    came_right.mark(events)
    reworked.mark(events, card)
    remaining.mark(events, card)
    acts.set_work_aside()
    acts.forget_work()
    _names_remain(events)


def _said_once_more(word: Mention, later: Mention | None) -> bool:
    """Whether the repair is named by the next word, too: "no, correction, ..." is one repair."""
    return (
        later is not None
        and word.value == "slip"
        and later.value in {"slip", "correction", "strike"}
        and later.start - word.end <= 2
    )


def _names_remain(events: Events) -> None:
    """The name in a remark that was taken back still names: "cotter pin fitted, negative, ..."."""
    for said in events.said:
        if said.dropped and said.replaced_by_repair:
            events.anchors.extend(cue for cue in said.inner if cue.mention.kind == "term")
    events.anchors.sort(key=lambda anchor: (anchor.start, -anchor.end))


def _trailing_tags(events: Events) -> bool:
    """Whether "as found" stands behind its value in this note ("180 as found, 205 as left")."""
    tags = [word for word in events.words if word.text.lower() in {"as found", "as left"}]
    if not tags:
        return False
    last = tags[-1]
    ends = [each for each in events.said if each.is_number]
    return bool(ends) and all(each.start < last.start for each in ends)
