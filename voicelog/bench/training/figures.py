"""How figures, letters and dates are said: every number has several ways."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from random import Random


def _listed(text: str) -> list[str]:
    return text.split("|")


ONES = _listed(
    "zero|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|thirteen|fourteen|"
    "fifteen|sixteen|seventeen|eighteen|nineteen"
)
_TENS = _listed("-|-|twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety")
ALPHABET = _listed(
    "alfa|bravo|charlie|delta|echo|foxtrot|golf|hotel|india|juliett|kilo|lima|mike|november|"
    "oscar|papa|quebec|romeo|sierra|tango|uniform|victor|whiskey|x-ray|yankee|zulu"
)
"""ITU Radio Regulations appendix 14."""
_MONTHS = _listed(
    "January|February|March|April|May|June|July|August|September|October|November|December"
)
_ORDINALS = {
    1: "first", 2: "second", 3: "third", 5: "fifth", 8: "eighth", 9: "ninth",
    12: "twelfth", 20: "twentieth", 30: "thirtieth",
}  # fmt: skip
_PARTS = ("a half", "a quarter", "three quarters", "five eighths", "three eighths",
          "seven sixteenths", "five sixteenths", "eleven sixteenths")  # fmt: skip
_RADIO = {"three": "tree", "four": "fower", "five": "fife", "eight": "ait"}
"""As ICAO Annex 10 volume II 5.2.1.4 has them pronounced; written, they are plain figures."""
_PLAIN = {sound: word for word, sound in _RADIO.items()} | {"P S I": "psi", "R P M": "rpm"}


def written(spoken: str) -> str:
    """What is to be written for words as they were given to a voice: the same words."""
    for sound, word in _PLAIN.items():
        spoken = re.sub(rf"\b{sound}\b", word, spoken)
    return spoken


def below_100(n: int) -> str:
    """`n` in words."""
    return ONES[n] if n < 20 else _TENS[n // 10] + (f" {ONES[n % 10]}" if n % 10 else "")


def say_digits(text: str, rng: Random) -> str:
    """Digits singly; ICAO Annex 10 volume II 5.2.1.4 and common practice."""
    said = {"9": "niner"} if rng.random() < 0.3 else {}
    way = rng.random()
    if way < 0.25:
        said["0"] = "oh"
    elif way < 0.3 and text != "0":
        said["0"] = "nought"
    if rng.random() < 0.06:
        said |= {str(ONES.index(word)): sound for word, sound in _RADIO.items()}
    return " ".join(said.get(d, ONES[int(d)]) for d in text)


def say_whole(n: int, rng: Random) -> str:
    """A way in which `n` is said."""
    if n < 20:
        return ONES[n]
    if n < 100:
        return below_100(n) if rng.random() < 0.75 else say_digits(str(n), rng)
    return _hundreds(n, rng) if n < 1000 else _thousands(n, rng)


def _hundreds(n: int, rng: Random) -> str:
    way, (high, low) = rng.random(), divmod(n, 100)
    if way < 0.35:
        return say_digits(str(n), rng)
    if way < 0.6:
        tail = " hundred" if not low else f" oh {ONES[low]}" if low < 10 else ""
        return ONES[high] + (tail or f" {below_100(low)}")
    head = "a" if high == 1 and rng.random() < 0.4 else ONES[high]
    link = " and " if rng.random() < 0.6 else " "
    return f"{head} hundred" + (link + below_100(low) if low else "")


def _thousands(n: int, rng: Random) -> str:
    way, (high, low) = rng.random(), divmod(n, 100)
    if way < 0.3:
        return say_digits(str(n), rng)
    if way < 0.55 and 10 <= high < 100 and high % 10 and low >= 10:
        return f"{below_100(high)} {below_100(low)}"
    if way < 0.65 and 10 < high < 20:
        return f"{below_100(high)} hundred" + (f" and {below_100(low)}" if low else "")
    thousands, rest = divmod(n, 1000)
    head = "a" if thousands == 1 and rest == 0 and way < 0.8 else say_whole(thousands, rng)
    if not rest:
        return f"{head} thousand"
    small = below_100(rest) if rest < 100 else f"{ONES[rest // 100]} hundred"
    if rest >= 100 and rest % 100:
        small += f" and {below_100(rest % 100)}"
    return f"{head} thousand {'and ' if rest < 100 else ''}{small}"


def say_number(text: str, rng: Random) -> str:
    """A way in which the decimal `text` is said."""
    if text.startswith("-"):
        return f"minus {say_number(text[1:], rng)}"
    whole, _, part = text.partition(".")
    if not part:
        return say_whole(int(whole), rng)
    point = " decimal " if rng.random() < 0.15 else " point "
    if whole == "0":
        head = rng.choice(("", "zero", "nought", "zero", "oh"))
    else:
        head = say_whole(int(whole), rng)
    if len(part) == 2 and part[0] not in "01" and rng.random() < 0.15:
        return f"{head}{point}{below_100(int(part))}".strip()
    return (head + point + say_digits(part, rng)).strip()


def say_fraction(rng: Random) -> str:
    """A part of one, or a whole number and a part."""
    part = rng.choice(_PARTS)
    if rng.random() < 0.5:
        return part
    return f"{rng.choice(ONES[1:13])} and {part}"


def draw_identifier(rng: Random) -> tuple[str, str]:
    """(spoken, value): letters by the spelling alphabet or by name, digits singly or in pairs."""
    shape = rng.choice(
        ("AA99-999", "A999", "9999", "AA9999", "A99-99", "99999", "AAA99", "9A-999", "AA999",
         "A9999A", "A99-999", "9999-99", "AA-9999", "999A")
    )  # fmt: skip
    letters_named = rng.random() < 0.12
    dash = rng.choice(("dash", "dash", "slash", "stroke", "hyphen"))
    value, spoken = "", []
    for part in re.findall(r"A+|9+|-", shape):
        if part == "-":
            spoken.append(dash)
            value += "-" if dash in ("dash", "hyphen") else "/"
            continue
        drawn = "".join(
            rng.choice("ABCDEFGHIJKLMNOPQRSTUVWXYZ" if sign == "A" else "0123456789")
            for sign in part
        )
        value += drawn
        if part[0] == "A":
            spoken += [sign if letters_named else ALPHABET[ord(sign) - 65] for sign in drawn]
        else:
            spoken.append(_say_run(drawn, rng))
    return " ".join(spoken), value


def _say_run(digits: str, rng: Random) -> str:
    """Digits of an identifier; "double four" now and then, two pairs now and then."""
    if len(digits) == 4 and digits[0] != "0" and digits[2] != "0" and rng.random() < 0.12:
        pairs = (int(digits[:2]), int(digits[2:]))
        if min(pairs) > 9:
            return " ".join(map(below_100, pairs))
    same = re.search(r"(\d)\1+", digits)
    if same and len(same[0]) in (2, 3) and rng.random() < 0.5:
        times = "double" if len(same[0]) == 2 else "triple"
        before, after = digits[: same.start()], digits[same.end() :]
        said = (say_digits(before, rng), f"{times} {ONES[int(same[1])]}", say_digits(after, rng))
        return " ".join(filter(None, said))
    return say_digits(digits, rng)


def _ordinal(day: int) -> str:
    if day in _ORDINALS:
        return _ORDINALS[day]
    if day < 20:
        return f"{ONES[day]}th"
    tens = _TENS[day // 10]
    return f"{tens} {_ORDINALS.get(day % 10) or ONES[day % 10] + 'th'}"


def draw_date(rng: Random) -> str:
    """A day in words, in the order of either side of the ocean; or a month and its year."""
    day, month, year = rng.randint(1, 31), rng.choice(_MONTHS), below_100(rng.randint(26, 34))
    way = rng.random()
    if way < 0.15:
        return f"{month} twenty {year}"
    if way < 0.6:
        link = rng.choice((" of ", " ", " of "))
        return f"{rng.choice(('', '', 'the '))}{_ordinal(day)}{link}{month} twenty {year}"
    if way < 0.75:
        return f"{below_100(day)} {month} {rng.choice(('twenty ', ''))}{year}"
    if way < 0.9:
        return f"{month} {rng.choice(('', 'the '))}{_ordinal(day)}, twenty {year}"
    return f"{below_100(day)} {say_digits(f'{rng.randint(1, 12):02d}', rng)} twenty {year}"
