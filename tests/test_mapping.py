"""Mapping by families of notes, on a card of every type of field, and its properties.

The expectations are common practice, no source, unless a case names one.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from time import process_time
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.cases import GOLDEN, MAPPING, lines
from voicelog import cards, doubt, mapping, units
from voicelog.heard import Transcript
from voicelog.objects import Card, Draft, FieldValue, Ratio
from voicelog.reading import Reader

FAMILIES = lines("mapping/families.jsonl")


@pytest.fixture(scope="module")
def card() -> Card:
    return cards.load(MAPPING / "ferry.yaml")


@pytest.fixture(scope="module")
def reader(card: Card) -> Reader:
    return Reader(card)


def _draft(text: str, card: Card, reader: Reader, step: str | None) -> Draft:
    reading = reader.read(Transcript.of_text(text), step)
    return doubt.weigh(mapping.draft(reading, card, step), reading, card)


def _shown(value: FieldValue) -> str:
    match value.value:
        case Ratio(reading, reference):
            return f"{reading}/{reference}"
        case Decimal() as number:
            return str(number)
        case date() as day:
            return day.isoformat()
    return str(value.value)


def _same_unit(one: str | None, other: str | None) -> bool:
    if one is None or other is None:
        return one is other
    return units.convert(Decimal(1), one, other) == 1


@pytest.mark.parametrize("case", FAMILIES, ids=lambda case: str(case["family"]))
def test_a_family_lands_in_its_fields(case: dict[str, Any], card: Card, reader: Reader) -> None:
    draft = _draft(case["text"], card, reader, case["step"])
    got = {value.key: value for value in draft.values}
    wanted = {(step, field, position): rest for step, field, position, *rest in case["fields"]}
    assert set(got) == set(wanted)
    for key, (value, unit, sureness) in wanted.items():
        assert _shown(got[key]) == value
        assert _same_unit(got[key].unit, unit)
        assert got[key].needs_check == (sureness == "ask"), got[key].reasons


def test_the_noun_of_a_text_field_begins_it_at_the_head_of_a_sentence() -> None:
    own = cards.load(GOLDEN / "cards" / "tail_shaft.yaml")  # "Engineer's remarks"
    text = "covers shut and latched. Remark, cover hinge pin at the back is worn"
    got = {value.field: value for value in _draft(text, own, Reader(own), "65.4").values}
    assert got["covers_shut"].value == "pass"
    assert got["eng_remarks"].value == "cover hinge pin at the back is worn"
    garbled = _draft("park cover hinge pin at the back is worn", own, Reader(own), "65.4")
    assert all(value.needs_check for value in garbled.values)


def test_the_rest_of_a_label_is_no_remark() -> None:
    own = cards.load(GOLDEN / "cards" / "ge_bus_air.yaml")  # "Defects carried over"
    for said in ("D test carried over. Rear bumper cracked.", "carried over: rear bumper cracked"):
        (value,) = _draft(said, own, Reader(own), "4").values
        assert (value.field, str(value.value).casefold()) == ("carried", "rear bumper cracked")


@pytest.mark.parametrize("case", FAMILIES, ids=lambda case: str(case["family"]))
def test_case_of_the_letters_changes_nothing(
    case: dict[str, Any], card: Card, reader: Reader
) -> None:
    def keys(text: str) -> list[tuple[Any, ...]]:
        values = _draft(text, card, reader, case["step"]).values
        return [(value.key, _shown(value).lower(), value.unit) for value in values]

    assert keys(case["text"].upper()) == keys(case["text"].lower())


def test_as_found_stays_beside_as_left(card: Card, reader: Reader) -> None:
    draft = _draft("oil pressure was 30 psi, adjusted to 65 psi", card, reader, "1")
    assert [(v.value, v.as_found) for v in draft.values] == [(Decimal(65), Decimal(30))]


def test_two_values_keep_the_other_as_an_alternative(card: Card, reader: Reader) -> None:
    draft = _draft("oil pressure 72 psi. oil pressure 80 psi.", card, reader, "1")
    assert Decimal(72) in draft.values[0].alternatives
    assert "two_values" in {reason.code for reason in draft.values[0].reasons}


def test_what_finds_no_field_stays_visible(card: Card, reader: Reader) -> None:
    draft = _draft("oil pressure 72 psi and 14 volts on the lamp", card, reader, "1")
    assert [(mention.value, mention.unit) for mention in draft.unplaced] == [(Decimal(14), "V")]


def test_a_quoted_limit_is_kept_among_the_unplaced(card: Card, reader: Reader) -> None:
    draft = _draft("limit is 90 psi", card, reader, "1")
    assert draft.values == ()
    assert [mention.qualifiers & {"aside"} for mention in draft.unplaced] == [{"aside"}]


def test_limits_are_compared_in_the_unit_as_spoken(card: Card, reader: Reader) -> None:
    draft = _draft("oil pressure five bar, bolt one seventy foot pounds", card, reader, "1")
    assert [(v.field, v.unit, v.limit) for v in draft.values] == [
        ("oil_pressure", "bar", "within"),  # 5 bar = 72.5 psi
        ("clamp_torque", "ft*lbf", "below"),  # 70 ft·lbf = 94.9 N·m
    ]


def test_missing_fields_are_those_of_steps_spoken_of(card: Card, reader: Reader) -> None:
    draft = _draft("Step three, next check 3 March 2027.", card, reader, None)
    assert draft.missing == (("3", "gauge", None), ("3", "fill", None))


def test_a_missing_item_of_a_sequence_is_named(card: Card, reader: Reader) -> None:
    draft = _draft("inlet cock closed, return cock closed", card, reader, "2")
    assert [warning.code for warning in draft.warnings] == ["sequence_missing"]
    assert "bleed cock" in draft.warnings[0].sentence


def test_a_step_that_the_card_lacks_is_named(card: Card, reader: Reader) -> None:
    draft = _draft("Step nineteen, oil pressure 72 psi.", card, reader, "1")
    assert "unknown_step" in {warning.code for warning in draft.warnings} or any(
        mention.value == Decimal(19) for mention in draft.unplaced
    )


def test_every_value_lies_in_the_words_that_say_it(card: Card, reader: Reader) -> None:
    for case in FAMILIES:
        draft = _draft(case["text"], card, reader, case["step"])
        for value in draft.values:
            said = case["text"][value.start : value.end]
            assert said
            if value.field != "loss":  # computed from another field's words
                assert value.as_spoken == said


_WORDS = st.sampled_from(
    """oil pressure bolt bolts one two three four five ninety eight hundred newton metres psi no nil
    leak leaks crack fitted not cotter pin correction disregard negative i say again limit is should
    be between and to , . ; ? was now same all pass fail chain port starboard step remarks point
    double minus half quarter seventy over eighty due third march broken links none good glazed
    kilonewtons degrees celsius LG-042 60 7.2 1,5 11.4mm""".split()  # noqa: SIM905
)


@settings(max_examples=150)
@given(st.one_of(st.text(max_size=120), st.lists(_WORDS, max_size=40).map(" ".join)))
def test_no_text_makes_the_chain_raise(text: str) -> None:
    card = cards.load(MAPPING / "ferry.yaml")
    draft = _draft(text, card, Reader(card), None)
    spoken = " ".join(text.split())
    keys = [value.key for value in draft.values]
    assert len(keys) == len(set(keys))
    for value in draft.values:
        assert 0 <= value.start < value.end <= len(spoken)
        assert 0 <= value.confidence <= 1


def test_cost_grows_in_proportion_to_length(card: Card, reader: Reader) -> None:
    note = " ".join(str(case["text"]) for case in FAMILIES)

    def seconds(times: int) -> float:
        reading = reader.read(Transcript.of_text(" ".join([note] * times)), "1")
        best = float("inf")
        for _ in range(2):
            start = process_time()
            doubt.weigh(mapping.draft(reading, card, "1"), reading, card)
            best = min(best, process_time() - start)
        return best

    seconds(1)
    assert seconds(8) < 4 * 2.5 * seconds(2)


_PAIRED = b"""
card: FL-1
title: Relief valve of a barge
revision: "1"
revision_date: 2026-03-03
source: invented
steps:
  - step: "1"
    title: Valve
    fields:
      - {name: lift_found, label: "Lifts, as found", type: measurement, unit: bar, min: 5, max: 7}
      - {name: lift_left, label: "Lifts, as left", type: measurement, unit: bar, min: 5, max: 7}
      - {name: play, label: Play left, type: measurement, unit: mm, max: 3}
"""


@pytest.mark.parametrize(
    "text",
    [
        "lifts as found 6.3 bar, as left 6 point oh bar",
        "lifts at 6.3 bar as found, cleaned it, lifts at 6.0 bar as left",
        "lifts as left 6.0 bar, as found it was 6.3 bar",
        "lifts was 6.3 bar, now 6.0 bar",
    ],
)
def test_what_was_found_and_what_was_left_go_each_to_its_field(text: str) -> None:
    paired = cards.parse(_PAIRED, "paired.yaml")
    draft = _draft(text, paired, Reader(paired), "1")
    said = {value.field: value.value for value in draft.values}
    assert said == {"lift_found": Decimal("6.3"), "lift_left": Decimal("6.0")}
    codes = {reason.code for value in draft.values for reason in value.reasons}
    assert "ambiguous_place" not in codes


def test_two_values_in_one_field_of_a_pair_are_asked() -> None:
    paired = cards.parse(_PAIRED, "paired.yaml")
    draft = _draft("lifts at 6.3 bar, then 6.1 bar", paired, Reader(paired), "1")
    assert draft.values
    assert all(value.reasons for value in draft.values)


def test_a_field_without_a_partner_takes_the_value_as_left() -> None:
    paired = cards.parse(_PAIRED, "paired.yaml")
    alone = _draft("play was 2.4 mm, adjusted to 1.1 mm", paired, Reader(paired), "1")
    (value,) = alone.values
    assert (value.field, value.value) == ("play", Decimal("1.1"))
    assert "ambiguous_place" not in {reason.code for reason in value.reasons}


_APART = b"""\
card: TC-7
title: Grain auger leg 2, thrust bearing
revision: "1"
revision_date: 2026-01-01
source: invented
steps:
  - step: "1"
    title: Strip down
    fields:
      - {name: thrust_found, label: "Thrust clearance, as found", type: measurement, unit: mm}
      - {name: leg_amps, label: Leg current, type: measurement, unit: ampere}
  - step: "2"
    title: Build up
    fields:
      - {name: thrust_left, label: "Thrust clearance, as left", type: measurement, unit: mm}
"""


@pytest.mark.parametrize(
    "text",
    [
        "thrust clearance 0.5 mm as found, 0.3 mm as left",
        "thrust clearance was 0.5 mm, shimmed it and as left it's 0.3 mm",
        "thrust clearance tight as found, just 0.5 mm on it, shimmed it, as left it's 0.3 mm",
    ],
)
@pytest.mark.parametrize("step", ["1", "2", None])
def test_a_pair_may_stand_in_two_steps(text: str, step: str | None) -> None:
    apart = cards.parse(_APART, "apart.yaml")
    draft = _draft(text, apart, Reader(apart), step)
    got = {value.field: value.value for value in draft.values}
    assert got == {"thrust_found": Decimal("0.5"), "thrust_left": Decimal("0.3")}


def test_the_number_of_a_title_is_no_value() -> None:
    apart = cards.parse(_APART, "apart.yaml")
    reader = Reader(apart)
    assert not _draft("Leg two, about to start", apart, reader, "1").values
    (value,) = _draft("leg current two amps", apart, reader, "1").values
    assert value.value == Decimal(2)


_CHAINS = b"""
card: FL-3
title: Chains and sheave of a barge
revision: "1"
revision_date: 2026-03-03
source: invented
steps:
  - step: "1"
    title: Chains
    fields:
      - {name: studs, label: Loose studs, type: count, positions: [port, starboard], say: [studs]}
      - {name: sheave_no, label: Sheave fitted, type: identifier, say: [new sheave]}
      - {name: seal_lot, label: Seal batch, type: identifier, say: [seal batch]}
"""


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("loose studs, free on the port chain, and on the starboard 1", {"studs"}),
        ("loose studs, port two, starboard one", set()),
        ("new sheave serial two six one four", set()),
        ("seal batch, batch, two six one four", {"seal_lot"}),
    ],
)
def test_what_may_be_another_thing_or_another_code_is_asked(text: str, asked: set[str]) -> None:
    chains = cards.parse(_CHAINS, "chains.yaml")
    draft = _draft(text, chains, Reader(chains), "1")
    assert {value.field for value in draft.values if value.needs_check} == asked
