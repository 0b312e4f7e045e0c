"""Fit: whether a value can stand in a field, how well, and what it becomes there."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

from voicelog import units
from voicelog.mapping import upkeep
from voicelog.mapping.unit_fit import compatible, far_apart, settled
from voicelog.objects import Interval, Mention, Ratio, Value
from voicelog.phonetics import likeness, of_sounds
from voicelog.reading.kinds import ANY, deeds_of, does, kind_of
from voicelog.reading.labels import NEGATIVE, denies, denies_deed
from voicelog.reading.look_alikes import in_form
from voicelog.reading.states import told_state
from voicelog.reading.talk import talk
from voicelog.reading.told_options import GUESS
from voicelog.reading.trade import faults_in
from voicelog.reading.words import verb_stem, word_key

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from voicelog.mapping.row import Said
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Lexicon, Place


UNDONE = "not done"
"""What a remark says of something that was not done, checked or measured."""


class Fit(NamedTuple):
    """A value as it would stand in a field; `score` is how well it suits the field."""

    score: float
    value: Value
    unit: str | None = None
    doubts: tuple[str, ...] = ()
    alternatives: tuple[Value, ...] = ()


def fit(said: Said, field: Field, place: Place, lexicon: Lexicon) -> Fit | None:
    """How `said` would stand in `field`; None when it can't."""
    if field.type == "choice":
        return _choice(said, lexicon.options.get(place, {}), field)
    if field.type == "check":
        return _check(said.mention, lexicon.states.get(place), field)
    make = _MAKERS.get(field.type)
    if make is not None and said.kind == "remark" and said.mention.value == UNDONE:
        return Fit(0.3, UNDONE)  # "blade three not done": its place is nobody else's
    return None if make is None else make(said.mention, field)


def _measurement(mention: Mention, field: Field) -> Fit | None:
    if mention.value is None or mention.kind not in {"quantity", "count", "range", "ratio"}:
        return None
    if "ordinal" in mention.qualifiers and mention.unit is None:
        return None
    if mention.stage == "remarks":
        return None
    unit, doubts = settled(mention, field)
    assert field.unit is not None  # noqa: S101 - a measurement has a unit
    score = 0.1
    if unit is None:
        doubts = doubts if field.unit == "dimensionless" else (*doubts, "unit_unsaid")
    elif compatible(unit, field.unit):
        score = 0.8 + (0.1 if unit == field.unit else -0.4 * far_apart(unit, field.unit))
    else:
        score = -1.0
        doubts = (*doubts, "wrong_dimension")
    if isinstance(mention.value, Interval):
        doubts = (*doubts, "range")
    elif isinstance(mention.value, Ratio):
        score -= 0.6
        doubts = (*doubts, "wrong_kind")
    return Fit(score, mention.value, unit, doubts, mention.alternatives)


def _count(mention: Mention, field: Field) -> Fit | None:
    value = mention.value
    if mention.kind == "remark" and _tells_of_none(mention, field):
        return Fit(0.5, Decimal(0), None, mention.doubts)
    if mention.kind not in {"quantity", "count", "range"} or value is None:
        return None
    doubts = tuple(code for code in mention.doubts if code != "nil_measurement")
    if isinstance(value, Interval):
        return Fit(0.3, value, None, (*doubts, "range"))
    if "ordinal" in mention.qualifiers:
        return None
    score = 0.6
    if not all(_counts_things(unit, field) for unit in _units_of(mention)):
        score = -1.2
        doubts = (*doubts, "wrong_dimension")
    if isinstance(value, Decimal) and value != value.to_integral_value():
        doubts = (*doubts, "not_whole")
        score -= 1.2
    doubts = tuple(code for code in doubts if code != "ambiguous_unit" or score < 0)
    return Fit(score, value, None if score > 0 else mention.unit, doubts, mention.alternatives)


def _tells_of_none(mention: Mention, field: Field) -> bool:
    """Whether a remark says that there is none of what a field counts: "treads, no cracks" or "no
    treads cracked" where it counts the cracked ones, but not "treads, none missing"."""
    denied = {name.removeprefix("is:") for name in mention.qualifiers if name.startswith("is:")}
    counted = faults_in((*field.say, field.label))
    if "none" in mention.qualifiers:
        return not (denied and counted) or not denied.isdisjoint(counted)
    told = mention.negated and mention.value == "pass"
    return told and not denied.isdisjoint(counted)


_PHYSICAL = frozenset({
    "[length]", "[mass]", "[time]", "[current]", "[temperature]", "[substance]", "[luminosity]",
    "[proportion]",
})  # fmt: skip


def _units_of(mention: Mention) -> set[str]:
    """The units that a number's word may stand for: "eleven degrees" are no count of turns."""
    named = {name.removeprefix("unit:") for name in mention.qualifiers if name.startswith("unit:")}
    return named | ({mention.unit} if mention.unit is not None else set())


def _counts_things(unit: str, field: Field) -> bool:
    """Landings, cycles and strokes are counted, not measured; so are drops per minute where
    the field counts drops."""
    thing, _, rate = unit.partition("/")
    ways = ("drop", "drip") if thing == "drop" else (thing,)
    told = " ".join((*field.say, field.label)).lower()
    if rate and any(way in told for way in ways):
        return True
    names = {name for name, _ in units.dimension(unit)} if units.known(unit) else set()
    return bool(names) and names.isdisjoint(_PHYSICAL)


def _ratio(mention: Mention, field: Field) -> Fit | None:
    if mention.kind != "ratio" or not isinstance(mention.value, Ratio):
        return None
    unit, doubts = settled(mention, field)
    score = 0.8
    if unit is not None and field.unit is not None and not compatible(unit, field.unit):
        score = -1.0
        doubts = (*doubts, "wrong_dimension")
    return Fit(score, mention.value, unit, doubts, mention.alternatives)


def _identifier(mention: Mention, field: Field) -> Fit | None:
    if mention.kind == "identifier" and isinstance(mention.value, str):
        score = 0.5
        kinds = mention.qualifiers & {"serial number", "part number", "batch number", "tool number"}
        if kinds and field.kind:
            score += 0.4 if field.kind in kinds else -0.7
        fields = {name for name in mention.qualifiers if name.startswith("field:")}
        if f"field:{field.name}" in fields:
            score += 0.8
        elif fields:
            score -= 0.6
        doubts = mention.doubts
        value = _in_form(mention.value, field)
        if value == mention.value:
            return Fit(score, value, None, doubts, mention.alternatives)
        doubts = tuple(code for code in doubts if code != "pattern_misfit")
        if value is None:
            others = mention.alternatives
            return Fit(score, mention.value, None, (*doubts, "pattern_misfit"), others)
        others = (mention.value, *(other for other in mention.alternatives if other != value))
        return Fit(score, value, None, (*doubts, "signs_unsaid"), others)
    if (
        mention.kind == "count"
        and isinstance(mention.value, Decimal)
        and mention.stage != "remarks"
    ):
        digits = mention.text if mention.text.isdigit() else str(mention.value)
        if digits.isdigit():
            if field.pattern and len(digits) >= _LONG and _in_form(digits, field) is not None:
                plain = tuple(code for code in mention.doubts if code != "ambiguous_number")
                return Fit(0.0, digits, None, plain, mention.alternatives)
            doubts = (*mention.doubts, "number_as_identifier")
            return Fit(0.0, digits, None, doubts, mention.alternatives)
    return None


_LONG = 4
"""Figures of a number that is a code when it has the form of one, at least."""


def _in_form(value: str, field: Field) -> str | None:
    """`value` as the field's codes are written; None when it has not their form."""
    if not field.pattern:
        return value
    return in_form(value, re.compile(field.pattern, re.IGNORECASE))


def _check(mention: Mention, wanted: tuple[str, ...] | None, field: Field) -> Fit | None:
    if mention.kind != "remark" or not isinstance(mention.value, str):
        return None
    said = told_state(mention)
    put_in = ("state_meaning",) * upkeep.is_put_in(mention, wanted, field)
    if said is None or mention.value == "not done":
        # "crack test done" for "no crack indications": looked for, and not told what was found
        open_ = _DONE.fullmatch(mention.text) and field.label.split()[0].lower() in NEGATIVE
        tripped = not wanted and _may_trip(mention, field)
        value = "pass" if tripped else mention.value
        value = CONTRARY[value] if _is_wanted(mention, field) else value
        none = mention.text.lower() == "none" and not (_PUT_ON | _IN).isdisjoint(wanted or ())
        value = "fail" if none else value  # "two's got none" of what has to be in
        lacks = "lacks" in mention.qualifiers  # "hasn't got any": is that good?
        strange = none or tripped or lacks or _is_other_deed(mention, wanted, field)
        strange = strange or upkeep.is_all(mention, field)
        strange = strange or bool(put_in)
        doubts = (*mention.doubts, *("named_only",) * bool(open_), *("state_meaning",) * strange)
        return Fit(0.6, value, None, (*doubts, *_beside_state(mention, wanted or (), field)))
    contrary = denies(field.label) or denies_deed(field.label, said[-1])
    value = CONTRARY[mention.value] if contrary else mention.value
    opposites = talk().remarks.opposites
    dry = said == _DRY and not _LEAKS.isdisjoint(faults_in((field.label,)))
    wanted = _DRY if dry else wanted  # "brake units dry" where they have to be free of leaks
    if wanted is None:
        # "vent valve open", and the card doesn't tell whether that is good
        plain = said[-1] not in opposites or (said[-1] in _SHUT and _closes(field))
        doubts = () if plain or said == _FITTED else ("state_meaning",)
        return Fit(0.5, value, None, (*mention.doubts, *doubts))
    if "and" in wanted and said != wanted and set(said) <= set(wanted):
        # one of two things that are asked for: without it the check fails, with it it is open
        fails = value == "fail"
        return Fit(0.6, value, None, mention.doubts) if fails else None
    if said == wanted or said[-1] not in opposites:
        odd = said != wanted and value != mention.value  # of another thing, perhaps
        if not _STOPS.isdisjoint(wanted) and _STOPS.isdisjoint(said):
            odd, on = True, mention.text.lower().endswith("ing")  # "the mill kept on turning"
            value = CONTRARY[value] if on else value
        return Fit(0.6, value, None, (*mention.doubts, *put_in, *("state_meaning",) * odd))
    return _stated(mention, value, said[-1], wanted[-1])


CONTRARY = {"pass": "fail", "fail": "pass"}


_PASSES = frozenset({"passing", "passes"})


def _is_wanted(mention: Mention, field: Field) -> bool:
    """Whether the label asks for what a valve is at fault for: "grease point passing"."""
    said, last = (text.lower().split()[-1] for text in (mention.text, field.label))
    leaks = "is:leak" in mention.qualifiers and {said, last} <= _PASSES
    return leaks and field.label.split()[0].lower() not in NEGATIVE


def _is_other_deed(mention: Mention, wanted: tuple[str, ...] | None, field: Field) -> bool:
    """ "The lead-on lights came up" where they have to be interlocked: done by a thing of its kind,
    and not what the label asks; "pump spins" where a valve has to hold: done by another thing."""
    deed = next((name for name in mention.qualifiers if name.startswith("deed:")), None)
    if deed is None or not wanted or mention.value != "pass":
        return False
    kind, label = deed.removeprefix("deed:"), field.label.lower()
    things = {kind_of(word_key(word)) for word in label.split()} - {None}
    other = kind != ANY and bool(things) and kind not in things
    return (other or label.endswith("ed")) and not any(does(kind, stem) for stem in wanted)


def _may_trip(mention: Mention, field: Field) -> bool:
    """ "Upper limit tripped": that is what it is there for, and a breaker has failed by it."""
    words = {word for name in (*field.say, field.label) for word in _WORDS.findall(name.lower())}
    tripped = mention.text.lower() == "tripped" and not mention.negated
    return tripped and not words.isdisjoint(talk().remarks.trips)


_WORDS = re.compile(r"\w+")
_DONE = re.compile(
    r"done|completed?|performed|carried out|checked|inspected|examined|tested|looked", re.IGNORECASE
)
_REFUSES = re.compile(
    r"(?:wo|does|did|would)n['’]?t\b|(?:will|does|did|would) not\b", re.IGNORECASE
)


_AKIN = 0.7
"""From here on a fault is near by ear to the state that a label asks for."""
_UNDONE = 0.66
"""The same for the sounds alone of a state that was denied and of what was not done."""
_NOT_THERE = frozenset({"is:missing", "is:looseness", "is:insecure", "is:disconnected"})
"""Faults that tell of a thing that it is not in, or will not stay so."""


def _beside_state(mention: Mention, wanted: tuple[str, ...], field: Field) -> Iterator[str]:
    """The doubt of a finding that is no word on the state which a label asks for, but sounds like
    one: "drips" and "won't drip" where it asks whether it trips, "not dry" for "not tried"; and of
    a fault where a new thing has to be in, which may be the old one's."""
    words = mention.text.lower().split()
    wanted = wanted or _deeds(field.label)
    stem = verb_stem(words[-1])
    faults = {name for name in mention.qualifiers if name.startswith("is:")}
    denied = mention.negated and bool(faults)
    if not (mention.value == "fail" or denied) or not wanted or stem in wanted:
        return
    if words[0] == "not" and not faults and "state" in mention.qualifiers:
        if any(of_sounds(words[-1], word) >= _UNDONE for word in talk().remarks.undone):
            yield "state_meaning"
    elif faults:
        near = any(f"un{stem}" != word and likeness(stem, word) > _AKIN for word in wanted)
        if near:
            yield "misheard_polarity"
        elif (
            not denied and field.label.lower().startswith("new ") and faults.isdisjoint(_NOT_THERE)
        ) or (not denied and faults <= _OF_SURFACE and upkeep.wants_a_deed(field, wanted)):
            yield "state_meaning"


_OF_SURFACE = frozenset({
    "is:corrosion", "is:discolouration", "is:erosion", "is:pitting", "is:rust", "is:scratch",
    "is:stain", "is:wear",
})  # fmt: skip
"""Faults with which a thing may well do what it has to: "bar's worn" is no word on its return."""


@cache
def _deeds(label: str) -> tuple[str, ...]:
    """Stems of what the thing with that label is there to do: a switch trips."""
    kind = kind_of(word_key(label.rsplit(maxsplit=1)[-1]))
    deeds = deeds_of(kind) if kind else {}
    return tuple(stem for stem in deeds if kind and does(kind, stem))


def _stated(mention: Mention, value: str, said: str, wanted: str) -> Fit:
    """A check whose label asks for one state, and another one was said."""
    same, opposites = talk().remarks.same, talk().remarks.opposites
    turned = "fail" if value == "pass" else "pass"
    if wanted in {opposites.get(said), "out" if said == "on" else None}:
        # "the fan won't stop" is no word that it runs as it should
        refused = mention.negated and _REFUSES.match(mention.text) is not None
        return Fit(0.6, turned, None, (*mention.doubts, *("state_meaning",) * refused))
    # "pin out" may be said of what is removed, and of what has come out
    bare = ("state_meaning",) if said in same and wanted not in _PUT_ON else ()
    if same.get(said) == wanted or same.get(wanted) == said:
        return Fit(0.6, value, None, (*mention.doubts, *bare))
    turned_round = {same.get(opposites.get(said, "")), opposites.get(same.get(said, ""))}
    if wanted in turned_round or opposites.get(same.get(wanted, "")) == said:
        return Fit(0.6, turned, None, (*mention.doubts, *bare))
    return Fit(0.4, value, None, (*mention.doubts, "state_meaning"))


_STOPS = frozenset({"cut", "halt", "kill", "stop", "trip"})
_DRY = ("dry",)
_LEAKS = frozenset({"leak", "weep", "seep", "drip"})
_FITTED = (verb_stem("fitted"),)
_PUT_ON = frozenset(
    map(
        verb_stem,
        ("applied", "drawn", "engaged", "fitted", "inserted", "lowered", "raised", "taken",
         "withdrawn"),
    )
)  # fmt: skip
_IN = frozenset(map(verb_stem, ("in", "on", "fitted", "installed", "present", "locked")))
_SHUT = frozenset({"clos", "shut"})


def _closes(field: Field) -> bool:
    """Whether the check is of a door or the like, which is good when it is closed."""
    names = (*field.say, field.label)
    return any(word_key(name.split()[-1]) in talk().remarks.closures for name in names)


def _choice(said: Said, options: dict[str, str], field: Field) -> Fit | None:
    mention = said.mention
    if said.option is not None and said.option in options and not mention.negated:
        return Fit(0.9, options[said.option], None, ("other_words",) * (GUESS in said.tags))
    absent = mention.negated and {"none", "condition"} & mention.qualifiers
    if mention.kind == "remark" and absent and "none" in field.options:
        words = talk().remarks
        degrees = (words.light | words.heavy).intersection(mention.text.lower().split())
        # "no heavy wear" leaves light wear open
        return Fit(0.6, "none", None, (*mention.doubts, *("severity",) * bool(degrees)))
    if mention.kind in {"count", "quantity"} and isinstance(mention.value, Decimal):
        figure = str(mention.value.normalize())
        if mention.unit is None and figure in field.options:
            return Fit(0.6, figure, None, mention.doubts)
    return None


def _date(mention: Mention, _: Field) -> Fit | None:
    if mention.kind != "date" or not isinstance(mention.value, date):
        return None
    return Fit(0.8, mention.value, None, mention.doubts, mention.alternatives)


_MAKERS: dict[str, Callable[[Mention, Field], Fit | None]] = {
    "measurement": _measurement,
    "count": _count,
    "ratio": _ratio,
    "identifier": _identifier,
    "date": _date,
}
