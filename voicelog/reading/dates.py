"""Stage: dates and times of day, day first or month first; what can be either is asked about."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from voicelog.reading.chain import stage
from voicelog.reading.spoken import letters, separators
from voicelog.reading.times import NAME, TIME_WORDS
from voicelog.reading.years import CENTURY, YEARS, Years

if TYPE_CHECKING:
    from collections.abc import Iterator

    from spacy.tokens import Doc

    from voicelog.objects import Mention
    from voicelog.reading.passage import Passage
    from voicelog.reading.times import Found

_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            ("january", "jan"), ("february", "feb"), ("march", "mar"), ("april", "apr"),
            ("may",), ("june", "jun"), ("july", "jul"), ("august", "aug"),
            ("september", "sept", "sep"), ("october", "oct"), ("november", "nov"),
            ("december", "dec"),
        ),
        1,
    )
    for name in names
}  # fmt: skip
_FIGURES = 4
"""Figures said one by one that are no day with a year."""
_ALL_FIGURES = 8
"""Figures of a date said one by one."""
_PAUSES = frozenset({",", "-"})
_NAME_SIGNS = frozenset("-.,/")
_OPENERS = frozenset({"the", "half", "quarter", "noon", "midday", "midnight"})
"""Words that may begin a date or a time, besides figures and months."""
_NUMERIC_SIGNS = frozenset("-/.")
_SEPARATORS = frozenset({"slash", "stroke", "dash", "dot"})


@stage(NAME)
def dates(doc: Doc) -> None:
    """Read dates and clock times."""
    passage: Passage = doc._.passage
    doc._.dates = list(_read(passage))


def _read(passage: Passage) -> Iterator[Mention]:
    reader = _Dates(passage)
    texts = {atom.text for atom in passage.atoms}
    named = not texts.isdisjoint(_MONTHS)
    ordered = {"of", "the"} <= texts
    reader.separated = not texts.isdisjoint(_SEPARATORS)
    timed = not texts.isdisjoint(TIME_WORDS)
    index = 0
    while index < len(passage.atoms):
        reader.hear(index)
        if not reader.may_begin(index):
            index += 1
            continue
        found: Found | bool | None = None
        if not passage.claims[index]:
            found = (
                reader.numeric(index)
                or reader.in_figures(index)
                or reader.spoken_numeric(index)
                or reader.year_first(index)
                or ((named or ordered) and reader.day_first(index))
                or (named and reader.month_first(index))
                or (timed and reader.clock(index))
            )
        if not found or isinstance(found, bool):
            index += 1
            continue
        mention, last = found
        passage.claim(index, last, NAME)
        index = last
        yield mention


class _Dates(Years):
    def __init__(self, passage: Passage) -> None:
        super().__init__(passage)
        self.separated = False
        """Whether the passage says a separator at all."""
        self._heads = {phrase[0] for phrase in passage.cues.dates if phrase}
        self._named_until = -1
        """Up to this atom a date is expected, since its field was named."""

    def may_begin(self, at: int) -> bool:
        """A quick look whether a date or a time can begin at `at`."""
        text = self._atoms[at].text
        return self._passage.words[at] is not None or text in _MONTHS or text in _OPENERS

    def hear(self, at: int) -> None:
        """Remember where a date of the card is named."""
        if self._text(at) not in self._heads:
            return
        for phrase in self._passage.cues.dates:
            if phrase and phrase[0] == self._text(at):
                last = self._behind_name(at, phrase)
                if last is not None:
                    self._named_until = last + 3

    def _behind_name(self, at: int, phrase: tuple[str, ...]) -> int | None:
        """Index behind the name `phrase` at `at`, whatever signs stand in it: "cal. due"."""
        for word in phrase:
            if word in _NAME_SIGNS:
                continue
            while at < len(self._atoms) and self._text(at) in _NAME_SIGNS:
                at += 1
            if self._text(at) != word:
                return None
            at += 1
        return at

    # --- dates ------------------------------------------------------------------

    def numeric(self, at: int) -> Found | None:
        """ "2026-11-30", "30/11/2026", "11/12/2026"."""
        if self._text(at + 1) not in _NUMERIC_SIGNS:
            return None
        texts = [self._text(at + offset) for offset in range(5)]
        atoms = self._atoms[at : at + 5]
        if len(atoms) < 5 or any(not atom.glued for atom in atoms[1:]):
            return None
        if texts[1] != texts[3]:
            return None
        if any(atoms[index].shape != "digits" for index in (0, 2, 4)):
            return None
        if at and atoms[0].glued and self._atoms[at - 1].shape != "sign":
            return None
        following = self._atoms[at + 5] if at + 5 < len(self._atoms) else None
        if following is not None and following.glued and following.text in _NUMERIC_SIGNS:
            after = self._atoms[at + 6] if at + 6 < len(self._atoms) else None
            if after is not None and after.glued:
                return None
        first, second, third = texts[0], texts[2], texts[4]
        if len(first) == 4 and len(second) <= 2 and len(third) <= 2:
            return self._date(at, at + 5, int(third), int(second), int(first))
        if len(third) == 4 and len(first) <= 2 and len(second) <= 2:
            if int(third) not in YEARS:
                return None  # "bolts 1-6-1300"
            return self._either(at, int(first), int(second), int(third))
        named = at < self._named_until and max(map(len, (first, second, third))) == 2 == len(third)
        if texts[1] == "/" and (named or all(len(text) == 2 for text in (first, second, third))):
            return self._either(at, int(first), int(second), CENTURY + int(third), short=True)
        return None

    def in_figures(self, at: int) -> Found | None:
        """ "two zero two seven, zero four, two zero" and "20270420" behind the name of a date."""
        if at >= self._named_until or (at and self._figures_at(at - 1)):
            return None
        digits, last = "", at
        while len(digits) <= _ALL_FIGURES and (told := self._figures_at(last)):
            digits += told
            paused = self._text(last + 1) in _PAUSES and self._figures_at(last + 2)
            last += 2 if paused and len(digits) < _ALL_FIGURES else 1
        if len(digits) != _ALL_FIGURES or self._unit_follows(last):
            return None
        iso = _day(int(digits[6:]), int(digits[4:6]), int(digits[:4]))
        if iso is not None and iso.year in YEARS:
            return self._date(at, last, iso.day, iso.month, iso.year)
        first, second, year = int(digits[:2]), int(digits[2:4]), int(digits[4:])
        if year not in YEARS or not 0 < min(first, second) <= 12 or max(first, second) > 31:
            return None
        return self._either(at, first, second, year, last=last)

    def spoken_numeric(self, at: int) -> Found | None:
        """ "three slash nine slash twenty five"; "five six twenty twenty seven" behind the
        name of a date."""
        if self._passage.words[at] is None or not (self.separated or at < self._named_until):
            return None
        day = self._day_number(at)
        if day is None:
            return None
        second = self._separated(day[1])
        month = self._day_number(second)
        if month is None:
            return None
        third = self._separated(month[1])
        told = second > day[1] and third > month[1]
        if not told and not (at < self._named_until and (second, third) == (day[1], month[1])):
            return None
        year = self._year(third)
        if year is None or (told and self._text(day[1]) in ("-", "/")):
            return None
        found = self._either(at, day[0], month[0], year[0], short=year[2], last=year[1])
        return found if day[0] <= 12 or month[0] <= 12 else None

    def year_first(self, at: int) -> Found | None:
        """ "twenty twenty six dash twelve dash zero nine", as ISO 8601 orders a date."""
        named = at < self._named_until
        if self._passage.words[at] is None or not (self.separated or named):
            return None
        year = self._year(at)
        if year is None or year[2]:
            return None
        second = self._separated(year[1], paused=named)
        month = self._day_number(second)
        if month is None or second == year[1] or month[0] > 12:
            return None
        third = self._separated(month[1], paused=named)
        day = self._day_number(third)
        if day is None or third == month[1]:
            return None
        if "," in (self._text(second - 1), self._text(third - 1)) and not self._ends(day[1]):
            return None
        return self._date(at, day[1], day[0], month[0], year[0])

    def _separated(self, at: int, *, paused: bool = False) -> int:
        """Index behind a separator at `at`: "slash", "stroke", "dash", "dot", perhaps a pause."""
        pause = paused and self._text(at) == ","
        return at + 1 if pause or self._text(at) in (*_SEPARATORS, "/", "-", "point") else at

    def _either(
        self,
        at: int,
        first: int,
        second: int,
        year: int,
        *,
        short: bool = False,
        last: int | None = None,
    ) -> Found | None:
        end = at + 5 if last is None else last
        doubts: tuple[str, ...] = ("no_year",) if short else ()
        if first > 12 or first == second:
            return self._date(at, end, first, second, year, doubts)
        if second > 12:
            return self._date(at, end, second, first, year, doubts)
        other = _day(second, first, year)
        return self._date(at, end, first, second, year, ("ambiguous_date", *doubts), other)

    def _month(self, at: int) -> tuple[int, int] | None:
        """(month, index behind) of a month's name at `at`."""
        month = _MONTHS.get(self._text(at))
        if month is None:
            return None
        after = at + 1
        if self._text(after) == "." and len(self._text(at)) <= 4 and self._numeric_at(after + 1):
            after += 1
        return month, after

    def day_first(self, at: int) -> Found | None:
        """ "the thirtieth of november twenty twenty six", "30 Nov 2026", "30NOV2026"."""
        start = at + 1 if self._text(at) == "the" else at
        day = self._day_number(start)
        if day is None:
            return None
        after = day[1]
        plain = self._text(after) == "of" or self._of_by_ear(start, after)
        if plain or self._text(after) in ("-", "/"):
            after += 1
        month = self._month(after) or (self._month_by_number(after) if plain else None)
        if month is None:
            return None
        year = self._year(month[1])
        if year is None and not plain and self._text(after) in ("november", "may", "march"):
            spoken = self._atoms[start].shape == "word" and not self._numerals(start).ordinal(start)
            if spoken or self._spells_on(month[1]):
                return None  # "six november" spells letters
        return self._dated(at, day[0], month[0], year, month[1])

    def _of_by_ear(self, start: int, after: int) -> bool:
        """The "on" of "twenty second on February twenty twenty eight", where "of" was said."""
        if self._text(after) not in ("on", "or", "off"):
            return False
        ordinal, month = self._numerals(start).ordinal(start), self._month(after + 1)
        whole = ordinal is not None and ordinal.last == after and month is not None
        year = self._year(month[1]) if whole and month is not None else None
        return year is not None and not year[2]

    def _month_by_number(self, at: int) -> tuple[int, int] | None:
        """ "The sixth" in "fourteenth of the sixth twenty twenty three"."""
        if self._text(at) != "the":
            return None
        ordinal = self._numerals(at + 1).ordinal(at + 1) if at + 1 < len(self._atoms) else None
        if ordinal is None or not 1 <= ordinal.value <= 12 or self._year(ordinal.last) is None:
            return None
        return int(ordinal.value), ordinal.last

    def _spells_on(self, at: int) -> bool:
        """Whether the row of letters and figures goes on at `at` ("6 November slash 6 2 6")."""
        text = self._text(at)
        if text in _SEPARATORS or (text,) in separators() or (text,) in letters():
            return True
        return self._numeric_at(at)

    def month_first(self, at: int) -> Found | None:
        """ "november thirtieth twenty twenty six", "Nov. 30, 2026"."""
        month = self._month(at)
        if month is None or self._is_letter(at):
            return None
        after = month[1]
        if self._text(after) in ("the", "-"):
            after += 1
        day = self._day_number(after)
        whole = self._year(after)
        if whole is not None and not whole[2] and whole[0] >= CENTURY:
            mention = self._passage.mention("date", at, whole[1], NAME, doubts=("no_day",))
            return mention, whole[1]
        if day is None:
            return None
        year = self._year(day[1])
        ordinal = self._numerals(after).ordinal(after)
        named = at < self._named_until
        if year is None and not named and (ordinal is None or ordinal.last != day[1]):
            return None  # "november six six" spells letters and figures
        if year is not None and year[2] and ordinal is None and self._text(day[1]) != ",":
            return None
        return self._dated(at, day[0], month[0], year, day[1])

    def _is_letter(self, at: int) -> bool:
        """Whether a "november" at `at` spells: "serial number november two zero zero zero", or any
        row of figures said one by one where no date is named."""
        if self._text(at) != "november" or not self._text(at + 1).isalpha():
            return False
        before = self._text(at - 1)
        if before in ("number", "no") or (before,) in letters():
            return True
        row = self._passage.words[at + 1 : at + 1 + _FIGURES]
        singly = len(row) == _FIGURES and all(word and word.kind == "figure" for word in row)
        return singly and at >= self._named_until

    def _dated(
        self, at: int, day: int, month: int, year: tuple[int, int, bool] | None, last: int
    ) -> Found:
        if year is None:
            mention = self._passage.mention("date", at, last, NAME, doubts=("no_year",))
            return mention, last
        doubts: tuple[str, ...] = ("no_year",) if year[2] else ()
        return self._date(at, year[1], day, month, year[0], doubts)

    def _date(
        self,
        first: int,
        last: int,
        day: int,
        month: int,
        year: int,
        doubts: tuple[str, ...] = (),
        other: date | None = None,
    ) -> Found:
        value = _day(day, month, year)
        if value is None:
            doubts = ("impossible_date",)
        if self._runs_on(last):
            doubts = (*doubts, "joined_digits")
        alternatives = () if other is None else (other,)
        mention = self._passage.mention(
            "date", first, last, NAME, value=value, alternatives=alternatives, doubts=doubts
        )
        return mention, last

    def _runs_on(self, at: int) -> bool:
        """Whether more figures are joined to a date that ends at `at`: "October 2020-26"."""
        joined = self._atoms[at : at + 2]
        return len(joined) == 2 and joined[0].text == "-" and joined[1].text.isdigit()


def _day(day: int, month: int, year: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


STAGE = dates
