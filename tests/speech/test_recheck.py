"""The rule of the second look, with scores made up."""

from __future__ import annotations

from voicelog.heard import Suspicion
from voicelog.speech import recheck, settings
from voicelog.speech.recheck import Evidence, suspicions

RULE = settings.load().recheck


class Scores:
    """Every wording scores 0 but those named."""

    def __init__(self, **named: float) -> None:
        self.named = named
        self.asked: list[str] = []

    def score(self, text: str) -> float:
        self.asked.append(text)
        return next((value for word, value in self.named.items() if word in text.split()), -100.0)


def evidence(*others: str, chance: float = 0.98, paused: bool = False) -> Evidence:
    return Evidence(others, lambda *_: chance, lambda *_: paused)


def asked(text: str, seen: Evidence, scorer: Scores, most: int) -> tuple[Suspicion, ...]:
    """What is asked about any value; other words of no value aside."""
    found = suspicions(text, seen, scorer, RULE, most)
    return tuple(each for each in found if each.why != recheck.OTHER_WORDS)


def test_readings_that_agree_raise_nothing() -> None:
    text = "Bolt 3, 101 newton metres."
    assert asked(text, evidence("bolt three, 101 Newton Meters"), Scores(), 8) == ()


def test_other_words_are_told_apart_from_what_changes_a_value() -> None:
    found = suspicions(
        "remark, outrigger one smooth",
        evidence("remark, outer groove one smooth"),
        Scores(),
        RULE,
        0,
    )
    assert {each.why for each in found} == {recheck.OTHER_WORDS}


def test_a_second_reading_that_differs_is_told_with_its_words() -> None:
    (found,) = suspicions("Bolt 3, 101 mm.", evidence("Bolt 3, 191 mm."), Scores(), RULE, 0)
    assert (found.start, found.end) == (8, 11)
    assert found.alternatives == ("191",)
    assert found.why == recheck.READ_OTHERWISE


def test_another_reading_is_told_however_the_sound_scores_the_two() -> None:
    clear = Scores(**{"101": -1.0, "191": -90.0})
    (found,) = asked("Bolt 3, 101 mm.", evidence("Bolt 3, 191 mm."), clear, 0)
    assert found.alternatives == ("191",)
    assert not clear.asked


def test_what_another_reading_says_more_is_asked_about_whatever_the_scores() -> None:
    text = "Closing time nine seconds, this required, the pump was on."
    other = "Closing time nine seconds, disregard, the pump was on."
    found = suspicions(text, evidence(other), Scores(**{"required,": 0.0}), RULE, 0)
    assert any("seconds" in text[each.start : each.end] for each in found)


def test_an_unlikely_word_that_every_reading_has_is_no_doubt() -> None:
    def seen(*, agreed: bool) -> Evidence:
        return Evidence((), lambda *_: 0.01, lambda *_: False, lambda *_: agreed)

    assert suspicions("wire locked", seen(agreed=True), Scores(), RULE, 0) == ()
    (found,) = suspicions("wire locked", seen(agreed=False), Scores(), RULE, 0)
    assert found.why == recheck.UNLIKELY


def test_figures_spelt_before_a_dash_are_plain_speech() -> None:
    for code in ("lima six zero dash five six", "mike two dash seven", "two six dash six four"):
        assert suspicions(f"wheel off, {code}", evidence(), Scores(), RULE, 0) == ()
    (found,) = suspicions("wheel off, lima six her dash five", evidence(), Scores(), RULE, 0)
    assert found.why == recheck.UNCLEAR


def test_fifteen_is_scored_against_fifty() -> None:
    near = Scores(**{"15": -1.0, "50": -2.0})
    (found,) = suspicions("plug 15 thou", evidence(), near, RULE, 8)
    assert found.alternatives == ("50",)
    assert found.margin == 1.0
    far = Scores(**{"15": -1.0, "50": -20.0})
    assert suspicions("plug 15 thou", evidence(), far, RULE, 8) == ()


def test_a_rival_that_wins_has_a_negative_margin() -> None:
    (found,) = suspicions("plug 15 thou", evidence(), Scores(**{"15": -3.0, "50": -1.0}), RULE, 8)
    assert found.margin == -2.0


def test_a_sure_figure_without_a_pause_costs_no_scoring() -> None:
    scores = Scores()
    assert suspicions("bolt 174 thou", evidence(chance=0.99), scores, RULE, 8) == ()
    assert scores.asked == []


def test_where_the_model_was_certain_not_even_a_teen_is_scored() -> None:
    for chance, count in ((RULE.certain, 0), (RULE.certain - 0.001, 2)):
        scores = Scores()
        suspicions("plug 15 thou", evidence(chance=chance), scores, RULE, 8)
        assert len(scores.asked) == count


def test_a_number_word_that_all_read_is_weighed_against_the_nearest_and_only_if_unsure() -> None:
    def scored(chance: float, shared: bool) -> set[str]:
        scores = Scores()
        seen = Evidence((), lambda *_: chance, lambda *_: False, lambda *_: shared)
        suspicions("Bolt is nine bar.", seen, scores, RULE, 8)
        return {word for text in scores.asked for word in text.split()} & {"five", "one"}

    assert scored(0.8, shared=False) == scored(0.92, shared=False) == {"five", "one"}
    assert scored(0.8, shared=True) == {"five"}
    assert scored(0.92, shared=True) == scored(0.97, shared=False) == set()


def test_a_pause_inside_a_number_brings_the_split_into_play() -> None:
    scores = Scores(**{"174": -1.0, "1,": -3.0})
    assert suspicions("bolt 174 thou", evidence(chance=0.5), scores, RULE, 8) == ()
    (found,) = suspicions("bolt 174 thou", evidence(paused=True), scores, RULE, 8)
    assert found.alternatives == ("1, 74",)


def test_and_serviceable_is_always_asked_about() -> None:
    (found,) = suspicions("valve and serviceable", evidence(), Scores(), RULE, 0)
    assert found.why == recheck.UNCLEAR


def test_overlapping_doubts_are_one() -> None:
    text = "plug 15 thou"
    found = suspicions(text, evidence("plug 50 thou", "plug 16 thou"), Scores(), RULE, 8)
    assert len(found) == 1
    assert set(found[0].alternatives) == {"50", "16"}


def test_at_most_so_many_rivals_are_scored() -> None:
    scores = Scores()
    suspicions("15 16 17 18 19", evidence(), scores, RULE, 2)
    assert len(scores.asked) == 3
