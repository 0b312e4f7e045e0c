"""Judged: labels that are read out and then judged.

The label of a check may say what is good of it: "supply valve open". Read out whole, with a
verdict on it ("fail on the supply valve open", "supply valve open: fail"), it is the name of the
check and no finding. Nor is "checked" one where a verdict tells what came of it.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from itertools import pairwise
from operator import itemgetter
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLAIN
from voicelog.mapping.whereabouts import EXCEPTING, JOIN
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Breaks, Cue, Said, Spot

Item = tuple[int, int, int | None]
"""A name: where it begins and ends, and which label it is; None for one that tells nothing."""
_TOLD_OF_IT = frozenset({"is", "are", "was", "were", "been", "all", "both", "isn't", "aren't"})
"""With these words somebody tells how it is, and reads out nothing."""
_ON = re.compile(r"\s+(?:on|for)\s+(?:(?:the|that|this|my|our|your)\s+)?", re.IGNORECASE)
_EXCEPT = re.compile(rf"\b(?:{EXCEPTING})\s+(?:the\s+)?", re.IGNORECASE)
_HEADS = re.compile(r"\s*(?P<sign>[:.]?)\s+(?:(?:on|at|the)\s+)*", re.IGNORECASE)
_WITH = re.compile(r"(?:\s+wrong)?\s+with\s+(?:(?:the|that|this)\s+)?", re.IGNORECASE)
_IS = re.compile(
    r"\s*(?:[:=]\s*|\s[-–—]+\s+)?(?:(?:is|are|was|were|gets?|got|has|have|had|been|a|an|also|just|still|now|(?:comes?|came|turns?|turned)\s+out)\s+)*"
    r"|\s*[,;:–—-]*\s*(?:and\s+)?(?:that|it|this|which|they)(?:['’](?:s|re)|\s+(?:is|was|are|were|gets))\s+"
    r"(?:(?:a|an|another|also|just|still|now)\s+)*",
    re.IGNORECASE,
)
""" "..., that's a fail", "... is a pass": the verdict is on what was named."""
_PAUSE = re.compile(r"\s*,\s*|\s+[-–—]+\s*")
_OF_IT = re.compile(
    r"\s*(?:(?:on|at|in|of|the|for)\s+)*",
    re.IGNORECASE,
)
_EVERY = re.compile(
    r"[\s,:;–—-]*(?:all|both|each|every\s+one)\b(?:\s+(?:of\s+(?:them|those)|two|three|four))?"
    r"(?:\s+(?:are|were|is|was|a|get|got))*\s*",
    re.IGNORECASE,
)
_CHECKED = re.compile(
    r"\s*[,:;–—-]?\s*(?:(?:and|it|they|that|all|is|are|was|were|found|came|out)\b(?:['’](?:s|re))?\s*)*",
    re.IGNORECASE,
)
_ENDS = re.compile(
    r"\s*(?:[,.;:!?–—]|-\s|\Z)"
    r"|\s+(?:and|apart|as|aside|bar|because|but|due|except|left|other\s+than|save|needs?|now|on|at|in|since|so|then|there|this|today|too)\b",
    re.IGNORECASE,
)


def named_only(
    said: list[Said], cues: Sequence[Cue], spots: Sequence[Spot], breaks: Breaks, text: str
) -> list[Said]:
    """`said` without labels that are only read out, and without "checked" before a verdict."""
    told = _Judged(cues, spots, breaks, text)
    return told.without_labels(told.without_checked(said))


class _Judged:
    def __init__(
        self, cues: Sequence[Cue], spots: Sequence[Spot], breaks: Breaks, text: str
    ) -> None:
        self.cues = [cue for cue in cues if not cue.in_spot and cue.plainest >= PLAIN]
        self.spots = spots
        self.breaks = breaks
        self.text = text
        self.checked: dict[int, Said] = {}
        """What was checked before a verdict, by the identity of the verdict."""
        self.items: list[Item] = []

    def without_checked(self, said: list[Said]) -> list[Said]:
        """`said` without "checked" where a verdict tells what came of it: "lanyard checked,
        failed"."""
        self.checked = {
            id(verdict): done
            for done, verdict in pairwise(said)
            if _is_done(done) and _is_verdict(verdict) and self._came_of(done, verdict)
        }
        dropped = {id(done) for done in self.checked.values()}
        return [each for each in said if id(each) not in dropped]

    def _came_of(self, done: Said, verdict: Said) -> bool:
        told = _CHECKED.fullmatch(self.text, done.end, verdict.start)
        return told is not None and not self._goes_to(verdict)

    def without_labels(self, said: list[Said]) -> list[Said]:
        """`said` without labels that a verdict is on."""
        labels = [(each.start, each.end, at) for at, each in enumerate(said) if _is_label(each)]
        if not labels and not any(each.kind == "count" for each in said):
            return said
        inner = {id(cue) for _, _, at in labels for cue in said[at].inner}
        free = [(cue.start, cue.end, None) for cue in self.cues if id(cue) not in inner]
        self.items = sorted((*labels, *free), key=itemgetter(0))
        names = self._asked(said) | self._headings(said)
        for at in range(len(said) - 1, 0, -1):
            if _is_verdict(said[at]):
                names |= self._judged(said, at, names)
        return [each for at, each in enumerate(said) if at not in names]

    def _headings(self, said: Sequence[Said]) -> set[int]:
        """ "End stops tight: left good, right fail", "end stops tight right bent, fail": a label
        before a place that has a verdict of its own."""
        names: set[int] = set()
        for _, end, at in self.items:
            lead = _HEADS.match(self.text, end)
            if at is None or lead is None:
                continue
            spot = next((spot for spot in self.spots if spot.start == lead.end()), None)
            if spot is None or (not lead["sign"] and len(spot.names) > 1):
                continue
            until = self.breaks.sentence_end(spot.end, len(self.text))
            own = [each for each in said if _is_verdict(each) and spot.end <= each.start < until]
            starts = (*(cue.start for cue in self.cues), *(each.start for each in self.spots))
            other = min((start for start in starts if start >= spot.end), default=until)
            told = bool(own) and own[0].start <= other
            if told and (lead["sign"] != "." or len(own) > 1):
                names.add(at)
        return names

    def _asked(self, said: Sequence[Said]) -> set[int]:
        """ "Fail on the supply valve open and the drain shut"; behind a mere pause the second may
        be what was found, and is asked about."""
        links = [m.end() for m in _EXCEPT.finditer(self.text)]
        links += [
            link.end()
            for each in said
            if _is_verdict(each) or each.mention.text.lower().startswith("nothing")
            for link in [(_ON if _is_verdict(each) else _WITH).match(self.text, each.end)]
            if link is not None
        ]
        names: set[int] = set()
        for first, (start, _, _) in enumerate(self.items):
            if start not in links:
                continue
            chain, joined = [self.items[first]], False
            for item in self.items[first + 1 :]:
                join = JOIN.fullmatch(self.text, chain[-1][1], item[0])
                if join is None or self._has_own(said, item):
                    break
                chain.append(item)
                joined = "and" in join[0].lower().split()
            named = [at for _, _, at in chain if at is not None]
            kept = named if joined else [at for at in named if said[at].start == start]
            names |= {*kept}
            for at in named[len(kept) :]:
                said[at].doubts.append("contradiction")
        return names

    def _has_own(self, said: Sequence[Said], item: Item) -> bool:
        """Whether a verdict stands right behind a name."""
        verdicts = (each for each in said if _is_verdict(each) and each.start >= item[1])
        verdict = next(verdicts, None)
        return verdict is not None and bool(_IS.fullmatch(self.text, item[1], verdict.start))

    def _judged(self, said: Sequence[Said], at: int, names: set[int]) -> set[int]:
        """The labels before the verdict at `at` that it is on: "supply valve open and drain shut
        fail"; where the words leave open which, they are asked about."""
        verdict = said[at]
        index = bisect_left(self.items, verdict.start, key=itemgetter(0)) - 1
        if index < 0:
            return set()
        start, end, label = self.items[index]
        every = _EVERY.fullmatch(self.text, end, verdict.start) is not None
        if said[at - 1].start > start and not (every and said[at - 1].kind == "count"):
            return set()
        told = label is not None and self._told(said, label, verdict, names)
        failed = verdict.mention.value == "fail"
        near = _IS.fullmatch(self.text, end, verdict.start) or _PAUSE.fullmatch(
            self.text, end, verdict.start
        )
        found = {label} if told and label is not None else set()
        if said[at - 1].start > start:
            found.add(at - 1)  # "all three fail"
        if not (every or told or near):
            return found
        joined, since = every, start
        for first, until, name in reversed(self.items[:index]):
            join = JOIN.fullmatch(self.text, until, since)
            if join is None:
                break
            joined = joined or (since == start and "and" in join[0].lower().split())
            since = first
            sure = joined and (label is None or told or every)
            if name is None or not (failed or (sure and said[name].mention.value != "pass")):
                continue
            if sure:
                found.add(name)
            elif label is not None:
                said[name].doubts.append("contradiction")
        if failed and every and label is not None:
            found.add(label)
        return found

    def _told(self, said: Sequence[Said], at: int, verdict: Said, names: set[int]) -> bool:
        """ "Supply valve open is a fail", "supply valve open, fail": behind a pause only where the
        verdict can be on nothing else, and the label is not told of the thing."""
        label = said[at]
        if not _ENDS.match(self.text, verdict.end) or self._goes_to(verdict):
            return False
        done = self.checked.get(id(verdict))
        between = self._between(label, done or verdict)
        if (_CHECKED if done else _IS).fullmatch(between) or _EVERY.fullmatch(between):
            return True
        if not _PAUSE.fullmatch(between):
            return False
        return not self._on_another(said, at) and not self._first(said, at, names)

    def _between(self, label: Said, verdict: Said) -> str:
        """What stands between the two, without the places of the label: "open on left, fail"."""
        since, words = label.end, ""
        for spot in self.spots:
            if label.end <= spot.start and spot.end <= verdict.start:
                lead = _OF_IT.fullmatch(self.text, since, spot.start)
                words += "" if lead else self.text[since : spot.end]
                since = spot.end
        return words + self.text[since : verdict.start]

    def _goes_to(self, verdict: Said) -> bool:
        """Whether a verdict is on what is named behind it: "..., fail on the pump"."""
        link = _ON.match(self.text, verdict.end)
        return link is not None and any(cue.start == link.end() for cue in self.cues)

    def _on_another(self, said: Sequence[Said], at: int) -> bool:
        """Whether something else stands in the sentence before the label that has no verdict yet:
        "lower hose, no leaks, fail"."""
        start = self.breaks.sentence_start(said[at].start)
        before = said[at - 1] if at and said[at - 1].start >= start else None
        if before is not None and not _is_verdict(before):
            return True
        since = start if before is None else before.end
        return any(since <= cue.start and cue.end <= said[at].start for cue in self.cues)

    def _first(self, said: Sequence[Said], at: int, names: set[int]) -> bool:
        """Whether the verdict may be the first word on the next label: "..., fail, drain shut"."""
        verdict, after = said[at + 1], said[at + 2] if at + 2 < len(said) else None
        if after is None or at + 2 in names or not _is_label(after):
            return False
        open_ = _PAUSE.fullmatch(self.text, verdict.end, after.start) is not None
        if open_ and verdict.mention.value == "fail":
            after.doubts.append("contradiction")
        return open_


def _is_verdict(said: Said) -> bool:
    return said.kind == "remark" and "verdict" in said.mention.qualifiers


def _is_done(said: Said) -> bool:
    """Whether a remark only tells that somebody looked: "checked", "tested"."""
    plain = said.kind == "remark" and said.mention.value == "pass" and not said.mention.negated
    return plain and said.mention.text.lower() in talk().remarks.undone


def _is_label(said: Said) -> bool:
    """Whether the words of a remark are the whole name of a check, and nothing more."""
    if said.kind != "remark" or said.mention.negated or _is_verdict(said):
        return False
    words = _TOLD_OF_IT.intersection(said.mention.text.lower().split())
    whole = (cue for cue in said.inner if (cue.start, cue.end) == (said.start, said.end))
    return any(
        cue.mention.kind == "term" and cue.plainest >= PLAIN and words <= {*cue.canonical.split()}
        for cue in whole
    )
