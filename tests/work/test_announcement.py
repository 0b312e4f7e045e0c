"""The spoken heading: what is taken, what is left alone, what is said about it.

Phrases and their renderings are our own: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.records.scene import CARD
from voicelog import cards
from voicelog.heard import Suspicion, Transcript, Word
from voicelog.work.announcement import cut, parse

KNOWN = {"TB-10": cards.parse(CARD, "bearing.yaml")}
ORDERS = ("W-4172", "W-77")


def heading(text: str) -> tuple[str, str, str | None] | None:
    found = parse(Transcript.of_text(text), KNOWN, ORDERS)
    return None if found is None else (found.work_order, found.card, found.step)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Work order whiskey four one seven two, card tango bravo dash one zero, step twenty. "
         "Bolt one ninety eight.", ("W-4172", "TB-10", "20")),
        ("Work order W4172, card TB-10, step 20. Nil leaks.", ("W-4172", "TB-10", "20")),
        ("Work order W-4172. Card T B 10. Step 20. Bolt one ninety eight newton metres.",
         ("W-4172", "TB-10", "20")),
        ("work order four one seven two card tango bravo one zero step twenty bolt one ninety "
         "eight", ("W-4172", "TB-10", "20")),
        ("This is work order number W-77, task card TB 10. Cover off.", ("W-77", "TB-10", None)),
        ("Card TB-10, step 30, lock wire fitted.", ("", "TB-10", "30")),
        ("Work order 77. Nil leaks.", ("W-77", "", None)),
        ("Work order 9150, card TB-10. Nil leaks.", ("9150", "TB-10", None)),
    ],
)  # fmt: skip
def test_a_heading(text: str, expected: tuple[str, str, str | None]) -> None:
    assert heading(text) == expected


@pytest.mark.parametrize(
    "text",
    [
        "",
        "Bolt one, ninety eight newton metres.",
        "Step twenty, bolt one ninety eight.",  # reading itself knows what a step is
        "Work order complete, nil leaks.",
        "Bolt one ninety eight. Work order 4172.",  # findings stand before it
        "Cover off. Card 10 step 20.",
        "Card was missing from the folder.",
    ],
)
def test_no_heading(text: str) -> None:
    assert heading(text) is None


def test_it_ends_where_the_findings_begin() -> None:
    text = "Work order 77, card TB-10, step 20, bolt one ninety eight newton metres."
    said = Transcript.of_text(text)
    found = parse(said, KNOWN, ORDERS)
    assert found is not None
    assert cut(said, found.words).text == "bolt one ninety eight newton metres."


def test_a_step_after_other_words_belongs_to_the_note() -> None:
    said = Transcript.of_text("Work order 77. Bolt one ninety eight. Step 30, lock wire fitted.")
    found = parse(said, KNOWN, ORDERS)
    assert found is not None
    assert (found.step, cut(said, found.words).text) == (
        None, "Bolt one ninety eight. Step 30, lock wire fitted.",
    )  # fmt: skip


def test_no_figure_is_bent_towards_what_is_known() -> None:
    found = parse(Transcript.of_text("Work order W-4173, card TB-11. Cover off."), KNOWN, ORDERS)
    assert found is not None
    assert (found.work_order, found.card) == ("W-4173", "TB-11")
    assert all("was known" in sentence for _, sentence in found.remarks)


def test_two_known_numbers_with_the_same_figures_settle_nothing() -> None:
    found = parse(Transcript.of_text("Work order 4172. Cover off."), {}, ("A-4172", "B-4172"))
    assert found is not None
    assert found.work_order == "4172"


def test_cutting_keeps_times_and_moves_suspicions() -> None:
    words = tuple(Word(text, n, n + 1) for n, text in enumerate(("Card", "TB-10.", "Cover", "off")))
    said = Transcript(
        words, suspicions=(Suspicion(0, 4, (), 1.0, "x"), Suspicion(12, 17, (), 1.0, "y"))
    )
    kept = cut(said, 2)
    assert (kept.text, kept.words[0].start_s) == ("Cover off", 2)
    assert [(s.start, s.end, s.why) for s in kept.suspicions] == [(0, 5, "y")]
    assert cut(said, 0) == said


PIECES = ("work", "order", "card", "step", "number", "T", "B", "10", "W", "77", "one", "dash", ".")


@given(st.text(max_size=60) | st.lists(st.sampled_from(PIECES), max_size=25).map(" ".join))
def test_no_text_raises_and_no_word_is_lost(text: str) -> None:
    said = Transcript.of_text(text)
    found = parse(said, KNOWN, ORDERS)
    if found is not None:
        assert 0 < found.words <= len(said.words)
        assert f"{found.text} {cut(said, found.words).text}".strip() == said.text


def test_cutting_takes_the_same_words_from_the_second_reading() -> None:
    said = replace(
        Transcript.of_text("Work order one two, step ten. Bolt one ninety."),
        second="work order won two step then bottle one ninety",
    )
    assert cut(said, 6).second == "bottle one ninety"
    assert cut(said, 0) == said
    assert cut(Transcript.of_text("Step ten. Bolt one ninety."), 2).second == ""
