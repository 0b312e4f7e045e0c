"""Adjusted: values as found and as left, and looking around a word of the talk."""

from __future__ import annotations

import re
from bisect import bisect_left
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping import found_states
from voicelog.mapping.row import PLAIN, Cue, Spot

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Mention

REACH = 90
"""Characters after a repair word in which its replacement must begin."""
FOUND = frozenset({"as found", "as found weak"})
LEFT = frozenset({"as left", "as left weak"})
_STAGES = FOUND | LEFT
_VERB_REACH = 40
"""Characters between "left at" or its like and the value that it speaks of, at most."""
_TRAILING = re.compile(
    r"(?:on arrival|initially|originally|before|after|now|at first|to (?:start|begin) with|when)\b"
)
_BARE = frozenset({"found", "left"})
_AT_FIRST = re.compile(r"(?:initial|original)ly|at first|to (?:start|begin) with")
"""Words that tell of a change to come: what was so at first is not what stands."""
_ONLY = re.compile(
    r"\s*,\s*(?:(?:only|just|barely|hardly|well|reading|showing|down|up|at|about|with|it|read|was|showed|i|got)\s+)*",
    re.IGNORECASE,
)
_ON = re.compile(r"\s+(?:on|at|for|in|of|all|each|both)\b", re.IGNORECASE)
_WORKED_TO = re.compile(
    r"[\s,;]*(?:(?:and|then|so|but|i|we)\s+)*"
    r"(?!used|need|compar|limit|rat|allow|suppos|dropp|climb|jump|slipp|refer|round|test|clos|open"
    r"|chang|point|respond|belong|mov)[a-z]{2,}ed\s+(?:(?:it|them|that|this|back|up|down|in|out|off)\s+)*"
    r"(?:with\s+(?:[a-z]+\s+){1,3}?)?to\s+(?:about\s+)?",
    re.IGNORECASE,
)
""" "Was nought point one eight, shimmed to nought point oh six": whatever the work was."""
_AFTER_IT_IS = re.compile(
    r"[\s,]*(?:(?:and|but)\s+)?(?:after|with|following)\s+(?:the|a|an|my|some|new)\s+[^,.;\d]{2,40}?\s"
    r"(?:it|that|they)(?:\s+(?:is|was|are|were|reads|came\s+to|comes\s+to)|['’](?:s|re))\s+",
    re.IGNORECASE,
)
""" "Was fourteen, after the pitch rod it is five": whatever was done meanwhile."""
_WORKS = re.compile(
    r"[\s,]*(?:(?:and|then|so|but|i|we|i['’]ve|we['’]ve|had|to|just|only)\s+)*"
    r"(?!measured|checked|dropped|climbed|used|reached|showed|jumped|needed|loaded|waited|returned)"
    r"(?:[a-z]{2,}ed|took|gave|given|put|wound|let|brought|drew|drove|ran|cut|got|slid|bent|ground)\b",
    re.IGNORECASE,
)
""" "Took up two turns", "backed the bolt off half a turn": work, whatever it was."""
_CLOSED = re.compile(r"[,.;]|\s+and\b(?!\s+(?:left|found|as)\b)", re.IGNORECASE)
_LEAD = re.compile(r"\s*(?:(?:on|at|for)\s+)?(?:the\s+)?", re.IGNORECASE)
_PAUSES = re.compile(r"\s*(?:,|\band\b|,\s*and\b)\s*", re.IGNORECASE)
_BASE_FORM = re.compile(
    r"(?:re-?)?(?:adjust|fill|inflate|deflate|charge|increase|raise|reduce|lower|tighten|slacken"
    r"|torque|tension|change|correct|service|pump|bleed|top|bring|take|turn|wind|back|ease|slack"
    r"|nip|shim)\s",
    re.IGNORECASE,
)
""" "Charge to" is what a recogniser makes of "charged to", and it is what a plan says."""


_WORK = re.compile(
    r"[\s,]*(?:and\s+)?(?:after|with|following|once)\s+(?:[^\W\d_]+ing\s+)?(?:(?:the|a|an|some|my)\s+)?"
    r"(?:(?:new|fresh|other|extra)\s+)?",
    re.IGNORECASE,
)
""" "After the new shim", "with a fresh seal": what was done, before what came of it."""


class Adjusted:
    """Marks what was found and what was left."""

    def __init__(self, events: Events) -> None:
        self.events = events
        self.said = events.said
        self.starts = [each.start for each in self.said]
        self.anchors = events.anchors
        self.anchor_starts = [anchor.start for anchor in self.anchors]

    # --- looking around ---------------------------------------------------------

    def before(self, at: int) -> Iterator[Said]:
        """Values before `at` that still stand, last first."""
        for index in range(bisect_left(self.starts, at) - 1, -1, -1):
            if not self.said[index].dropped:
                yield self.said[index]

    def after(self, at: int) -> Said | None:
        index = bisect_left(self.starts, at)
        if index < len(self.said) and self.said[index].start - at <= REACH:
            return self.said[index]
        return None

    def anchors_in(self, start: int, end: int) -> list[Cue | Spot]:
        first, last = bisect_left(self.anchor_starts, start), bisect_left(self.anchor_starts, end)
        return [anchor for anchor in self.anchors[first:last] if not anchor.dropped]

    def drop(self, said: Said, replacement: Said | None = None) -> None:
        said.dropped = True
        said.replaced_by_repair = True
        if replacement is not None and not replacement.tags & _STAGES:
            replacement.tags |= said.tags & _STAGES
        if replacement is not None and not replacement.lent_units:
            replacement.lent_units = said.units

    def prefix_of(self, said: Said) -> list[Cue | Spot]:
        """Anchors between the value before `said` and `said` itself."""
        index = bisect_left(self.starts, said.start)
        start = self.said[index - 1].end if index else 0
        return self.anchors_in(start, said.start)

    def tag(self, word: Mention, following: str) -> None:
        """Mark the value that "as found" or "as left" speaks of."""
        breaks = self.events.breaks
        old = self._measured(next(self.before(word.start), None))
        new = self.after(word.end)
        value = str(word.value)
        stands = word.text.lower() in _BARE and self._stands_behind(word, old)
        if (
            not stands
            and word.text.lower() == "left"
            and (new is None or breaks.between(word.end, new.start))
        ):
            return
        weak = word.text.lower() in {"was", "were", "now"}
        if new is not None and (
            (breaks.between(word.end + 1, new.start) and not self._tells_first(word, new))
            or new.start - word.end > _VERB_REACH
        ):
            new = None
        lost = new is None and value == "as left" and old is not None
        if lost and old is not None and (self._set_aside(word) or self._is_garbled(old, word)):
            old.doubts.append("two_values")
        first_only = {"at first"} if _AT_FIRST.fullmatch(word.text.lower()) else set()
        behind = old is not None and self._is_at(old, word) and self._trails(word)
        if old is not None and (stands or self._closes(old, word)):
            behind, new = True, None
        if behind and old is not None and (new is None or following == "behind"):
            old.tags.add(f"{value} weak" if weak else value)
            old.tags |= first_only
            if value == "as left" and old.is_number:
                self._list_behind(old)
            if not old.is_number and value == "as found":
                self._go_on(word)
        elif new is not None:
            listed = list(self._list_from(new))
            if len(listed) == 1 and following == "ahead":
                listed = self._bare_list(new, value)
            if len(listed) > 1 and self._turns(word):
                return
            for each in listed:
                each.tags.add(f"{value} weak" if weak else value)
                each.tags |= first_only
            begin = self.events.clause_start(word.start)  # "pulled the lower up to 410"
            worked = _WORKS.match(self.events.text, begin, word.start)
            placed = any(isinstance(a, Spot) for a in self.anchors_in(word.start, word.end))
            if _BASE_FORM.match(word.text) and not (worked and placed):
                new.tags.add("instruction")

    def _stands_behind(self, word: Mention, old: Said | None) -> bool:
        """ "Three point eight nine found, three point nine two bar left": a bare "left" only where
        another value was found, and where it is no place of the card."""
        told = old is not None and (old.is_number or found_states.tells(old))
        if old is None or not told or word.start - old.end > 2:
            return False
        placed = any(isinstance(a, Spot) for a in self.anchors_in(word.start, word.end))
        found = any(FOUND & each.tags for each in self.before(old.end))
        return not placed and (found or word.text.lower() == "found")

    def _tells_first(self, word: Mention, new: Said) -> bool:
        """ "As left is off the scale, over two hundred": words that tell how it is, and the number
        behind them, with nothing else named between."""
        begin, text = word.end, self.events.text
        comma = text.find(",", begin, new.start)
        plain = word.text.lower() in {"as found", "as left"} and new.is_number
        told = plain and self.events.breaks.between(begin, new.start) == 1
        return told and bool(text[begin:comma].strip()) and not self.anchors_in(begin, new.start)

    def _measured(self, old: Said | None) -> Said | None:
        """The number of "0.9 mm of play" or "0.9 mm slack", where `old` is the play."""
        if old is None or "bare" not in old.mention.qualifiers:
            return old
        number = next(self.before(old.start), None)
        if number is None or not number.is_number:
            return old
        between = self.events.text[number.end : old.start]
        return number if between.strip().lower() in {"", "of"} else old

    def _go_on(self, word: Mention) -> None:
        """ "The cable was slack as found, only a hundred and ten on the meter": the number that
        tells how slack is the one found."""
        new = self.after(word.end)
        if (
            new is not None
            and new.is_number
            and _ONLY.fullmatch(self.events.text, word.end, new.start)
        ):
            new.tags.add("as found")

    def _set_aside(self, word: Mention) -> bool:
        """Whether a number behind "left at" and its like was taken for talk: then what was found
        before may not be what stands."""
        return any(
            each.is_number
            and 0 <= each.start - word.end <= _VERB_REACH
            and not self.events.breaks.between(word.end + 1, each.start)
            for each in self.events.aside
        )

    def _is_garbled(self, old: Said, word: Mention) -> bool:
        """ "75 bar, as left-handed I'm bar": there was a value, and the words for it are lost."""
        text = self.events.text
        end = self.events.breaks.clause_end(word.end, len(text))
        told = bisect_left(self.starts, end) > bisect_left(self.starts, word.end)
        apart = word.text.lower() == "as left" and word.start - old.end > 1
        return apart and not told and self.events.unexplained(word.end, end)

    def _list_from(self, first: Said) -> Iterator[Said]:
        """`first`, and the numbers at other places that are told in the same breath: "were
        thirty eight left and forty right"."""
        yield first
        last = first
        index = bisect_left(self.starts, first.start) + 1
        while first.is_number and index < len(self.said) and self.said[index].is_number:
            new = self.said[index]
            told = bool(self.events.words_in(last.end, new.start))
            apart = self.events.breaks.between(last.end, new.start) == 2
            placed = any(isinstance(a, Spot) for a in self.anchors_in(last.end, new.end + 24))
            if told or apart or not placed or new.dropped:
                return
            yield new
            last = new
            index += 1

    def _bare_list(self, first: Said, value: str) -> list[Said]:
        """`first`, and the numbers that follow it with nothing but pauses between: "as left 62, 62
        and 61", where as many were found or there are enough of them for a list."""
        listed = [first]
        for new in self.said[bisect_left(self.starts, first.start) + 1 :]:
            between = self.events.text[listed[-1].end : new.start]
            if new.dropped or not new.is_number or _PAUSES.fullmatch(between) is None:
                break
            listed.append(new)
        found = [each for each in self.before(first.start) if FOUND & each.tags]
        enough = len(listed) == len(found) if value == "as left" else len(listed) > 2
        return listed if enough else [first]

    def _list_behind(self, last: Said) -> None:
        """ "Left 0.7, right 0.8 as found, 0.4 and 0.45 as left": all of a bare list before the
        words is as left, and as many values before it are as found."""
        at = bisect_left(self.starts, last.start)
        first = at
        while first and self._goes_on(self.said[first - 1], self.said[first]):
            first -= 1
        left, found = self.said[first : at + 1], self.said[max(0, 2 * first - at - 1) : first]
        told = all(each.is_number and not LEFT & each.tags for each in found)
        if told and len(found) == len(left) > 1 and "as found" in found[-1].tags:
            for each, other in zip(left, found, strict=True):
                each.tags.add("as left")
                other.tags.add("as found")

    def _goes_on(self, one: Said, other: Said) -> bool:
        """Whether two numbers follow each other with nothing but a pause between, and nothing was
        told of the first."""
        between = self.events.text[one.end : other.start]
        return one.is_number and not one.tags and _PAUSES.fullmatch(between) is not None

    def _turns(self, word: Mention) -> bool:
        """ "..., now gate one ..., two ...": before a place from which a list begins, and where
        nothing was said to be so at first, the word may only turn to the next thing."""
        found = any({"as found", "as found weak"} & each.tags for each in self.before(word.start))
        spots = [a for a in self.anchors_in(word.end, word.end + 8) if isinstance(a, Spot)]
        lead = self.events.text[word.end : spots[0].start] if spots else "none"
        return not found and word.text.lower() == "now" and _LEAD.fullmatch(lead) is not None

    def _trails(self, word: Mention) -> bool:
        """Whether the words stand behind their value: "one eighty as found", "two oh five now"."""
        text = word.text.lower()
        if text.startswith("as "):
            return True
        trailing = _TRAILING.match(text) is not None
        clause = self.events.breaks.clause_end(word.end, len(self.events.text))
        rest = self.events.text[word.end : clause].strip().lower()
        return trailing and (not rest or rest.startswith("and "))

    def _closes(self, old: Said, word: Mention) -> bool:
        """Whether the words end the clause of the value before them: "0.19 as found, ...",
        "eighteen thou on all six now.", "six as left and right three"."""
        text, breaks = self.events.text, self.events.breaks
        if not _CLOSED.match(text, word.end) or not self._trails(word):
            return False
        head = self._name_of(word)
        apart = text[old.end : head].strip()
        located = _ON.match(text, old.end) and not breaks.between(old.end, head)
        return not apart or bool(located)

    def _name_of(self, word: Mention) -> int:
        """Where the name of a field begins that the words are the end of: "root clearance, as
        found"; where they begin themselves when they are of none."""
        over = self.anchors_in(max(0, word.start - REACH), word.start)
        names = (each for each in over if isinstance(each, Cue) and each.end >= word.end)
        return next((each.start for each in names), word.start)

    def _is_at(self, old: Said, word: Mention) -> bool:
        """Whether the words, or the name that they are the end of, stand right behind a value."""
        head = self._name_of(word)
        if head == word.start:
            return word.start - old.end <= 2
        return head >= old.end and _LEAD.fullmatch(self.events.text, old.end, head) is not None

    def changed(self, word: Mention) -> None:
        """ "Went from one eighty to two oh five": as found, then as left."""
        first = self.after(word.end)
        then = None if first is None else self.after(first.end)
        if first is None or then is None or not (first.is_number and then.is_number):
            return
        to = "to" in self.events.text[first.end : then.start].lower().split()
        if to and self.events.breaks.between(word.end, then.start) < 2:
            first.tags.add("as found")
            then.tags.add("as left")

    def worked(self) -> None:
        """ "Was 0.18, shimmed to 0.06": the second is what the work came to."""
        for found, left in pairwise(self.said):
            if not found.tags & {"as found", "as found weak"} or left.tags or not left.is_number:
                continue
            between = self.events.text, found.end, left.start
            if _WORKED_TO.fullmatch(*between) or _AFTER_IT_IS.fullmatch(*between):
                left.tags.add("as left")

    def set_work_aside(self) -> None:
        """ "Was thirty pounds, took up two turns at the turnbuckle, now it is forty": how much was
        done between what was found and what was left is no value, and what it was done to names
        no field of the value that came of it, which is asked about if it may."""
        standing = [each for each in self.said if each.is_number and not each.dropped]
        for index, found in enumerate(standing):
            left = next((e for e in standing[index + 1 : index + 4] if e.tags & LEFT), None)
            if left is None or not found.tags & FOUND or found.tags & LEFT:
                continue
            between = standing[index + 1 : standing.index(left)]
            if not between or not all(self._is_work(found.end, each) for each in between):
                continue
            for each in between:
                self.said.remove(each)
                self.events.aside.append(each)
            self.starts = [each.start for each in self.said]
            self._forget_names(self._since(found.end, between[0]), left)

    def _is_work(self, since: int, said: Said) -> bool:
        """Whether a number tells how much was done: "backed it off half a turn"."""
        begin = self._since(since, said)
        if said.tags or said.mention.unit not in {None, "turn"} or self._has_noun(said):
            return False
        return _WORKS.match(self.events.text, begin, said.start) is not None

    def _since(self, since: int, said: Said) -> int:
        """Where the words before a number begin: a clause, or behind a word of the talk."""
        told = [word.end for word in self.events.words_in(since, said.start)]
        return max(since, self.events.clause_start(said.start), *told)

    def _has_noun(self, said: Said) -> bool:
        """Whether a thing of the card is counted: "took out two shims"."""
        nouns = self.anchors_in(said.start, said.end + 2)
        return bool(nouns) and said.mention.unit is None

    def _forget_names(self, since: int, left: Said) -> None:
        told = [word.start for word in self.events.words_in(since, left.start)]
        named = self.anchors_in(since, max(told, default=since))
        for anchor in named:
            anchor.dropped = True
            if isinstance(anchor, Cue) and self._may_be_of(anchor, left):
                left.doubts.append("ambiguous_place")

    @staticmethod
    def _may_be_of(cue: Cue, said: Said) -> bool:
        """Whether the words plainly name a field of the step in which a value was said."""
        return any(p >= PLAIN and said.step in {None, at[0]} for at, p in cue.places.items())

    def forget_work(self) -> None:
        """ "0.4 as found, after the new shim 0.1 as left": what was done names no field of the
        value that came of it, which is asked about."""
        for found, left in pairwise(self.said):
            tags = "as found" in found.tags and "as left" in left.tags
            if not tags or self.events.breaks.between(found.end, left.start) == 2:
                continue
            named = self.anchors_in(found.end, left.start)
            if len(named) != 1 or not isinstance(named[0], Cue):
                continue
            told = [word.end for word in self.events.words_in(found.end, left.start)]
            since = max((at for at in told if at <= named[0].start), default=found.end)
            if _WORK.fullmatch(self.events.text, since, named[0].start):
                named[0].dropped = True
                left.doubts.append("ambiguous_place")
