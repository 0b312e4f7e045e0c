"""Stage: serial, part, batch and tool numbers, spelt or written.

An identifier is a row of letters, figures and separators. It is looked for behind its cue
("serial number", the words of a card's identifier field), and without a cue where letters
and figures stand together ("hotel tango six six dash niner zero two", "HT66-902"). It
ends before the first word that spells nothing, and before figures that have a unit.
Sources: ICAO Annex 10 and ITU RR App. 14 (alphabet), FAA JO 7110.65 2-4-17 (figures singly).
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.reading import torn_codes, unit_words
from voicelog.reading.chain import stage
from voicelog.reading.cues import CodeCue
from voicelog.reading.look_alikes import fitting, look_alikes
from voicelog.reading.spelling import code_at
from voicelog.reading.spoken import letter_heads, letter_pairs, letters
from voicelog.reading.talk import talk
from voicelog.reading.written_codes import grouped, written

if TYPE_CHECKING:
    from collections.abc import Iterator

    from spacy.tokens import Doc

    from voicelog.objects import Mention, Value
    from voicelog.reading.passage import Passage
    from voicelog.reading.spelling import Code

NAME = "identifiers"

_KINDS: dict[tuple[str, ...], str] = {
    ("serial", "number"): "serial number", ("serial", "no"): "serial number",
    ("serial",): "serial number", ("s", "/", "n"): "serial number", ("sn",): "serial number",
    ("serial", "numbers"): "serial number", ("cereal", "number"): "serial number",
    ("part", "number"): "part number", ("part", "no"): "part number",
    ("p", "/", "n"): "part number", ("pn",): "part number",
    ("batch", "number"): "batch number", ("batch", "no"): "batch number",
    ("batch",): "batch number", ("lot", "number"): "batch number", ("lot", "no"): "batch number",
    ("lot",): "batch number", ("tool", "number"): "tool number", ("tool", "no"): "tool number",
    ("tool",): "tool number", ("asset", "number"): "tool number",
    ("wrench", "number"): "tool number", ("gauge", "number"): "tool number",
}  # fmt: skip
_CUE_HEADS = frozenset(words[0] for words in _KINDS)
_LONGEST_CUE = 6
_LONGEST_PLACE = 3
_FILLERS = frozenset({
    "is", "was", "number", "no", ".", ":", "#", ",", "reads", "the", "a", "new", "one's", "=",
    "serial", "s", "/", "n", "fitted", "installed", "on", "off", "removed", "old", "now",
})  # fmt: skip
_MOST_ALTERNATIVES = 8
_LONG = 4
"""Figures of a code that is no count, at least."""
_REACH = 5
"""Words that may stand between a cue and the verb before its identifier."""
_REPAIRS = frozenset({"correction", "sorry", "negative", "mean", "rather", "wait"})
_BETWEEN_REPAIRS = frozenset({",", ".", ";", "-", "…", "i", "no", "it's", "that's", "say", "again"})
_OF_ONE = frozenset({"one", "is", "it's", "was", "a", "the", "unit", "part", "serial", ","})
"""Words between "new" and the code of the new part."""
_UNIT = 2
"""Atoms of a number and the first word of its unit, at least."""
_WORDS_OF_ONE_LETTER = frozenset({"a", "i", "o"})


@stage(NAME)
def identifiers(doc: Doc) -> None:
    """Read identifiers behind their cues, then those that show by their form."""
    passage: Passage = doc._.passage
    doc._.identifiers = list(_read(passage))


def _read(passage: Passage) -> Iterator[Mention]:
    index = 0
    repaired = -1
    """Where a code follows the word that takes back the one before it."""
    heard = False
    while index < len(passage.atoms):
        if passage.claims[index]:
            index += 1
            continue
        found = _repaired(passage, index) if index == repaired else None
        found = found or _cued(passage, index) or _by_form(passage, index)
        if found is None and heard:
            found = _other_part(passage, index)
        if found is None:
            index += 1
            continue
        mention, last = found
        yield mention
        index, heard = last, True
        repaired = _behind_repair(passage, index)


def _behind_repair(passage: Passage, at: int) -> int:
    """Index behind "correction" and its like at `at`; -1 when something else follows."""
    index = at
    heard = False
    while index < len(passage.atoms) and index < at + _REACH + 2:
        text = passage.atoms[index].text
        if text in _REPAIRS:
            heard = True
        elif text not in _BETWEEN_REPAIRS:
            return index if heard else -1
        index += 1
    return -1


def _repaired(passage: Passage, at: int) -> tuple[Mention, int] | None:
    """ "alpha one two, correction, alpha one three": the second needs no cue of its own."""
    code = code_at(passage, at)
    if code is None or not code.figures or not (code.letters or code.figures > 2):
        return None
    return _mention(passage, at, code, CodeCue(None, None, None))


def _other_part(passage: Passage, at: int) -> tuple[Mention, int] | None:
    """ "Old brake bravo one two, new one bravo one four": the second names no part again."""
    everyday = talk().everyday
    if passage.atoms[at].text not in everyday.taken_off | everyday.put_on:
        return None
    for index in range(at + 1, min(at + _REACH, len(passage.atoms))):
        if passage.atoms[index].text in _OF_ONE:
            continue
        code = code_at(passage, index)
        if code is None or not (code.letters and code.figures) or _is_place(passage, index):
            return None
        return _mention(passage, index, code, CodeCue(None, None, None))
    return None


# --- where a code begins --------------------------------------------------------------


def _cue_at(passage: Passage, at: int) -> tuple[CodeCue, int] | None:
    """The longest cue at `at`: (cue, index behind)."""
    first = passage.atoms[at].text
    if first not in _CUE_HEADS and first not in passage.cues.code_heads:
        return None
    for length in range(_LONGEST_CUE, 0, -1):
        words = tuple(atom.text for atom in passage.atoms[at : at + length])
        if len(words) < length:
            continue
        kind = _KINDS.get(words)
        cue = passage.cues.codes.get(words) or (CodeCue(None, kind, None) if kind else None)
        if cue is not None:
            return None if _ends_another_name(passage, at, length) else (cue, at + length)
    return None


def _ends_another_name(passage: Passage, at: int, length: int) -> bool:
    """Whether the cue is the end of a field's name that wants no identifier: "hour meter"."""
    end = at + length
    return any(
        tuple(atom.text for atom in passage.atoms[end - longer : end]) in passage.cues.others
        for longer in range(length + 1, min(end, _LONGEST_CUE) + 1)
    )


def _cued(passage: Passage, at: int) -> tuple[Mention, int] | None:
    cue = _cue_at(passage, at)
    if cue is None:
        return None
    spec, index = cue
    end = index
    placed = _past_place(passage, at, index)
    if placed is not None:
        direct = code_at(passage, placed)
        if direct is not None and direct.letters and _acceptable(passage, placed, direct, spec):
            return _mention(passage, placed, direct, spec)
    while end < len(passage.atoms) and end < index + _LONGEST_CUE:
        more = _cue_at(passage, end)
        if more is not None and not _is_glued(passage, end, more[1]):
            spec = CodeCue(spec.field, more[0].kind or spec.kind, spec.pattern)
            end = more[1]
            continue
        direct = code_at(passage, end) or grouped(passage, end, cued=True)
        if direct is not None and _acceptable(passage, end, direct, spec):
            return _mention(passage, end, direct, spec)
        if passage.atoms[end].text not in _FILLERS:
            return _behind_verb(passage, end, spec)
        end += 1
    return None


def _is_glued(passage: Passage, at: int, end: int) -> bool:
    """Whether the words are one with their figures: "SN4471" may be written so on the part."""
    digits = end < len(passage.atoms) and passage.atoms[end].shape == "digits"
    return digits and end == at + 1 and passage.atoms[end].glued


def _past_place(passage: Passage, first: int, at: int) -> int | None:
    """Index behind a place of the field named at `first`: "new bearing drive side K 77419"; a
    figure is one when a letter follows: "accumulator serial one A C oh oh four one"."""
    known = passage.cues.words.get(tuple(atom.text for atom in passage.atoms[first:at]))
    if known is None or at + 1 >= len(passage.atoms):
        return None
    for length in range(_LONGEST_PLACE, 0, -1):
        words = tuple(atom.text for atom in passage.atoms[at : at + length])
        named = any(words in group.phrases for group in known.groups)
        if named and len(words) == length and len(words[0]) > 1 and not words[0].isdigit():
            verb = passage.texts[at + length] in ("is", "was", ":", ",")
            return at + length + verb
    figure = passage.numerals(at).figures(at)
    letter = passage.atoms[at + 1]
    if figure is None or figure[1] != at + 1 or letter.shape != "word" or letter.glued:
        return None
    spelt = len(letter.text) == 1 or (letter.text,) in letters()
    named = any(int(figure[0]) in group.numbers for group in known.groups)
    return at + 1 if spelt and named and len(figure[0]) == 1 else None


def _behind_verb(passage: Passage, at: int, spec: CodeCue) -> tuple[Mention, int] | None:
    """ "serial number on the damper is double zero seven three"; a long one, such as "lot number
    for the grease one niner one two zero five", needs no verb."""
    of_thing = passage.atoms[at].text in ("for", "of", "on")
    for index in range(at, min(at + _REACH, len(passage.atoms) - 1)):
        atom = passage.atoms[index]
        if passage.claims[index] or atom.shape != "word":
            return None
        if atom.text in ("is", "was", "reads"):
            code = code_at(passage, index + 1)
            if code is None or not code.figures or not _acceptable(passage, index + 1, code, spec):
                return None
            return _mention(passage, index + 1, code, spec)
        if of_thing and index > at and passage.words[index] is not None:
            code = code_at(passage, index)
            if code is None or code.figures < _LONG:
                return None
            measured = unit_words.find(passage.atoms, code.last, len(passage.atoms))
            return _mention(passage, index, code, spec) if measured is None else None
    return None


def _acceptable(passage: Passage, at: int, code: Code, spec: CodeCue) -> bool:
    """Whether a code behind a cue is one, and not an ordinary word or value."""
    if passage.atoms[at].text in _WORDS_OF_ONE_LETTER and code.last == at + 1:
        return False
    if len(code.value) < 2 and spec.kind in ("serial number", "part number", None):
        return False  # "serial on number two is ...": a place, no serial number
    if spec.field is not None and spec.kind is None and code.figures == 0:
        return False
    return code.figures > 0 or code.letters > 1


def _by_form(passage: Passage, at: int) -> tuple[Mention, int] | None:
    """A code without a cue: letters and figures together."""
    atom = passage.atoms[at]
    if atom.shape == "word" and len(atom.text) > 1 and atom.text not in letter_heads():
        after = passage.atoms[at + 1] if at + 1 < len(passage.atoms) else None
        if after is None or not (after.glued or after.shape == "digits"):
            return None  # an ordinary word
    if atom.glued and at and passage.atoms[at - 1].text not in ("(", '"', "'", ","):
        return None
    if _is_place(passage, at) or _ends_unit(passage, at):
        return None
    as_one = written(passage, at) or (grouped(passage, at) if passage.cues.patterns else None)
    if as_one is not None:
        return _mention(passage, at, as_one, CodeCue(None, None, None))
    if atom.shape == "digits" and len(atom.text) >= 3:
        numbered = code_at(passage, at)
        if numbered is not None and numbered.spelt and not numbered.value.isalnum():
            return _mention(passage, at, numbered, CodeCue(None, None, None))
        return None
    if atom.shape != "word" or (
        (atom.text,) not in letters()
        and atom.text not in letter_pairs()
        and not _starts_letter_pair(passage, at)
        and len(atom.text) > 1
    ):
        return None
    code = code_at(passage, at)
    if code is None or code.figures == 0:
        return None
    if (len(atom.text) > 1 or not code.spelt) and _is_letter_place(passage, at):
        return None
    if code.spelt >= 2 or (code.spelt == 1 and code.figures >= 3):
        return _mention(passage, at, code, CodeCue(None, None, None))
    if code.letters >= 2 and code.figures >= 2 and not code.by_sound and len(atom.text) == 1:
        return _mention(passage, at, code, CodeCue(None, None, None))
    return None


def _is_place(passage: Passage, at: int) -> bool:
    """Whether a letter or figures at `at` are a place of the card: "phase U280", "bolts 1-6"."""
    before = (passage.atoms[at - 1].text,) if at else ()
    atom = passage.atoms[at]
    following = passage.atoms[at + 1] if at + 1 < len(passage.atoms) else None
    if before in passage.cues.words and not passage.cues.words[before].weak:
        groups = passage.cues.words[before].groups
        alone = atom.shape == "word" and len(atom.text) == 1
        alone = alone and following is not None and following.shape == "word"  # "wheels P U dash"
        spelt = (atom.text,) in letters() or alone
        return not spelt or any((atom.text,) in group.phrases for group in groups)
    if len(atom.text) > 1 or following is None or following.shape != "digits":
        return False
    step = passage.step_at(at)
    said = {(atom.text,), (atom.text, following.text)}
    return any(said & group.phrases.keys() and step in group.steps for group in passage.cues.groups)


def _ends_unit(passage: Passage, at: int) -> bool:
    """Whether a letter is the last of a unit: "seventy nine degrees C, B twenty four"."""
    if at < _UNIT or len(passage.texts[at]) > 1:
        return False
    unit = unit_words.find(passage.atoms, at - 1, at + 1)
    return unit is not None and unit[1] > at and passage.words[at - 2] is not None


def _is_letter_place(passage: Passage, at: int) -> bool:
    """Whether a bare letter with a number said in one behind it is a place, "B forty three", or the
    end of a value with the next behind a pause: "fourteen amps A, thirty four B"."""
    step = passage.step_at(at)
    behind = at + 1 + (passage.texts[at + 1] == ",")
    number = passage.numerals(behind).number(behind) if behind < len(passage.atoms) else None
    in_one = number is not None and "digits" not in number.qualifiers
    said = (passage.atoms[at].text,)
    return in_one and any(
        said in group.phrases and step in group.steps for group in passage.cues.groups
    )


def _starts_letter_pair(passage: Passage, at: int) -> bool:
    pair = passage.atoms[at : at + 2]
    return len(pair) == 2 and (pair[0].text, pair[1].text) in letters()


# --- what it becomes ------------------------------------------------------------------


def _mention(passage: Passage, first: int, code: Code, spec: CodeCue) -> tuple[Mention, int] | None:
    qualifiers = {spec.kind} if spec.kind else set()
    doubts: list[str] = []
    alternatives: list[Value] = []
    value = code.value
    if code.by_sound:
        doubts.append("letter_by_sound")
    if code.unsure:
        doubts.append("joined_digits")
    if not code.figures:
        doubts.append("no_figure")
    if torn_codes.is_torn(passage, first, code.last):
        doubts.append("torn_code")
    if first and passage.atoms[first - 1].text == "a" and value[0].isdigit():
        doubts.append("letter_by_sound")  # "serial A seven seven oh", or an article
        alternatives.append(f"A{value}")
    fits = [cue for cue in passage.cues.patterns if cue.pattern and cue.pattern.fullmatch(value)]
    qualifiers |= {f"field:{cue.field}" for cue in fits}
    if (passage.atoms[first].text,) in _KINDS and not any(cue.field == spec.field for cue in fits):
        doubts.append("ambiguous_number")  # "SN4471" may be the serial number 4471
        alternatives.append(value[len(passage.atoms[first].text) :])
    if code.torn and not fits:
        doubts.append("letter_by_sound")
    if spec.field is not None:
        qualifiers.add(f"field:{spec.field}")
    if spec.pattern is not None and not spec.pattern.fullmatch(value):
        doubts.append("pattern_misfit")
        alternatives += fitting(value, code.bare, spec.pattern)
    alternatives += [other for other in look_alikes(value, code.bare) if other not in alternatives]
    if any(
        atom.text == "er" and atom.glued and passage.atoms[first + place].text.endswith("9")
        for place, atom in enumerate(passage.atoms[first + 1 : code.last])
    ):  # "447-9er": niner, or nine and R
        alternatives.insert(0, f"{value}R")
        doubts.append("letter_by_sound")
    niner = re.fullmatch(r"([0-9]*9)R", value)
    if niner is not None:  # "niner" was cut into "9" and "r"
        alternatives.insert(0, Decimal(niner[1]))
        doubts.append("letter_by_sound")
    passage.claim(first, code.last, NAME)
    mention = passage.mention(
        "identifier",
        first,
        code.last,
        NAME,
        value=value,
        alternatives=tuple(alternatives[:_MOST_ALTERNATIVES]),
        qualifiers=frozenset(qualifiers),
        doubts=tuple(doubts),
    )
    return mention, code.last


STAGE = identifiers
