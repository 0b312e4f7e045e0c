"""Doubt: what the audio and the number itself say against a value."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from voicelog import config, doubt
from voicelog.heard import Suspicion, Transcript, Word
from voicelog.objects import Card, Draft, Field, FieldValue, Mention, Reading, Step, Value
from voicelog.pipeline import Chain
from voicelog.reading.settings import reasons_of, settings
from voicelog.speech import recheck

FIELD = Field(
    "torque",
    "Torque",
    "measurement",
    "N*m",
    min=Decimal(95),
    max=Decimal(105),
    positions=("1", "2"),
)
TEXT = "bolt one ninety eight newton metres"


def _card(field: Field) -> Card:
    steps = (Step("1", "One", (field,)),)
    return Card("C-1", "Card", "1", date(2026, 1, 1), "invented", steps)


def _weighed(
    value: Value = Decimal(98),
    *,
    field: Field = FIELD,
    transcript: Transcript | None = None,
    **rest: Any,
) -> FieldValue:
    heard = transcript or Transcript.of_text(TEXT)
    said = Mention("quantity", "ninety eight newton metres", 9, 35, value, "N*m")
    proposed = FieldValue(
        "1", "torque", "1", value, "N*m", said.text, start=9, end=35, mentions=(said,)
    )
    proposed = replace(proposed, **rest)
    draft = Draft("C-1", "1", "1", (), (proposed,))
    return doubt.weigh(draft, Reading(heard, (said,)), _card(field)).values[0]


def _codes(value: FieldValue) -> set[str]:
    return {reason.code for reason in value.reasons}


def test_a_plain_value_is_not_in_doubt() -> None:
    value = _weighed(limit="within")
    assert not value.needs_check
    assert value.confidence > 0.95


def test_outside_its_limits_is_no_doubt_of_the_reading() -> None:
    assert not _weighed(Decimal(93), limit="below").needs_check


def test_far_outside_its_limits_is() -> None:
    assert "wild" in _codes(_weighed(Decimal(980), limit="above"))


def test_a_position_that_ran_into_the_number() -> None:
    assert "joined_digits" in _codes(_weighed(Decimal(198), limit="above"))


def test_another_reading_within_the_limits() -> None:
    value = _weighed(Decimal(15), limit="below", alternatives=(Decimal(100),))
    assert "limits_alternative" in _codes(value)


def test_a_value_is_never_pulled_into_its_limits() -> None:
    value = _weighed(Decimal(198), limit="above", alternatives=(Decimal(98),))
    assert value.value == Decimal(198)


def test_outside_the_usual_range() -> None:
    field = replace(FIELD, usual=(Decimal(99), Decimal(101)))
    assert "unusual" in _codes(_weighed(field=field, limit="within"))


@pytest.mark.parametrize(
    ("said", "coarse"), [("104.9", False), ("105", False), ("100", False), ("95.0", False)]
)
def test_figures_that_settle_the_question(said: str, coarse: bool) -> None:
    value = _weighed(Decimal(said), limit="within", at_limit=said in {"105", "95.0"})
    assert ("coarse" in _codes(value)) == coarse


def test_too_coarse_to_decide_against_the_limit() -> None:
    field = replace(FIELD, min=None, max=Decimal("98.2"))
    assert "coarse" in _codes(_weighed(Decimal(98), field=field, limit="within"))


def test_an_unlikely_word() -> None:
    words = tuple(Word(text, probability=0.1 if text == "eight" else 1.0) for text in TEXT.split())
    value = _weighed(limit="within", transcript=Transcript(words))
    assert "unlikely_word" in _codes(value)
    assert value.confidence < 0.95


def test_a_second_look_that_did_not_bear_it_out() -> None:
    suspicion = Suspicion(9, 21, ("nineteen",), 0.4, "second look")
    heard = replace(Transcript.of_text(TEXT), suspicions=(suspicion,))
    value = _weighed(limit="within", transcript=heard)
    assert "second_look" in _codes(value)
    assert "nineteen" in value.alternatives


def test_a_second_look_elsewhere_is_no_doubt_here() -> None:
    heard = replace(
        Transcript.of_text(TEXT + " and a lamp"),
        suspicions=(Suspicion(40, 46, ("a lamb",), 0.4, "second look"),),
    )
    assert not _weighed(limit="within", transcript=heard).needs_check


def test_a_clear_second_look_is_no_doubt() -> None:
    heard = replace(
        Transcript.of_text(TEXT), suspicions=(Suspicion(9, 21, ("nineteen",), 40.0, "x"),)
    )
    assert not _weighed(limit="within", transcript=heard).needs_check


def test_a_doubtful_recording_puts_every_value_in_doubt() -> None:
    heard = replace(Transcript.of_text(TEXT), warnings=("too noisy",))
    value = _weighed(limit="within", transcript=heard)
    assert [reason.sentence for reason in value.reasons] == ["too noisy"]


def test_more_doubts_mean_less_confidence() -> None:
    one = _weighed(limit="within", reasons=reasons_of(("about",)))
    two = _weighed(limit="within", reasons=reasons_of(("about", "hedged")))
    assert 0 < two.confidence < one.confidence < _weighed(limit="within").confidence


def test_every_code_that_is_raised_has_a_sentence() -> None:
    """Codes in the source are literals; each one that reading.toml lacks would show bare."""
    known = set(settings().reasons)
    source = Path(doubt.__file__).parent
    for path in [source / "doubt.py", *(source / "mapping").glob("*.py")]:
        for code in _raised(path.read_text()):
            assert code in known, f"{path.name}: {code}"


def _raised(source: str) -> set[str]:
    import re

    found = set(re.findall(r'doubts?\.append\("(\w+)"\)', source))
    found |= set(re.findall(r'codes\.append\("(\w+)"\)', source))
    found |= set(re.findall(r'yield "(\w+)"', source))
    return found


def test_thresholds_and_reasons_come_from_the_settings_file() -> None:
    assert (config.config_dir() / "reading.toml").exists()
    assert {"clear_margin", "trust_plain", "wild_factor"} <= set(settings().thresholds)


def test_other_words_count_in_a_remark_alone() -> None:
    loose = tuple(Suspicion(start, start + 4, (), 0.0, recheck.OTHER_WORDS) for start in (9, 16))
    heard = replace(Transcript.of_text(TEXT), suspicions=loose)
    assert _weighed(transcript=heard).reasons == ()
    remark = Field("torque", "Remarks", "text")
    said = _weighed("ninety eight newton metres", field=remark, transcript=heard, unit=None)
    assert [reason.code for reason in said.reasons] == ["second_look"]
    once = replace(Transcript.of_text(TEXT), suspicions=loose[:1])
    assert not _weighed("ninety eight", field=remark, transcript=once, unit=None).reasons


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("haven't done bolt one ninety eight newton metres", True),
        ("bolt two not done, bolt one ninety eight newton metres", False),
        ("haven't done the pin but bolt one ninety eight newton metres", False),
    ],
)
def test_a_value_in_what_was_not_done_is_asked_about(text: str, asked: bool) -> None:
    field = replace(FIELD, position_word="bolt", say=("bolt torque",))
    draft = Chain().read(text, _card(field), "1")
    (value,) = [each for each in draft.values if each.position == "1"]
    assert ("contradiction" in {reason.code for reason in value.reasons}) is asked


ADRIFT = (
    ("bolt one ninety, bolt two ninety and newton metres", "2", True),
    ("bolt one ninety newton metres, bolt two ninety in the hand newton metres", "2", True),
    ("bolt one ninety newton metres, bolt two ninety six and a half newton metres", "2", False),
    ("bolt one ninety six and bolt two ninety seven newton metres", "1", False),
    ("bolt one ninety six all newton metres", "1", False),
    ("bolt one ninety six on the dial, bolt two ninety seven newton metres", "1", False),
)
"""(note, position, whether a part of its number may be lost)."""


@pytest.mark.parametrize(("note", "position", "lost"), ADRIFT)
def test_a_unit_that_drifted_from_its_number_is_asked_about(
    note: str, position: str, lost: bool
) -> None:
    field = replace(FIELD, say=("torque",), position_word="bolt")
    draft = Chain().read(f"Torque, {note}.", _card(field), "1")
    (value,) = [value for value in draft.values if value.position == position]
    assert ("unit_adrift" in {reason.code for reason in value.reasons}) is lost
