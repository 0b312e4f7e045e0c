"""Stage: serial, part, batch and tool numbers, spelt or written.

An identifier is a row of letters, figures and separators. It is looked for behind its cue
("serial number", the words of a card's identifier field), and without a cue where letters
and figures stand together ("hotel tango six six dash niner zero two", "HT66-902"). It
ends before the first word that spells nothing, and before figures that have a unit.
Sources: ICAO Annex 10 and ITU RR App. 14 (alphabet), FAA JO 7110.65 2-4-17 (figures singly).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading import code_cues, code_mentions, code_places, letter_units, unit_words
from voicelog.reading.capitals import in_capitals
from voicelog.reading.chain import stage
from voicelog.reading.cues import CodeCue
from voicelog.reading.spelling import code_at
from voicelog.reading.spoken import letter_heads, letter_pairs, letters, letters_by_ear
from voicelog.reading.talk import everyday_words, talk
from voicelog.reading.unit_words import may_begin
from voicelog.reading.written_codes import grouped, written

if TYPE_CHECKING:
    from collections.abc import Iterator

    from spacy.tokens import Doc

    from voicelog.objects import Mention
    from voicelog.reading.passage import Passage
    from voicelog.reading.spelling import Code

NAME = "identifiers"
_PAIR = 4
"""Atoms of a place between two, at least."""

_FARTHEST = 6
"""Words that may stand between a cue and its identifier, at most."""
_LONGEST_PLACE = 3
_FILLERS = frozenset({
    "is", "was", "number", "no", ".", ":", "#", ",", "reads", "the", "a", "new", "one's", "=",
    "serial", "s", "/", "n", "letter", "letters", "fitted", "installed", "on", "off", "removed",
    "old", "now",
})  # fmt: skip
_NAMED = 20
"""Characters between a code and the name before it, at most."""
_FIGURES = 2
"""Figures of a code that no words announce, at least."""
_LONG = 4
"""Figures of a code that is no count, at least."""
_REACH = 5
"""Words that may stand between a cue and the verb before its identifier."""
_OF_A_THING = frozenset({"for", "from", "of", "off", "on"})
_REPAIRS = frozenset({"correction", "sorry", "negative", "mean", "rather", "wait", "make"})
_BETWEEN_REPAIRS = frozenset(
    {",", ".", ";", "-", "…", "i", "no", "it's", "that", "that's", "say", "again"}
)
_OF_ONE = frozenset({"one", "is", "it's", "was", "a", "the", "unit", "part", "serial", ","})
"""Words between "new" and the code of the new part."""
_VERBS = frozenset({
    "is", "was", "reads", "says", "shows", "got", "it's", "that's", "stamped", "marked",
})  # fmt: skip
"""Words right before an identifier whose name stands a few words ahead."""
_LINKS = frozenset({
    "is", "was", "for", "as", "on", "that's", "it's", "the", "a", "my", "our", "your", ",", "-",
})  # fmt: skip
"""Words between an identifier and its name behind it; one of them has to be no article."""
_ARTICLES = frozenset({"the", "a", "my", "our", "your", ","})
_STANDARDS = frozenset({"ansi", "api", "astm", "bs", "din", "en", "ep", "ip", "iso", "sae"})
"""Letters of standards and grades, which are on more than one part."""
_WORDS_OF_ONE_LETTER = frozenset({"a", "i", "o"})


@stage(NAME)
def identifiers(doc: Doc) -> None:
    """Read identifiers behind their cues, then those that show by their form."""
    passage: Passage = doc._.passage
    doc._.identifiers = passage.asked(_read(passage), reach=_NAMED)


def _read(passage: Passage) -> Iterator[Mention]:
    index = 0
    repaired = -1
    """Where a code follows the word that takes back the one before it."""
    mention: Mention | None = None
    named = _last_name(passage)
    while index < len(passage.atoms):
        if passage.claims[index]:
            index += 1
            continue
        if (past := _past_pair(passage, index)) is not None:
            index = past
            continue
        found = _repaired(passage, index, mention) if mention and index == repaired else None
        if found is None and index < named and passage.texts[index] in ("sn", "pn"):
            found = _named_behind(passage, index)  # "PN 35668 as the analyser": all of it, perhaps
        found = found or _cued(passage, index)
        if found is None and index < named:
            found = _named_behind(passage, index)
        found = found or _by_form(passage, index)
        if found is None and mention:
            found = _other_part(passage, index) or _of_a_make(passage, index, mention)
        if found is None:
            index += 1
            continue
        mention, last = found
        yield mention
        index = last
        repaired = _behind_repair(passage, index)


def _past_pair(passage: Passage, at: int) -> int | None:
    """Index behind a place of the card that is between two, as "L1 to L2" is."""
    for length in range(passage.cues.phrase_heads.get(passage.texts[at], 0), _PAIR - 1, -1):
        if tuple(passage.texts[at : at + length]) in passage.cues.phrases:
            return at + length
    return None


def _last_name(passage: Passage) -> int:
    """Where the last name of an identifier of the card may begin: no code is named behind that."""
    heads = passage.cues.code_heads
    places = range(len(passage.atoms) - 1, -1, -1)
    return next((at for at in places if passage.texts[at].removesuffix("'s") in heads), -1)


def _behind_repair(passage: Passage, at: int) -> int:
    """Index behind "correction" and its like at `at`; -1 when something else follows."""
    index = at
    heard = False
    while index < len(passage.atoms) and index < at + _REACH + 2:
        text = passage.atoms[index].text
        if text in _REPAIRS or (text == "no" and passage.texts[index + 1] == ","):
            heard = True
        elif text not in _BETWEEN_REPAIRS:
            return index if heard else -1
        index += 1
    return -1


def _repaired(passage: Passage, at: int, taken_back: Mention) -> tuple[Mention, int] | None:
    """ "alpha one two, correction, alpha one three": the second needs no cue of its own, and is for
    the field that the one was for that is `taken_back`."""
    code = code_at(passage, at)
    if code is None or not code.figures or not (code.letters or code.figures > 2):
        return None
    cues = passage.cues.codes.values()
    fields = [cue for cue in cues if f"field:{cue.field}" in taken_back.qualifiers]
    return code_mentions.of(passage, at, code, fields[0] if fields else CodeCue(None, None, None))


def _other_part(passage: Passage, at: int) -> tuple[Mention, int] | None:
    """ "Old brake bravo one two, new one bravo one four": the second names no part again."""
    everyday = talk().everyday
    if passage.atoms[at].text not in everyday.taken_off | everyday.put_on:
        return None
    for index in range(at + 1, min(at + _REACH, len(passage.atoms))):
        if passage.atoms[index].text in _OF_ONE:
            continue
        code = code_at(passage, index)
        if (
            code is None
            or not (code.letters and code.figures)
            or code_places.is_place(passage, index)
        ):
            return None
        return code_mentions.of(passage, index, code, CodeCue(None, None, None))
    return None


def _of_a_make(passage: Passage, at: int, known: Mention) -> tuple[Mention, int] | None:
    """ "Took BK 512 off, BK 515 went on": a code of the form of the one before."""
    if not _may_spell(passage, at):
        return None
    code = code_at(passage, at)
    if code is None or not code.letters or code.figures < _FIGURES or code.by_sound:
        return None
    if code_places.is_place(passage, at):
        return None
    if _form(code.value) != _form(str(known.value)):
        return None
    return code_mentions.of(passage, at, code, CodeCue(None, None, None))


def _form(value: str) -> str:
    return "".join("9" if char.isdigit() else "A" if char.isalpha() else char for char in value)


# --- where a code begins --------------------------------------------------------------


def _cued(passage: Passage, at: int) -> tuple[Mention, int] | None:
    cue = code_cues.at(passage, at)
    if cue is None:
        return None
    spec, index = cue
    end = index
    placed = _past_place(passage, at, index)
    if placed is not None:
        direct = code_at(passage, placed)
        if direct is not None and direct.letters and _acceptable(passage, placed, direct, spec):
            return code_mentions.of(passage, placed, direct, spec)
    while end < len(passage.atoms) and end < index + _FARTHEST:
        more = code_cues.at(passage, end)
        if more is not None and not code_cues.is_glued(passage, end, more[1], spec.kind):
            spec = CodeCue(spec.field, more[0].kind or spec.kind, spec.pattern)
            end = more[1]
            continue
        if code_cues.is_thing(passage, end):
            end += 1
            continue
        direct = code_at(passage, end) or grouped(passage, end, cued=True)
        if passage.texts[end - 1] in (".", ",") and _name_behind(passage, end):
            return None  # "seal kit. LE9464 is the regulator"
        if direct is not None and _acceptable(passage, end, direct, spec):
            return code_mentions.of(passage, end, direct, spec)
        if passage.atoms[end].text not in _FILLERS:
            return _behind_verb(passage, end, spec)
        end += 1
    return None


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
    spelt = len(letter.text) == 1 or (letter.text,) in letters() or in_capitals(passage, at + 1)
    named = any(int(figure[0]) in group.numbers for group in known.groups)
    return at + 1 if spelt and named and len(figure[0]) == 1 else None


def _behind_verb(passage: Passage, at: int, spec: CodeCue) -> tuple[Mention, int] | None:
    """ "serial number on the damper is double zero seven three"; a long one, such as "lot number
    for the grease one niner one two zero five", needs no verb."""
    of_thing = passage.texts[at] in _OF_A_THING
    behind = passage.texts[at - 1] in _ARTICLES and passage.texts[at - 2] in _OF_A_THING
    for index in range(at, min(at + _REACH, len(passage.atoms) - 1)):
        atom = passage.atoms[index]
        paused = (behind or (of_thing and index > at + 1)) and atom.text in (",", ":")
        if passage.claims[index] or not (paused or atom.shape == "word"):
            return None
        if paused or atom.text in _VERBS:
            code = code_at(passage, index + 1)
            if code is None or not code.figures or not _acceptable(passage, index + 1, code, spec):
                return None
            return code_mentions.of(passage, index + 1, code, spec)
        if of_thing and index > at and passage.words[index] is not None:
            first = index + code_cues.is_thing(passage, index)
            code = code_at(passage, first)
            if code is None or code.figures < (_LONG if first == index else 1):
                return None
            measured = unit_words.find(passage.atoms, code.last, len(passage.atoms))
            return code_mentions.of(passage, first, code, spec) if measured is None else None
    return None


def _named_behind(passage: Passage, at: int) -> tuple[Mention, int] | None:
    """ "AT 4506 is the hose batch", "B 12 for the wrench": a code whose name comes behind it."""
    found = _name_behind(passage, at)
    if found is None:
        return None
    code, cue, last = found
    return code_mentions.of(passage, at, code, cue)[0], last


def _name_behind(passage: Passage, at: int) -> tuple[Code, CodeCue, int] | None:
    """The code at `at`, the cue behind it that names it, and the index behind that."""
    code = code_at(passage, at) if passage.cues.codes and _may_spell(passage, at) else None
    if code is None or not code.letters or not code.figures or code.by_sound:
        return None
    if letter_units.ends_unit(passage, at):
        return None  # "218 degrees C, delta nine nine five for the analyser"
    if code.figures <= _FIGURES and code_places.is_place(passage, at):
        return None
    index = code.last
    while index < code.last + _REACH and passage.texts[index] in _LINKS:
        index += 1
    found = code_cues.at(passage, index) if index < len(passage.atoms) else None
    if found is None or (found[0].loose and code.figures < _FIGURES):
        return None
    linked = not _ARTICLES.issuperset(passage.texts[code.last : index])
    return (code, *found) if linked or _alone(passage, index, found[1]) else None


def _alone(passage: Passage, first: int, last: int) -> bool:
    """Whether a name stands between pauses at the end of a sentence: "SK441, seal kit."."""
    ends = passage.texts[last - 1] == "." or passage.texts[last] in ("", ".", ";")
    return passage.texts[first - 1] == "," and ends


def _may_spell(passage: Passage, at: int) -> bool:
    """A quick look whether a row of letters and figures can begin at `at`."""
    atom = passage.atoms[at]
    if atom.shape == "digits" or passage.words[at] is not None:
        return not (at and passage.words[at - 1] is not None)
    if atom.shape != "word" or atom.glued:
        return False
    return atom.text in letter_heads() or in_capitals(passage, at)


def _acceptable(passage: Passage, at: int, code: Code, spec: CodeCue) -> bool:
    """Whether a code behind a cue is one, and not an ordinary word or value."""
    if passage.atoms[at].text in _WORDS_OF_ONE_LETTER and code.last == at + 1:
        return False
    if len(code.value) < 2 and spec.kind in ("serial number", "part number", None):
        return False  # "serial on number two is ...": a place, no serial number
    if spec.loose:
        few = code.letters > 1 and (code.spelt > 1 or in_capitals(passage, at))  # "BT7"
        told = code.letters and code.figures >= _FIGURES - few and not code.by_sound
        standard = passage.atoms[at].text in _STANDARDS
        return bool(told) and not standard and not code_places.is_place(passage, at)
    if spec.field is not None and spec.kind is None and code.figures == 0:
        return False
    return code.figures > 0 or code.letters > 1


def _by_form(passage: Passage, at: int) -> tuple[Mention, int] | None:
    """A code without a cue: letters and figures together."""
    atom = passage.atoms[at]
    if atom.shape == "word" and len(atom.text) > 1 and atom.text not in letter_heads():
        after = passage.atoms[at + 1] if at + 1 < len(passage.atoms) else None
        if after is None or not (after.glued or after.shape == "digits"):
            return _in_large(passage, at) if after is not None else None  # or an ordinary word
    if atom.glued and at and passage.atoms[at - 1].text not in ("(", '"', "'", ","):
        return None
    degrees = passage.texts[at - 1] in ("degree", "degrees", "deg") if at else False
    if letter_units.is_unit(passage, at) or letter_units.ends_unit(passage, at):
        return None
    if code_places.is_place(passage, at) or (degrees and atom.text in ("c", "f")):
        return None
    as_one = written(passage, at) or (grouped(passage, at) if passage.cues.patterns else None)
    if as_one is not None:
        return code_mentions.of(passage, at, as_one, CodeCue(None, None, None))
    if atom.shape == "digits" and len(atom.text) >= 3:
        numbered = code_at(passage, at)
        if numbered is not None and numbered.spelt and not numbered.value.isalnum():
            return code_mentions.of(passage, at, numbered, CodeCue(None, None, None))
        return None
    if atom.shape != "word" or (
        (atom.text,) not in letters()
        and atom.text not in letter_pairs()
        and not code_places.starts_letter_pair(passage, at)
        and len(atom.text) > 1
    ):
        return None
    code = code_at(passage, at)
    if code is None or code.figures == 0:
        return None
    if (len(atom.text) > 1 or not code.spelt) and code_places.is_letter_place(passage, at):
        return None
    heard = atom.text in letters_by_ear() and code.letters > 1 and code.figures >= _LONG
    if code.spelt >= 2 or (code.spelt == 1 and code.figures >= 3) or heard:
        return code_mentions.of(passage, at, code, CodeCue(None, None, None))
    formed = code_mentions.is_formed(passage, at, code)
    several = code.letters >= 2 and code.figures >= 2 and len(atom.text) == 1
    if (formed or several) and not code.by_sound:
        return code_mentions.of(passage, at, code, CodeCue(None, None, None))
    return None


def _in_large(passage: Passage, at: int) -> tuple[Mention, int] | None:
    """ "AC oh oh four one": letters written large that name nothing, figures said singly."""
    text = passage.atoms[at].text
    known = text in everyday_words() or may_begin(text) or (text,) in passage.cues.words
    if known or passage.words[at + 1] is None or not in_capitals(passage, at):
        return None
    code = code_at(passage, at)
    if code is None or code.figures < _LONG or code.last - at <= code.figures:
        return None
    return code_mentions.of(passage, at, code, CodeCue(None, None, None))


STAGE = identifiers
