"""Task cards: what is right is loaded exactly, what is wrong is named by file, line and key."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from voicelog import cards
from voicelog.errors import CardError

GOOD = """\
card: TC-1
title: Slewing bearing inspection
revision: 3
revision_date: 2026-03-01
source: demonstration manual 12 rev 2
terms:
  ring gear: [ring gear, toothed ring]
steps:
  - step: 10
    title: Measure
    opens: cover removed
    leak_check: 20
    fields:
      - {name: backlash, label: Backlash, type: measurement, unit: mm, min: 0.20, max: 0.50, usual: [0.2, 0.45]}
      - {name: bolt, label: Bolt, type: measurement, unit: N*m, positions: [1, 2], position_word: bolt, say: [bolt]}
      - {name: serial, label: Serial, type: identifier, kind: serial number, pattern: '[A-Z]{2}\\d{3}'}
  - step: 20
    title: Close
    restores: 10
    independent_inspection: true
    sequence: [cover, seal]
    fields:
      - {name: state, label: State, type: choice, options: [new, worn], required: false}
"""  # noqa: E501


def test_a_card_keeps_what_its_file_says() -> None:
    card = cards.parse(GOOD.encode(), "good.yaml")
    measure, close = card.steps
    assert (card.number, card.revision, card.revision_date) == ("TC-1", "3", date(2026, 3, 1))
    assert card.terms == (("ring gear", ("ring gear", "toothed ring")),)
    assert (measure.number, measure.opens, measure.leak_check) == ("10", "cover removed", "20")
    assert (close.restores, close.independent_inspection) == ("10", True)
    assert close.sequence == ("cover", "seal")
    backlash, bolt, serial = measure.fields
    assert str(backlash.min) == "0.20", "a bound keeps its digits"
    assert backlash.usual == (Decimal("0.2"), Decimal("0.45"))
    assert bolt.places == ("1", "2")
    assert backlash.places == (None,)
    assert serial.pattern == r"[A-Z]{2}\d{3}"
    assert not close.fields[0].required


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("title: Slewing", "titel: Slewing", "bad.yaml, line 2, titel: unknown key"),
        ("min: 0.20", "mim: 0.20", "line 14, steps.1.fields.1.mim: unknown key"),
        ("unit: mm", "unit: flurb", "line 14, steps.1.fields.1.unit: unknown unit 'flurb'"),
        ("min: 0.20", "min: low", "expected a number, got 'low'"),
        ("min: 0.20", "min: .inf", "a number"),
        ("min: 0.20", "min: 0.60", "min 0.60 is above max 0.50"),
        ("type: choice, options: [new, worn]", "type: choice", "a choice needs them"),
        ("options: [new, worn]", "options: [new, new]", "the same option stands here twice"),
        ("type: measurement, unit: mm", "type: measurement", "a measurement needs a unit"),
        ("type: measurement, unit: mm", "type: measure, unit: mm", "is not one of"),
        ("restores: 10", "restores: 15", "restores names step 15, which the card lacks"),
        ("leak_check: 20", "leak_check: 21", "leak_check names step 21"),
        ("step: 20", "step: 10", "two steps have this number"),
        ("name: bolt,", "name: backlash,", "two fields of one step have this name"),
        ("revision_date: 2026-03-01", "revision_date: 1 March", "expected a date"),
        ("independent_inspection: true", "independent_inspection: yes", "expected true or false"),
        (r"'[A-Z]{2}\d{3}'", "'[A-Z'", "not a regular expression"),
        ("position_word: bolt, ", "", ""),
        ("positions: [1, 2], ", "", "position_word needs positions"),
        ("card: TC-1\n", "", "lacks card"),
        ("card: TC-1\n", "card: TC-1\ncard: TC-2\n", "stands here twice"),
        ("steps:", "steps: [", "not YAML"),
        ("title: Close", "title: [Close]", "expected a text"),
        ("sequence: [cover, seal]", "sequence: cover", "expected a list"),
    ],
)
def test_a_fault_is_named_with_its_place(old: str, new: str, message: str) -> None:
    assert old in GOOD
    if not message:  # a change that is allowed
        cards.parse(GOOD.replace(old, new, 1).encode(), "bad.yaml")
        return
    with pytest.raises(CardError) as fault:
        cards.parse(GOOD.replace(old, new, 1).encode(), "bad.yaml")
    assert message in str(fault.value)
    assert str(fault.value).startswith("bad.yaml")


def test_what_is_no_card_is_refused(tmp_path: Path) -> None:
    for data in (
        b"",
        b"\xff\xfe\x00",
        b"- a\n- b\n",
        b"just words",
        b"!!python/object:os.system x",
    ):
        with pytest.raises(CardError):
            cards.parse(data, "bad.yaml")
    with pytest.raises(CardError, match="can't be read"):
        cards.load(tmp_path / "none.yaml")
    with pytest.raises(CardError, match="larger than"):
        cards.parse(b"#" * (cards.MAX_BYTES + 1), "big.yaml")


def test_a_step_that_the_card_lacks_is_refused_with_those_it_has() -> None:
    card = cards.parse(GOOD.encode(), "good.yaml")
    assert cards.find_step(card, None) is None
    with pytest.raises(CardError, match="no step 30; its steps are: 10, 20"):
        cards.find_step(card, "30")


def test_the_cards_that_ship_are_right() -> None:
    assert len(cards.shipped()) >= 4


COMPUTED = (
    "{name: play, label: Play left, type: computed, unit: mm, formula: wear_left,"
    " inputs: {wear: backlash, limit: backlash.max}}"
)


def with_computed(line: str) -> bytes:
    return GOOD.replace("      - {name: bolt,", f"      - {line}\n      - {{name: bolt,").encode()


def test_a_computed_field_names_its_formula_and_inputs() -> None:
    field = cards.parse(with_computed(COMPUTED), "good.yaml").steps[0].field("play")
    assert field is not None
    assert field.formula == "wear_left"
    assert dict(field.inputs) == {"wear": "backlash", "limit": "backlash.max"}


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("formula: wear_left", "formula: guess", "no formula 'guess'; there are: torque_wrench"),
        ("wear: backlash", "worn: backlash", "inputs of wear_left are wear, limit"),
        ("wear: backlash, ", "", "inputs of wear_left are wear, limit"),
        ("wear: backlash", "wear: lash", "names lash, which the step lacks"),
        ("backlash.max", "backlash.best", "a bound that the field lacks"),
        ("backlash.max", "bolt.max", "a bound that the field lacks"),
        ("backlash.max", "0.50 flurb", "unknown unit flurb"),
        ("backlash.max", "play", "play is itself computed"),
        ("type: computed, ", "type: measurement, ", "formula belongs to a computed field"),
    ],
)
def test_faults_of_computed_fields(old: str, new: str, message: str) -> None:
    with pytest.raises(CardError, match=message):
        cards.parse(with_computed(COMPUTED.replace(old, new)), "bad.yaml")


def test_an_input_may_be_a_constant_with_its_unit() -> None:
    card = cards.parse(with_computed(COMPUTED.replace("backlash.max", "0.50 mm")), "good.yaml")
    assert card.steps[0].field("play") is not None
