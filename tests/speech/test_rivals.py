"""The rivals that matter are among those that are scored."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.speech import rivals

EXPECTED = [
    ("torque 115 newton metres", "torque 150 newton metres"),
    ("fifteen thou", "fifty thou"),
    ("five hundred nine amps", "five hundred ninety amps"),
    ("one hundred and sixty bar", "one hundred and six bar"),
    ("75 over 18", "75 over 80"),
    ("cylinder 174 over 80", "cylinder 1, 74 over 80"),
    ("bolt 1, 8 fitted", "bolt 18 fitted"),
    ("oil at 2.6 degrees", "oil at 26 degrees"),
    ("bolts 1.8, 98", "bolts 1, 8, 98"),
    ("handle for 40 pounds", "handle 4 40 pounds"),
    ("torque to 65", "torque 2 65"),
    ("valve serviceable", "valve unserviceable"),
    ("valve and serviceable", "valve unserviceable"),
    ("no cracks", "cracks"),
    ("within limits", "not within limits"),
    ("98 foot pounds", "98 inch pounds"),
    ("lining four mm left", "lining four mil left"),
    ("bolts one to four sixty three pounds", "bolts one to four sixty foot pounds"),
    ("one five two psi", "one nine two psi"),
    ("torque seventy one", "torque sixty one"),
    ("selector armed, six seconds", "selector disarmed, six seconds"),
    ("pins unlocked", "pins locked"),
    ("bearings dry and fitted", "bearings dry and pitted"),
    ("Latched and locked", "unlatched and locked"),
    ("AD", "80"),
    ("torque 7D newton metres", "torque 70 newton metres"),
    ("serial T B four one", "serial T V four one"),
    ("serial T M four one", "serial T N four one"),
    ("serial B T T one", "serial B two T one"),
    ("batch sierra double one nine", "batch sierra bravo one nine"),
    ("batch bravo one nine", "batch double one nine"),
    ("certificate double victor slash", "certificate bravo victor slash"),
]


@pytest.mark.parametrize(("text", "rival"), EXPECTED)
def test_the_confusions_of_the_trade_are_rivals(text: str, rival: str) -> None:
    assert rival in {each.applied(text) for each in rivals.of(text)}


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("thirty six degrees", "tens"),
        ("Ninety-nine psi", "tens"),
        ("thirty, six and nine", "teen"),
        ("thirty millimetres", "teen"),
        ("thirteen six", "teen"),
    ],
)
def test_tens_with_a_one_behind_them_are_hardly_a_teen(text: str, kind: str) -> None:
    assert kind in {rival.kind for rival in rivals.of(text) if rival.start == 0}
    assert ({"tens", "teen"} - {kind}).isdisjoint(rival.kind for rival in rivals.of(text))


def test_teens_come_first_because_they_are_confused_most() -> None:
    assert rivals.of("bolt 174, 15 thou")[0].kind == "teen"


@pytest.mark.parametrize(
    "said", ["and serviceable", "Inserviceable", "servesable", "un serviceable"]
)
def test_a_verdict_that_is_neither_is_in_doubt_as_it_stands(said: str) -> None:
    (span,) = rivals.misheard_verdicts(f"valve {said}.")
    assert f"valve {said}."[slice(*span)].strip() == said


@pytest.mark.parametrize("said", ["serviceable", "unserviceable", "Unserviceable.", "service due"])
def test_a_plain_verdict_is_not_in_doubt_for_its_sound(said: str) -> None:
    assert list(rivals.misheard_verdicts(f"valve {said}")) == []


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("Romeo 880 dash to 9.", "dash to 9"),
        ("dash nine or five", "nine or five"),
        ("dash one for eight", "one for eight"),
        ("Generator. To 8.2 volts", "To 8.2"),
        ("serial dash 0 0 0 0.", "0 0 0 0"),
        ("Batch uniform. Echo-602.", "uniform. Echo"),
        ("Juliet. Lima 9186", "Juliet. Lima"),
        ("Charlie 449 or dash 23", "449 or dash 23"),
        ("Lima X-ray, dash, zero", "X-ray, dash"),
    ],
)
def test_what_the_ear_cannot_tell_is_in_doubt_as_it_stands(text: str, where: str) -> None:
    assert any(where in text[start:end] or text[start:end] in where
               for start, end in rivals.doubtful(text))  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        "Bolt 3, 101 newton metres.",
        "Hotel Tango 66 dash 902",
        "inflated to 207 psi",
        "bolts 1 to 4, 98",
        "speed 2000 rpm",
        "Quebec Whiskey 447-9. Bearings checked",
        "valve serviceable",
        "bravo three niner dash double zero four",
        "bravo slash treble five",
    ],
)
def test_plain_speech_is_not_in_doubt_as_it_stands(text: str) -> None:
    assert list(rivals.doubtful(text)) == []


def test_a_rest_inside_a_code_is_in_doubt_unless_all_hear_the_same_words() -> None:
    text = "Element sierra echo, four four one dash bravo."
    assert [text[a:b] for a, b in rivals.doubtful(text)] == ["echo, four"]
    assert not list(rivals.doubtful(text, lambda _start, _end: True))
    assert list(rivals.doubtful("serial 0 0 0 0", lambda _start, _end: True))


@given(st.text(alphabet="0123456789 .,abtofrwhineu-", max_size=60))
def test_every_rival_is_another_text(text: str) -> None:
    plain = " ".join(text.split())
    for each in rivals.of(plain):
        assert 0 <= each.start < each.end <= len(plain)
        assert each.applied(plain) != plain


def test_now_before_a_verdict_is_weighed_against_not() -> None:
    found = [rival for rival in rivals.of("Wheel turns freely now okay.") if rival.other == "not"]
    assert [rival.applied("Wheel turns freely now okay.") for rival in found] == [
        "Wheel turns freely not okay."
    ]
    assert not [rival for rival in rivals.of("Moving on now to bolt six") if rival.other == "not"]


def test_neighbouring_tens_are_rivals() -> None:
    others = {(rival.kind, rival.other) for rival in rivals.of("four forty hours")}
    assert {("teen", "fourteen"), ("number", "thirty")} <= others


def test_words_of_one_letter_are_no_spelt_letters() -> None:
    assert not [each for each in rivals.of("A nick, I think, O.K.") if each.kind == "letter"]


def test_oh_among_figures_is_a_plain_nought() -> None:
    for said in ("two oh five psi", "bolts five to eight, one oh two", "oscar oh seven"):
        assert not list(rivals.doubtful(said))
    assert list(rivals.doubtful("two or five psi"))
