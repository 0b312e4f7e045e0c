"""How figures, letters and dates are said: every number has several ways."""

from __future__ import annotations

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
_ALPHABET = _listed(
    "Alfa|Bravo|Charlie|Delta|Echo|Foxtrot|Golf|Hotel|India|Juliett|Kilo|Lima|Mike|November|"
    "Oscar|Papa|Quebec|Romeo|Sierra|Tango|Uniform|Victor|Whiskey|X-ray|Yankee|Zulu"
)
"""ITU Radio Regulations appendix 14."""
_MONTHS = _listed(
    "January|February|March|April|May|June|July|August|September|October|November|December"
)
_ORDINALS = {
    1: "first", 2: "second", 3: "third", 5: "fifth", 8: "eighth", 9: "ninth",
    12: "twelfth", 20: "twentieth",
}  # fmt: skip


def below_100(n: int) -> str:
    """`n` in words."""
    return ONES[n] if n < 20 else _TENS[n // 10] + (f" {ONES[n % 10]}" if n % 10 else "")


def _digits(text: str, rng: Random) -> str:
    """Digits singly; ICAO Annex 10 volume II 5.2.1.4 and common practice."""
    niner, oh = rng.random() < 0.3, rng.random() < 0.2
    said = {"9": "niner"} if niner else {}
    if oh:
        said["0"] = "oh"
    return " ".join(said.get(d, ONES[int(d)]) for d in text)


def say_whole(n: int, rng: Random) -> str:  # noqa: PLR0911  one return for each way to say it
    """A way in which `n` is said."""
    if n < 20:
        return ONES[n]
    way = rng.random()
    if n < 100:
        return below_100(n) if way < 0.75 else _digits(str(n), rng)
    high, low = divmod(n, 100)
    if n < 1000:
        if way < 0.35:
            return _digits(str(n), rng)
        if way < 0.55:
            tail = " hundred" if not low else f" oh {ONES[low]}" if low < 10 else ""
            return ONES[high] + (tail or f" {below_100(low)}")
        link = " and " if rng.random() < 0.6 else " "
        return f"{ONES[high]} hundred" + (link + below_100(low) if low else "")
    if way < 0.35:
        return _digits(str(n), rng)
    if way < 0.6 and high >= 10 and low >= 10:
        return f"{below_100(high)} {below_100(low)}"
    thousands, rest = divmod(n, 1000)
    if not rest:
        return f"{say_whole(thousands, rng)} thousand"
    small = below_100(rest) if rest < 100 else f"{ONES[rest // 100]} hundred"
    if rest >= 100 and rest % 100:
        small += f" and {below_100(rest % 100)}"
    return f"{say_whole(thousands, rng)} thousand {'and ' if rest < 100 else ''}{small}"


def say_number(text: str, rng: Random) -> str:
    """A way in which the decimal `text` is said."""
    whole, _, part = text.partition(".")
    if not part:
        return say_whole(int(whole), rng)
    point = " decimal " if rng.random() < 0.2 else " point "
    head = "" if whole == "0" and rng.random() < 0.3 else say_whole(int(whole), rng)
    return (head + point + _digits(part, rng)).strip()


def draw_identifier(rng: Random) -> tuple[str, str, str]:
    """(spoken, written, value): letters by the spelling alphabet, digits singly."""
    shape = rng.choice(("AA99-999", "A999", "9999", "AA9999", "A99-99", "99999", "AAA99", "9A-999"))
    value, spoken, written = "", [], []
    for sign in shape:
        drawn = rng.choice("ABCDEFGHIJKLMNOPQRSTUVWXYZ") if sign == "A" else sign
        drawn = rng.choice("0123456789") if sign == "9" else drawn
        value += drawn
        if drawn == "-":
            word = rng.choice(("dash", "dash", "slash"))
            value = value if word == "dash" else value[:-1] + "/"
        else:
            word = _ALPHABET[ord(drawn) - 65] if drawn.isalpha() else ""
        spoken.append(word or _digits(drawn, rng))
        written.append(word or drawn)
    return " ".join(spoken), " ".join(written), value


def draw_date(rng: Random) -> tuple[str, str]:
    """(spoken, written)."""
    day, month, year = rng.randint(1, 28), rng.choice(_MONTHS), rng.randint(26, 31)
    said = _ORDINALS.get(day) or (
        f"{ONES[day]}th"
        if day < 20
        else f"twenty {_ORDINALS.get(day - 20) or ONES[day - 20] + 'th'}"
    )
    return f"{said} of {month} twenty {below_100(year)}", f"{day} {month} 20{year}"
