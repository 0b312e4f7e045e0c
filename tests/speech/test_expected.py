"""Words of the card in place of those that only sound like them."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from voicelog.speech import expected, settings
from voicelog.speech.expected import Wording

RULE = settings.load().recheck
TERMS = ("Bottle pressure", "Scraper", "upper", "lower", "Jacking screws", "worn", "litres")


class Sound:
    """What was said: a wording costs `dear` nats a word that is not in it."""

    def __init__(self, said: str, dear: float = 4.0) -> None:
        self.said, self.dear = words(said), dear
        self.asked: list[str] = []

    def score(self, text: str) -> float:
        self.asked.append(text)
        return -self.dear * len(words(text) - self.said)


def words(text: str) -> set[str]:
    return set(re.findall(r"\w+", text.casefold()))


def heard(text: str, said: str, sure: str = "", most: int = 8, dear: float = 1.0) -> Wording:
    """`text` read where `said` was spoken; the model was sure of the words of `sure` alone."""
    known = words(sure)

    def chance(start: int, end: int) -> float:
        return 0.99 if words(text[start:end]) <= known else 0.4

    return expected.heard(text, TERMS, chance, Sound(said, dear), RULE, most)


def test_a_word_of_the_card_takes_the_place_of_one_that_sounds_like_it() -> None:
    text, meant = "Gottle one, seventeen fifty psi.", "bottle one seventeen fifty psi"
    for said, dear in ((text, 2.0), (meant, 0.5), (meant, 1.0)):  # from a little worse to better
        wording = heard(text, said, dear=dear)
        assert wording.text == "Bottle one, seventeen fifty psi."
        (mark,) = wording.asked
        assert wording.text[mark.start : mark.end] == "Bottle"
        assert mark.alternatives == ("Gottle",)


def test_where_the_sound_is_clearly_for_the_card_nothing_is_asked() -> None:
    wording = heard("Gottle one, seventeen fifty psi.", "bottle one seventeen fifty psi", dear=4.0)
    assert wording == Wording("Bottle one, seventeen fifty psi.")


def test_one_word_in_two_spellings_is_not_asked_about() -> None:
    assert heard("Scrapper gone.", "scrapper gone", "gone") == Wording("Scraper gone.")


def test_several_words_may_be_one_and_one_may_be_several() -> None:
    found = heard(
        "Scraper up at worn, low and good.",
        "scraper upper worn lower good",
        "scraper worn good",
        dear=0.5,
    )
    assert found.text == "Scraper upper worn, lower good."
    assert [found.text[mark.start : mark.end] for mark in found.asked] == ["upper", "lower"]


def test_in_talk_without_figure_or_word_of_the_card_a_term_has_to_be_much_alike() -> None:
    assert heard("Scrapper gone.", "scrapper gone", "gone").text == "Scraper gone."
    for text in ("Please gottle again.", "We gottle that."):
        assert heard(text, text, dear=0.5) == Wording(text)
        assert "bottle" in heard(f"Upper one, {text}", text, dear=0.5).text.casefold()


UNITS = ("psi", "millimetres", "mm")


def with_units(text: str, said: str, dear: float = 4.0) -> Wording:
    """`text` read where `said` was spoken, by a model that was sure of nothing."""
    return expected.heard(text, TERMS, lambda *_: 0.4, Sound(said, dear), RULE, 3, UNITS)


def test_a_word_behind_a_number_may_be_a_unit_of_the_step_and_is_asked_about() -> None:
    wording = with_units("Upper ninety one side.", "upper ninety one psi", dear=1.0)
    assert wording.text == "Upper ninety one psi."
    assert [mark.alternatives for mark in wording.asked] == [("side",)]


def test_no_unit_is_put_where_the_sound_is_far_from_it_or_no_number_stands() -> None:
    for text in ("Upper ninety one now.", "Upper side."):
        assert with_units(text, text, dear=9.0) == Wording(text)


def test_a_pause_parts_a_number_from_the_words_behind_it() -> None:
    text = "Upper ninety one, side."
    assert with_units(text, text, dear=1.0) == Wording(text)


def test_where_the_sound_says_otherwise_the_words_stay() -> None:
    text = "Gottle one, seventeen fifty psi."
    assert heard(text, text, dear=3.0) == Wording(text)


def test_words_that_the_model_was_sure_of_stay() -> None:
    text = "Throttle one, seventeen fifty."
    assert heard(text, "bottle one seventeen fifty", sure=text) == Wording(text)


def test_figures_and_letters_are_taken_for_no_word() -> None:
    for text in ("Tango four two.", "Twenty one.", "40, 50 and 60."):
        assert heard(text, "") == Wording(text)


def test_a_denial_is_never_taken_away() -> None:
    for text in ("No scrows missing.", "Upper not wern."):
        wording = heard(text, text.replace("scrows", "screws").replace("wern", "worn"), dear=0.5)
        assert wording.asked
        assert {"no", "not"} & words(wording.text)


def test_words_of_the_card_are_not_taken_for_others() -> None:
    text = "Upper worn, lower worn."
    assert heard(text, "") == Wording(text)


def test_without_terms_or_without_time_nothing_is_scored() -> None:
    sound = Sound("")
    for terms, most in (((), 8), (TERMS, 0)):
        text = "Gottle one."
        assert expected.heard(text, terms, lambda *_: 0.1, sound, RULE, most) == Wording(text)
    assert not sound.asked


def test_no_more_are_scored_than_there_is_time_for() -> None:
    sound = Sound("")
    expected.heard("Gottle one up at low and lectures.", TERMS, lambda *_: 0.1, sound, RULE, 3)
    assert len(sound.asked) == 1 + 3  # the wording itself, then three others


@given(st.text(alphabet="gotle upandwr,.4 ", max_size=40), st.floats(0, 1))
def test_marks_lie_on_what_was_put_there(text: str, chance: float) -> None:
    wording = expected.heard(text, TERMS, lambda *_: chance, Sound("", 0.0), RULE, 8)
    rest, at = "", 0
    for mark in wording.asked:
        rest += wording.text[at : mark.start] + mark.alternatives[0]
        at = mark.end
    assert rest + wording.text[at:] == text
