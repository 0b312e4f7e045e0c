"""Times of day: "14:35", "two thirty pm", "half past three", "1435 zulu"."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from voicelog.objects import Mention, Value
    from voicelog.reading.numerals import Numerals
    from voicelog.reading.passage import Passage

NAME = "dates"
"""The stage that reads them."""
_CODES = frozenset({"serial", "part", "batch", "lot", "tool", "number"})
"""Words before figures and "zulu" that make them a code."""
TIME_WORDS = frozenset({
    "am", "pm", "m", "o'clock", "oclock", "past", "zulu", "utc", "gmt", "local", "noon",
    "midday", "midnight", "quarter", ":",
})  # fmt: skip
"""Without one of these there is no time of day in a passage."""

Found = tuple["Mention", int]


class Times:
    """Reads times of day out of a passage."""

    def __init__(self, passage: Passage) -> None:
        self._passage = passage
        self._atoms = passage.atoms
        self._texts = passage.texts

    def _text(self, at: int) -> str:
        try:
            return self._texts[at]
        except IndexError:
            return ""

    def _numerals(self, at: int) -> Numerals:
        return self._passage.numerals(at)

    def _numeric_at(self, at: int) -> bool:
        return at < len(self._atoms) and self._numerals(at).starts_number(at)

    def _day_number(self, at: int) -> tuple[int, int] | None:
        """A day of a month at `at`, cardinal or ordinal."""
        if at >= len(self._atoms) or self._passage.claims[at]:
            return None
        numerals = self._numerals(at)
        ordinal = numerals.ordinal(at)
        if ordinal is not None and 1 <= ordinal.value <= 31:
            return int(ordinal.value), ordinal.last
        pair = numerals.pair(at)
        if pair is not None and 10 <= int(pair[0]) <= 31:
            return int(pair[0]), pair[1]
        atom = self._atoms[at]
        if atom.shape == "digits":
            return (int(atom.text), at + 1) if 1 <= int(atom.text[:4]) <= 31 else None
        zero = numerals.is_weak_zero(at) or self._text(at) in ("zero", "nought")
        if zero and numerals.figures(at + 1) is not None:
            at += 1  # "oh three"
        single = numerals.figures(at)
        if single is not None and len(single[0]) == 1 and single[0] != "0":
            return int(single[0]), single[1]
        return None

    def clock(self, at: int) -> Found | None:
        """ "14:35", "two thirty pm", "half past three", "three o'clock", "1435 zulu"."""
        word = {"noon": "12:00", "midday": "12:00", "midnight": "00:00"}.get(self._text(at))
        if word is not None:
            return self._passage.mention("time", at, at + 1, NAME, value=word), at + 1
        return self._colon(at) or self._past(at) or self._spoken_time(at)

    def _colon(self, at: int) -> Found | None:
        if self._text(at + 1) != ":":
            return None
        texts = [self._text(at + offset) for offset in range(3)]
        atoms = self._atoms[at : at + 3]
        if len(atoms) < 3 or texts[1] != ":" or not (atoms[1].glued and atoms[2].glued):
            return None
        if atoms[0].shape != "digits" or atoms[2].shape != "digits" or len(texts[2]) != 2:
            return None
        hour, minute = int(texts[0][:4]), int(texts[2])
        if minute > 59 or len(texts[0]) > 2 or (at and self._text(at - 1) == ":"):
            return None
        return self._time(at, at + 3, hour, minute, written=True)

    def _past(self, at: int) -> Found | None:
        text = self._text(at)
        if text in ("half", "quarter"):
            minutes, after = (30 if text == "half" else 15), at + 1
        else:
            small = self._day_number(at)
            if small is None:
                return None
            minutes, after = small
            if self._text(after) in ("min", "minutes", "minute"):
                after += 1
        direction = self._text(after)
        if direction not in ("past", "to") or minutes > 59 or not self._numeric_at(after + 1):
            return None
        hour = self._day_number(after + 1)
        if hour is None or hour[0] > 12:
            return None
        if direction == "to" and text not in ("quarter",) and self._half(hour[1]) is None:
            return None  # "ten to eleven" is a range
        total = hour[0] * 60 + (minutes if direction == "past" else -minutes)
        if total < 60:
            total += 720
        return self._time(at, hour[1], total // 60, total % 60)

    def _half(self, at: int) -> tuple[str, int] | None:
        """ "am" or "pm" at `at`, also as "p m" and "p.m."."""
        text = self._text(at)
        if text in ("am", "pm"):
            return text, at + 1
        if text not in ("a", "p"):
            return None
        after = at + 1
        if self._text(after) == ".":
            after += 1
        if self._text(after) != "m":
            return None
        after += 1
        if self._text(after) == "." and self._atoms[after].glued:
            after += 1
        return text + "m", after

    def _spoken_time(self, at: int) -> Found | None:
        if not self._numeric_at(at):
            return None
        number = self._numerals(at).whole_number(at)
        if number is None or len(number.digits) > 4 or number.value < 0:
            return None
        after = number.last
        digits = number.digits
        o_clock = self._text(after) in ("o'clock", "oclock")
        if o_clock and self._is_place(digits):
            return None
        if o_clock:
            after += 1
        half = self._half(after)
        zone = self._text(after) in ("zulu", "utc", "gmt", "local") and len(digits) == 4
        if zone and not _CODES.isdisjoint(self._text(at - back) for back in range(1, 4)):
            return None  # "serial number one one four nine zulu"
        if not (o_clock or half or zone) or (len(digits) > 2 and o_clock):
            return None
        hour, minute = (
            (int(digits), 0) if len(digits) <= 2 else (int(digits[:-2]), int(digits[-2:]))
        )
        if hour > 24 or minute > 59:
            return None
        if zone:
            last = after + 1
            mention = self._passage.mention(
                "time",
                at,
                last,
                NAME,
                value=f"{hour:02d}:{minute:02d}",
                qualifiers=frozenset({"zulu"} if self._text(after) != "local" else {"local"}),
            )
            return mention, last
        return self._time(at, after, hour, minute)

    def _is_place(self, digits: str) -> bool:
        """Whether "twelve o'clock" is a place of the card and no time of day."""
        hour = int(digits)
        return any(hour in group.numbers for group in self._passage.cues.groups) and hour <= 12

    def _time(
        self, first: int, last: int, hour: int, minute: int, *, written: bool = False
    ) -> Found | None:
        half = self._half(last)
        doubts: tuple[str, ...] = ()
        alternatives: tuple[Value, ...] = ()
        if half is not None:
            if not 1 <= hour <= 12:
                return None
            hour = hour % 12 + (12 if half[0] == "pm" else 0)
            last = half[1]
        elif self._text(last) in ("zulu", "utc", "gmt"):
            last += 1
        elif hour <= 12 or hour > 23:
            doubts = ("ambiguous_time",)
            other = f"{(hour + 12) % 24:02d}:{minute:02d}"
            alternatives = (Decimal(hour * 60 + minute),) if written else (other,)
        if hour > 23:
            return None if not written else self._duration(first, last, hour, minute)
        value = f"{hour:02d}:{minute:02d}"
        mention = self._passage.mention(
            "time", first, last, NAME, value=value, doubts=doubts, alternatives=alternatives
        )
        return mention, last

    def _duration(self, first: int, last: int, hour: int, minute: int) -> Found:
        """ "125:30" can only be hours and minutes."""
        mention = self._passage.mention(
            "quantity",
            first,
            last,
            NAME,
            value=Decimal(hour * 60 + minute),
            unit="minute",
            doubts=("hours_and_minutes",),
        )
        return mention, last
