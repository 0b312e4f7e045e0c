"""Task cards: YAML 1.2 in, `Card` out. Every fault names file, line and key.

The file is read as a tree of nodes, never as Python objects: nothing in it is executed,
each value keeps its line, and a bound keeps its digits ("0.50" stays 0.50).
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import partial
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar, get_args

from voicelog import units
from voicelog.config import config_dir
from voicelog.errors import CardError
from voicelog.objects import Card, Field, FieldType, IdentifierKind, Step

if TYPE_CHECKING:
    from pathlib import Path

    from ruamel.yaml.nodes import Node

T = TypeVar("T")

MAX_BYTES = 1_000_000
"""A card larger than this is not a task card."""

FORMULAS: dict[str, tuple[str, ...]] = {
    "torque_wrench_extension": ("torque", "wrench", "extension"),
    "torque_wrench_shortening": ("torque", "wrench", "extension"),
    "compression_loss": ("compression",),
    "wear_remaining": ("measured", "minimum"),
    "wear_fraction": ("measured", "minimum", "new"),
    "wear_left": ("wear", "limit"),
    "wear_left_fraction": ("wear", "limit"),
    "consumption_rate": ("added", "hours"),
    "leak_rate": ("drops", "time", "drops_per_volume"),
    "duration": ("start", "finish"),
}
"""Formulas that a computed field may name, each with its arguments; limits.py works them out."""

CONSTANT = re.compile(r"(-?\d+(?:\.\d+)?)(?:\s+(\S.*))?")
"""An input that is no field: a number with its unit, such as "12 inch"."""

_NUMBERED = {"measurement", "ratio", "computed"}
_BOUNDED = _NUMBERED | {"count"}


@dataclass(frozen=True, slots=True)
class _Place:
    """Where in the file a value stands, for the message of a fault."""

    file: str
    line: int
    key: str

    def fail(self, problem: str) -> NoReturn:
        raise CardError(f"{self.file}, line {self.line}, {self.key}: {problem}")

    def at(self, node: Node, key: str) -> _Place:
        return _Place(self.file, node.start_mark.line + 1, f"{self.key}.{key}".lstrip("."))


Parse = Callable[["Node", _Place], Any]


def _text(node: Node, place: _Place) -> str:
    if not isinstance(node.value, str) or not node.value.strip():
        place.fail("expected a text")
    return node.value.strip()


def _decimal(node: Node, place: _Place) -> Decimal:
    try:
        number = Decimal(_text(node, place))
    except InvalidOperation:
        place.fail(f"expected a number, got {node.value!r}")
    if not number.is_finite():
        place.fail("expected a finite number")
    return number


def _flag(node: Node, place: _Place) -> bool:
    if node.value not in ("true", "false"):
        place.fail(f"expected true or false, got {node.value!r}")
    return bool(node.value == "true")


def _date(node: Node, place: _Place) -> date:
    try:
        return date.fromisoformat(_text(node, place))
    except ValueError:
        place.fail(f"expected a date such as 2026-03-01, got {node.value!r}")


def _unit(node: Node, place: _Place) -> str:
    unit = _text(node, place)
    if not units.known(unit):
        place.fail(f"unknown unit {unit!r}; write it as a Pint expression, such as N*m or ft*lbf")
    return unit


def _pattern(node: Node, place: _Place) -> str:
    try:
        return re.compile(_text(node, place)).pattern
    except re.error as error:
        place.fail(f"not a regular expression: {error}")


def _one_of(choices: tuple[str, ...], node: Node, place: _Place) -> str:
    text = _text(node, place)
    if text not in choices:
        place.fail(f"{text!r} is not one of: {', '.join(choices)}")
    return text


def _list(item: Parse, node: Node, place: _Place) -> tuple[Any, ...]:
    from ruamel.yaml.nodes import SequenceNode

    if not isinstance(node, SequenceNode):
        place.fail("expected a list")
    return tuple(
        item(child, place.at(child, str(index))) for index, child in enumerate(node.value, 1)
    )


def _pairs(node: Node, place: _Place) -> Iterator[tuple[str, Node, _Place]]:
    from ruamel.yaml.nodes import MappingNode

    if not isinstance(node, MappingNode):
        place.fail("expected keys and values")
    seen: set[str] = set()
    for key, child in node.value:
        name = _text(key, place)
        here = place.at(key, name)
        if name in seen:
            here.fail("this key stands here twice")
        seen.add(name)
        yield name, child, here


def _mapping(item: Parse, node: Node, place: _Place) -> tuple[tuple[str, Any], ...]:
    return tuple((name, item(child, here)) for name, child, here in _pairs(node, place))


def _object(
    shape: type[T],
    keys: dict[str, tuple[str, Parse]],
    required: set[str],
    node: Node,
    place: _Place,
) -> T:
    found: dict[str, Any] = {}
    for name, child, here in _pairs(node, place):
        if name not in keys:
            here.fail(f"unknown key; known are: {', '.join(keys)}")
        attribute, parse = keys[name]
        found[attribute] = parse(child, here)
    missing = required - {name for name, *_ in _pairs(node, place)}
    if missing:
        place.at(node, "").fail(f"lacks {', '.join(sorted(missing))}")
    return shape(**found)


_texts = partial(_list, _text)


def _usual(node: Node, place: _Place) -> tuple[Decimal, Decimal]:
    ends = _list(_decimal, node, place)
    if len(ends) != 2 or ends[0] > ends[1]:
        place.fail("expected [lowest, highest]")
    return ends[0], ends[1]


_FIELD: dict[str, tuple[str, Parse]] = {
    "name": ("name", _text),
    "label": ("label", _text),
    "type": ("type", partial(_one_of, get_args(FieldType))),
    "unit": ("unit", _unit),
    "min": ("min", _decimal),
    "max": ("max", _decimal),
    "usual": ("usual", _usual),
    "positions": ("positions", _texts),
    "position_word": ("position_word", _text),
    "say": ("say", _texts),
    "kind": ("kind", partial(_one_of, get_args(IdentifierKind))),
    "pattern": ("pattern", _pattern),
    "options": ("options", _texts),
    "formula": ("formula", _text),
    "inputs": ("inputs", partial(_mapping, _text)),
    "required": ("required", _flag),
}


def _formula_fault(field: Field) -> str | None:
    """What is wrong with the formula of a field; None when nothing is."""
    if (field.type == "computed") != (field.formula is not None):
        return "formula belongs to a computed field, and a computed field needs one"
    if field.formula is None:
        return "inputs belong to a computed field" if field.inputs else None
    arguments = FORMULAS.get(field.formula)
    if arguments is None:
        return f"no formula {field.formula!r}; there are: {', '.join(FORMULAS)}"
    if {argument for argument, _ in field.inputs} != set(arguments):
        return f"inputs of {field.formula} are {', '.join(arguments)}"
    return None


def _field(node: Node, place: _Place) -> Field:
    field: Field = _object(Field, _FIELD, {"name", "label", "type"}, node, place)
    here = replace(place, key=f"{place.key} ({field.name})", line=node.start_mark.line + 1)
    if field.type == "measurement" and field.unit is None:
        here.fail("a measurement needs a unit")
    if field.unit is not None and field.type not in _NUMBERED:
        here.fail(f"a {field.type} has no unit")
    if field.type not in _BOUNDED and (field.min, field.max, field.usual) != (None, None, None):
        here.fail(f"a {field.type} has no bounds")
    if field.min is not None and field.max is not None and field.min > field.max:
        here.fail(f"min {field.min} is above max {field.max}")
    if (field.type == "choice") != bool(field.options):
        here.fail("options belong to a choice, and a choice needs them")
    fault = _formula_fault(field)
    if fault:
        here.fail(fault)
    if field.type != "identifier" and (field.kind or field.pattern):
        here.fail("kind and pattern belong to an identifier")
    if field.position_word and not field.positions:
        here.fail("position_word needs positions")
    for what, items in (("position", field.positions), ("option", field.options)):
        if len(set(items)) != len(items):
            here.fail(f"the same {what} stands here twice")
    return field


_STEP: dict[str, tuple[str, Parse]] = {
    "step": ("number", _text),
    "title": ("title", _text),
    "fields": ("fields", partial(_list, _field)),
    "sequence": ("sequence", _texts),
    "independent_inspection": ("independent_inspection", _flag),
    "opens": ("opens", _text),
    "restores": ("restores", _text),
    "leak_check": ("leak_check", _text),
}


def _step(node: Node, place: _Place) -> Step:
    step: Step = _object(Step, _STEP, {"step", "title"}, node, place)
    names = [field.name for field in step.fields]
    for name in names:
        if names.count(name) > 1:
            place.at(node, f"{step.number}.{name}").fail("two fields of one step have this name")
    return step


def _input_fault(source: str, step: Step) -> str | None:
    """Why `source` can't be an input of a computed field of `step`."""
    number = CONSTANT.fullmatch(source)
    if number:
        return None if number[2] is None or units.known(number[2]) else f"unknown unit {number[2]}"
    name, dot, bound = source.rpartition(".")
    field = step.field(name if dot else source)
    if field is None:
        return f"names {source}, which the step lacks"
    if dot and (bound not in ("min", "max") or getattr(field, bound) is None):
        return f"names {source}, a bound that the field lacks"
    return f"{source} is itself computed" if field.type == "computed" and not dot else None


_CARD: dict[str, tuple[str, Parse]] = {
    "card": ("number", _text),
    "title": ("title", _text),
    "revision": ("revision", _text),
    "revision_date": ("revision_date", _date),
    "expires": ("expires", _date),
    "source": ("source", _text),
    "terms": ("terms", partial(_mapping, _texts)),
    "steps": ("steps", partial(_list, _step)),
}


def _card(node: Node, place: _Place) -> Card:
    required = {"card", "title", "revision", "revision_date", "source", "steps"}
    card: Card = _object(Card, _CARD, required, node, place)
    numbers = [step.number for step in card.steps]
    if not numbers:
        place.at(node, "steps").fail("a card needs at least one step")
    for step in card.steps:
        here = place.at(node, f"steps ({step.number})")
        if numbers.count(step.number) > 1:
            here.fail("two steps have this number")
        for key, other in (("restores", step.restores), ("leak_check", step.leak_check)):
            if other is not None and other not in numbers:
                here.fail(f"{key} names step {other}, which the card lacks")
        for field in step.fields:
            for argument, source in field.inputs:
                fault = _input_fault(source, step)
                if fault:
                    here.fail(f"{field.name}.inputs.{argument}: {fault}")
    return card


def parse(data: bytes, name: str) -> Card:
    """The card in `data`, the content of the file `name`.

    Raises CardError naming file, line and key of the first fault.
    """
    from ruamel.yaml import YAML
    from ruamel.yaml.error import MarkedYAMLError, YAMLError

    if len(data) > MAX_BYTES:
        raise CardError(f"{name}: larger than {MAX_BYTES} bytes; this is no task card")
    try:
        node = YAML().compose(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise CardError(f"{name}: not UTF-8 text ({error}); save the card as UTF-8") from error
    except MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else 1
        raise CardError(f"{name}, line {line}: not YAML ({error.problem})") from error
    except YAMLError as error:
        raise CardError(f"{name}: not YAML ({error})") from error
    if node is None:
        raise CardError(f"{name}: empty; a task card begins with its number (card: ...)")
    return replace(_card(node, _Place(name, 1, "")), sha256=hashlib.sha256(data).hexdigest())


def load(path: Path) -> Card:
    """The card in the file `path`. Raises CardError."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise CardError(f"{path}: can't be read ({error.strerror})") from error
    return parse(data, str(path))


def shipped(number: str = "") -> dict[str, Card]:
    """The demo's cards by number; with `number`, a file without these characters is not parsed."""
    files = sorted(config_dir().glob("cards/*.yaml"))
    named = (file for file in files if number.encode() in file.read_bytes())
    return {card.number: card for card in map(load, named)}


def find_step(card: Card, number: str | None) -> Step | None:
    """The step `number` of `card`; None when no number is given. Raises CardError."""
    if number is None:
        return None
    step = card.step(number)
    if step is None:
        known = ", ".join(step.number for step in card.steps)
        raise CardError(f"card {card.number} has no step {number}; its steps are: {known}")
    return step
