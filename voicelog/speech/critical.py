"""The words of a transcript in which a mistake would change a value, in a form that compares.

Two readings of the same audio rarely agree letter by letter ("101 N·m", "one zero one Newton
metres"). So each is reduced to its critical items: figures, letters of identifiers, unit
words, places, verdicts, negations and procedure words, each with the stretch of text it came
from. This is no reading of values (that is the reading room's work); it only says where two
wordings differ in something that matters.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import TYPE_CHECKING

from voicelog.alignment import met

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence


def _words(text: str) -> list[str]:
    return text.split()


_FIGURES = {
    word: number
    for number, words in enumerate(
        ("zero oh nought", "one wun", "two", "three tree", "four fower", "five fife", "six",
         "seven", "eight ait", "nine niner", "ten", "eleven", "twelve", "thirteen", "fourteen",
         "fifteen", "sixteen", "seventeen", "eighteen", "nineteen")
    )
    for word in words.split()
}  # fmt: skip
_TENS = {
    word: 10 * number
    for number, word in enumerate(
        ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"), 2
    )
}
_ORDINALS = {
    word: number
    for number, word in enumerate(
        (
            "first",
            "",
            "third",
            "fourth",
            "fifth",
            "sixth",
            "seventh",
            "eighth",
            "ninth",
            "tenth",
            "eleventh",
            "twelfth",
            "thirteenth",
            "fourteenth",
            "fifteenth",
            "sixteenth",
            "seventeenth",
            "eighteenth",
            "nineteenth",
            "twentieth",
        ),
        1,
    )
    if word
}  # fmt: skip  "second" is a unit of time far more often
_POWERS = {"hundred": 100, "thousand": 1000}
_POINT = {"point", "decimal"}
# Spelling alphabet of ITU Radio Regulations appendix 14, with everyday spellings.
_ALPHABET = {
    word: word[0]
    for word in _words(
        "alfa alpha bravo charlie delta echo foxtrot golf hotel india juliett juliet kilo lima "
        "mike november oscar papa quebec romeo sierra tango uniform victor whiskey whisky xray "
        "yankee zulu"
    )
}
# Written short: what it stands for, word by word.
_SHORT = {
    "nm": "newton meter", "mm": "millimeter", "cm": "centimeter", "m": "meter", "um": "micron",
    "psi": "psi", "psis": "psi", "rpm": "rpm", "rpms": "rpm", "kpa": "kilopascal",
    "mpa": "megapascal", "kg": "kilogram", "lb": "pound", "lbs": "pound", "lbf": "pound",
    "ft": "foot", "in": "", "hz": "hertz", "khz": "kilohertz", "mv": "millivolt",
    "ma": "milliamp", "kn": "kilonewton", "kw": "kilowatt", "ml": "milliliter",
    "mph": "mile hour", "kph": "kilometer hour", "%": "percent", "°": "degree",
    "°c": "degree celsius", "°f": "degree fahrenheit", "° c": "degree celsius",
    "° f": "degree fahrenheit",
}  # fmt: skip
_UNIT_STEMS = _words(
    "newton kilonewton decanewton centinewton meter millimeter centimeter kilometer micron "
    "foot inch pound ounce psi bar millibar pascal kilopascal "
    "megapascal hectopascal kilogram gram ton tonne thou thousandth mil "
    "degree celsius centigrade fahrenheit kelvin volt millivolt kilovolt amp "
    "ampere milliamp ohm milliohm megohm megaohm kiloohm kilohm watt "
    "kilowatt horsepower liter milliliter quart pint gallon hour minute "
    "second day month rpm hertz kilohertz percent mercury drop "
    "landing cycle lux mile "
)
_UNITS = {stem: stem for stem in _UNIT_STEMS} | {
    "feet": "foot", "inches": "inch", "megaohm": "megohm", "kiloohm": "kilohm", "ampere": "amp",
    "centigrade": "celsius",
}  # fmt: skip
_MONTHS = frozenset(
    _words("january february march april may june july august september october november december")
)
_PLACES = frozenset(
    _words(
        "left right inboard outboard inner outer upper lower forward aft front rear top bottom "
        "middle centre center main standby primary secondary"
    )
)
_PLAIN = {
    "pass": "pass", "passed": "pass", "passes": "pass", "fail": "fail", "failed": "fail",
    "fails": "fail", "serviceable": "serviceable", "unserviceable": "unserviceable",
    "okay": "good", "ok": "good", "good": "good", "no": "no", "nil": "no", "not": "no",
    "none": "no", "without": "no", "never": "no", "negative": "negative", "within": "within",
    "outside": "outside", "above": "above", "below": "below", "correction": "correction",
    "disregard": "disregard", "over": "over", "minus": "minus", "plus": "plus", "about": "about",
    "half": "half", "quarter": "quarter", "quarters": "quarter", "double": "double",
    "triple": "triple", "removed": "removed", "fitted": "fitted", "cracked": "cracked",
    "damaged": "damaged", "undamaged": "undamaged", "isn't": "no", "wasn't": "no",
    "couldn't": "no", "can't": "no", "don't": "no", "doesn't": "no", "nothing": "no",
    "slash": "over", "stroke": "over", "/": "over",
}  # fmt: skip
_CONDITIONS = frozenset(
    _words(
        "leak seep weep crack corrosion rust nick dent score scratch wear chafe chafing play "
        "debris damage pit pitting burr fretting looseness slack grinding binding fraying loose "
        "tight worn bent broken missing locked secure free dirty blocked"
    )
)
"""What is found on a part, or how a part is found: it fills a check as a verdict does."""

_UNIT_NORMS = frozenset(_UNITS.values()) | {"mile", "psi", "rpm"}
_TURNING = frozenset(
    _words(
        "no pass fail serviceable unserviceable good negative within outside above below "
        "correction disregard over minus double triple half quarter ."
    )
)
"""Words that change what stands beside them."""

# Letters that spell a unit stay together; a figure, a word or a sign is a piece of its own.
_PIECE = re.compile(
    r"\b[Xx]-?ray\b"
    r"|\b(?:[Rr]\.?[ -]?[Pp]\.?[ -]?[Mm]|[Pp]\.?[ -]?[Ss]\.?[ -]?[Ii]|N[·.]m)\b"
    r"|°\s?[CF]\b|\d+(?:[.,]\d+)*|[A-Za-z]+(?:'[a-z]+)?|[%°/]"
)


@dataclass(frozen=True, slots=True)
class Item:
    """One critical item: what it is in comparable form, and where it stands in the text."""

    norm: str
    start: int
    end: int
    opens: bool = False
    """A figure with which a number begins: something stands between it and the one before."""

    @property
    def is_figure(self) -> bool:
        return self.norm.isdigit() or self.norm == "."


@dataclass(frozen=True, slots=True)
class Difference:
    """Where `text` and another wording differ: a stretch of `text` and of the other."""

    start: int
    end: int
    other_start: int
    other_end: int


class _Number:
    """Collects the figures of one spoken number: "two hundred and five", "2-0-5", "forty five"."""

    def __init__(self) -> None:
        self.parts: list[Item] = []
        self._thousands: int | None = None
        self._rest: int | None = None
        self._last = ""
        self._span = (0, 0)
        self._length = 0

    @property
    def open(self) -> bool:
        return bool(self.parts or self._last)

    def word(self, value: int, kind: str, span: tuple[int, int]) -> None:
        if kind == "power" and value == 100 and self._rest is not None and self._rest < 100:
            self._rest *= 100
        elif kind == "power" and value == 1000:
            self._thousands, self._rest = (self._rest or 1) * 1000, None
        elif self._last in ("power",) or (self._last == "tens" and kind == "unit" and value):
            self._rest = (self._rest or 0) + value
        else:
            self.put()
            self._rest, self._span = value, span
        self._span = (self._span[0], span[1])
        self._last = kind

    def figures(self, digits: str, span: tuple[int, int]) -> list[Item]:
        """A numeral. Single figures run on ("2-0-5"); longer ones each begin a number.

        Returns the items of the number that it ended.
        """
        whole = digits != "." and not (self.parts and self.parts[-1].norm == ".")
        apart = whole and bool(self.parts) and (len(digits) > 1 or self._length > 1)
        self.put()
        ended = list(self.close()) if apart else []
        self.parts += [Item(sign, *span) for sign in digits]
        self._length = len(digits) if whole else self._length
        return ended

    def put(self) -> None:
        if self._thousands is not None or self._rest is not None:
            value = (self._thousands or 0) + (self._rest or 0)
            self.parts += [Item(sign, *self._span) for sign in str(value)]
        self._thousands = self._rest = None
        self._last = ""

    def close(self) -> Iterator[Item]:
        self.put()
        parts, self.parts, self._length = self.parts, [], 0
        while parts and parts[-1].norm == ".":
            parts.pop()
        for index, item in enumerate(parts):
            yield Item(item.norm, item.start, item.end, opens=index == 0)


def items(text: str) -> tuple[Item, ...]:
    """The critical items of `text`, in order."""
    found: list[Item] = []
    number = _Number()
    end = 0
    for match in _PIECE.finditer(text):
        piece, span = match[0], match.span()
        between = text[end : span[0]]
        if re.search(r"[,;:.!?]\s|[,;:!?]$", between):
            found += number.close()
        end = span[1]
        found += _piece(piece, span, between, number)
    found += number.close()
    return tuple(found)


def _piece(piece: str, span: tuple[int, int], between: str, number: _Number) -> list[Item]:
    word = re.sub(r"[\s.·-]", "", piece.casefold()) if piece[0].isalpha() else piece.casefold()
    if piece[0].isdigit():
        digits = re.sub(r",(?=\d{3}(?!\d))", "", piece)
        first, *rest = digits.split(",")
        closed = number.figures(first, span)
        for part in rest:
            closed += number.close()
            number.figures(part, span)
        return closed
    if word in _POINT:
        return number.figures(".", span)
    if word == "and" and number.open:
        return []
    for table, kind in ((_TENS, "tens"), (_POWERS, "power"), (_FIGURES, ""), (_ORDINALS, "")):
        if word in table:
            value = table[word]
            number.word(value, kind or ("unit" if value < 10 else "teen"), span)
            return []
    if word in ("st", "nd", "rd", "th") and not between:
        return []
    closed = list(number.close())
    return closed + [Item(norm, *span) for norm in _norms(piece, word)]


def _norms(piece: str, word: str) -> Sequence[str]:
    if word in _ALPHABET:  # "November" too: beside letters it is one, in a date it compares as well
        return (f"letter {_ALPHABET[word]}",)
    if word in _PLACES or word in _MONTHS or word in _PLAIN:
        return (_PLAIN.get(word, word).replace("center", "centre"),)
    condition, unit = _condition(word), _unit(word)
    if condition or unit:
        return (condition or unit or "").split()
    if piece.isupper() and len(piece) <= 4 and piece not in ("A", "I"):
        return tuple(f"letter {sign}" for sign in word)
    return ()


def _condition(word: str) -> str | None:
    forms = (word, word.removesuffix("s"), word.removesuffix("es"), word.removesuffix("ing"))
    return next((form for form in forms if form in _CONDITIONS), None)


def _unit(word: str) -> str | None:
    if word in _SHORT:
        return _SHORT[word]
    spelt = re.sub(r"(met|lit)re", r"\1er", word)
    for form in (spelt, spelt.removesuffix("s"), spelt.removesuffix("es")):
        if form in _UNITS:
            return _UNITS[form]
    return None


def differences(text: str, other: str) -> tuple[Difference, ...]:
    """Stretches of `text` whose critical items `other` contradicts.

    A figure that opens a number here but continues one there differs too: "1, 74" is not
    "174". What `other` alone says counts where it would change a neighbour (a figure of the same
    number, a letter of the same code, a negation, a verdict, a procedure word); then that
    neighbour is the stretch. A unit that `other` merely lacks is no contradiction.
    """
    ours, theirs = items(text), items(other)
    matcher = SequenceMatcher(
        None, [item.norm for item in ours], [item.norm for item in theirs], autojunk=False
    )
    found = []
    for kind, a, b, c, d in matcher.get_opcodes():
        if kind == "equal":
            for mine, its in zip(range(a, b), range(c, d), strict=True):
                if _split_differs(ours, mine, theirs, its):
                    first = max(0, mine - 1)
                    found.append(_difference(ours, first, mine + 1, theirs, its, its + 1))
        elif kind == "insert":
            found += _said_more(ours, a, theirs, c, d)
        elif kind == "replace" or not all(item.norm in _UNIT_NORMS for item in ours[a:b]):
            found.append(_difference(ours, a, b, theirs, c, d))
    return tuple(found)


def other_words(text: str, other: str) -> Iterator[tuple[int, int]]:
    """Every word of `text` that `other` does not have in its place, critical or not."""
    ours, kept = _kept_words(text, other)
    yield from (match.span() for at, match in enumerate(ours) if at not in kept)


def same_words(text: str, start: int, end: int, other: str) -> bool:
    """Whether `other` has the words of `text[start:end]`, case and marks aside, in that place."""
    ours, kept = _kept_words(text, other)
    wanted = [at for at, match in enumerate(ours) if match.start() < end and start < match.end()]
    return kept.issuperset(wanted)


def _kept_words(text: str, other: str) -> tuple[list[re.Match[str]], set[int]]:
    """The words of `text`, and the numbers of those that `other` has as well, in order."""
    ours, theirs = ([*re.finditer(r"[\w'-]+", each)] for each in (text, other))
    mine, its = ([match[0].casefold() for match in words] for words in (ours, theirs))
    kept = {at for at, _ in met(mine, its)}
    return ours, kept


def _said_more(
    ours: Sequence[Item], at: int, theirs: Sequence[Item], c: int, d: int
) -> Iterator[Difference]:
    """`other` says `theirs[c:d]` between our items `at - 1` and `at`."""
    before = at > 0 and _continues(theirs, c)
    after = at < len(ours) and d < len(theirs) and _continues(theirs, d)
    if any(item.norm in _TURNING for item in theirs[c:d]):
        before, after = at > 0, at < len(ours)
    if before or after:
        first, last = at - 1 if before else at, at + 1 if after else at
        yield _difference(ours, first, last, theirs, c, d)


def _continues(of: Sequence[Item], at: int) -> bool:
    """Whether the item at `at` belongs to the same number or code as the one before it."""
    this, before = of[at], of[at - 1] if at else None
    if before is None:
        return False
    if this.is_figure and before.is_figure:
        return not this.opens
    spelt = [item.norm.startswith("letter ") or item.is_figure for item in (before, this)]
    return all(spelt) and (this.norm.startswith("letter ") or before.norm.startswith("letter "))


def _split_differs(ours: Sequence[Item], a: int, theirs: Sequence[Item], b: int) -> bool:
    def joined(items_: Sequence[Item], at: int) -> bool:
        return at > 0 and items_[at - 1].is_figure and not items_[at].opens

    if not ours[a].is_figure or a == 0 or b == 0:
        return False
    both_follow = ours[a - 1].is_figure and theirs[b - 1].is_figure
    return both_follow and joined(ours, a) != joined(theirs, b)


def _difference(
    ours: Sequence[Item], a: int, b: int, theirs: Sequence[Item], c: int, d: int
) -> Difference:
    start, end = ours[a].start, max(item.end for item in ours[a:b])
    if c < d:
        return Difference(start, end, theirs[c].start, max(item.end for item in theirs[c:d]))
    return Difference(start, end, 0, 0)
