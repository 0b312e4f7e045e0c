"""Windows put back together: nothing is lost, nothing comes twice, and a bad seam is doubted."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from voicelog.heard import RATE_HZ, Suspicion, Word
from voicelog.speech import seam
from voicelog.speech.passage import Passage
from voicelog.speech.voice import Window

LEAST_S = 4.0


def passage(text: str, begin_s: float, *doubts: tuple[int, int]) -> Passage:
    """A word each half second from `begin_s`."""
    words = tuple(
        Word(word, begin_s + at / 2, begin_s + at / 2 + 0.4, 0.9)
        for at, word in enumerate(text.split())
    )
    return Passage(words, tuple(Suspicion(a, b, (), 0.0, "doubted") for a, b in doubts))


def window(start_s: float, end_s: float) -> Window:
    return Window(((int(start_s * RATE_HZ), int(end_s * RATE_HZ)),))


def text_of(words: tuple[Word, ...]) -> str:
    return " ".join(word.text for word in words)


@given(
    st.lists(
        st.sampled_from(["one", "two", "three", "bolt", "torque", "nine", "nought"]), min_size=20
    ),
    st.integers(0, 5),
)
@settings(deadline=None)
def test_speech_cut_in_the_middle_comes_back_whole(said: list[str], extra: int) -> None:
    cut, shared = len(said) // 2, 9 + extra  # words; the overlap is at least four seconds
    begin = max(0, cut - shared)
    before = passage(" ".join(said[:cut]), 0)
    after = passage(" ".join(said[begin:]), begin / 2)
    windows = (window(0, cut / 2), window(begin / 2, len(said) / 2))
    words, doubts, _ = seam.joined((before, after), windows, min(LEAST_S, (cut - begin) / 2))
    assert text_of(words) == " ".join(said)
    assert doubts == ()


def test_a_number_halved_in_one_window_is_read_from_the_other() -> None:
    before = passage("left cable was adjusted to forty", 0)
    after = passage("adjusted to forty six pounds, right cable", 1.5)
    words, doubts, _ = seam.joined((before, after), (window(0, 6), window(1.5, 9)), least_s=LEAST_S)
    assert text_of(words) == "left cable was adjusted to forty six pounds, right cable"
    assert doubts == ()


def test_sides_that_do_not_meet_are_in_doubt() -> None:
    words, doubts, _ = seam.joined(
        (passage("bolt one ninety eight mike papa two four six eight", 0),
         passage("alfa bravo charlie delta echo pass", 1)),
        (window(0, 5), window(1, 9)),
        least_s=LEAST_S,
    )  # fmt: skip
    text = text_of(words)
    assert [text[each.start : each.end] for each in doubts]
    assert all(each.why == seam.APART for each in doubts)
    assert text.startswith("bolt one ninety eight")
    assert text.endswith("pass")


def test_windows_that_only_share_silence_are_put_one_after_the_other() -> None:
    before, after = passage("pin fitted.", 0, (0, 3)), passage("pin fitted.", 1.2, (4, 11))
    words, doubts, _ = seam.joined((before, after), (window(0, 1.6), window(1.0, 3)), LEAST_S)
    text = text_of(words)
    assert text == "pin fitted. pin fitted."
    assert [text[each.start : each.end] for each in doubts] == ["pin", "fitted."]


def test_doubts_move_with_their_words() -> None:
    before = passage("a b c d e f g h i j", 0, (18, 19))
    after = passage("e f g h i j k l", 2, (12, 13))
    words, doubts, _ = seam.joined((before, after), (window(0, 6), window(2, 7)), LEAST_S)
    text = text_of(words)
    assert text == "a b c d e f g h i j k l"
    assert sorted({text[each.start : each.end] for each in doubts}) == ["j", "k"]


def test_a_second_reading_goes_window_by_window() -> None:
    first = replace(passage("gottle one ninety", 0), second="bottle one ninety")
    after = passage("bottle two eighty", 5)
    windows = (window(0, 2), window(5, 7))
    assert seam.joined((first, after), windows, LEAST_S)[2] == "bottle one ninety bottle two eighty"
    assert seam.joined((after,), windows[1:], LEAST_S)[2] == ""


def test_where_windows_overlap_the_second_readings_are_cut_where_the_words_are() -> None:
    before = replace(passage("left cable was adjusted to forty", 0), second="cable was just forty")
    after = replace(passage("adjusted to forty six pounds", 1.5), second="to forty sixty pounds")
    words, _, second = seam.joined((before, after), (window(0, 6), window(1.5, 9)), LEAST_S)
    assert text_of(words) == "left cable was adjusted to forty six pounds"
    assert second == "cable was just forty sixty pounds"
