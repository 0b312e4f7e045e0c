"""Words and figures meet in one form before errors are counted."""

import builtins

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.bench.wer import error_rate, normal
from voicelog.errors import ConfigError


@pytest.mark.parametrize(
    ("said", "written"),
    [
        ("ninety eight newton metres", "98 Nm."),
        ("ninety eight newton metres", "98 newton meters"),
        ("one niner five p s i", "195 PSI"),
        ("two hundred and fifty foot pounds", "250 foot-pounds"),
        ("two hundred fifty foot pounds", "250 ft-lbs"),
        ("two oh five", "205"),
        ("thirteen hundred and ten", "1,310"),
        ("thirteen twenty", "1320"),
        ("two thousand nine hundred and fifty", "2950"),
        ("two thousand and five", "2005"),
        ("seventy four over eighty", "74/80"),
        ("nought point six five millimetres", "0.65 mm"),
        ("fourteenth of March twenty twenty seven", "14th of March 2027"),
        ("second of June", "2nd of June"),
        ("eighteen degrees celsius", "18°C"),
        ("tyre, okay.", "Tire OK"),
        ("twenty five percent", "25%"),
    ],
)
def test_words_and_figures_meet(said, written):
    assert normal(said) == normal(written)


@pytest.mark.parametrize(
    ("said", "written"), [("fifteen", "50"), ("one one eight", "180"), ("no leaks", "leaks")]
)
def test_what_differs_stays_different(said, written):
    assert normal(said) != normal(written)


def test_error_rate_counts_over_all_pairs():
    assert error_rate([("no leaks", "no leaks"), ("bolt two, fifty", "bolt two, fifteen")]) == (
        pytest.approx(2 / 6)
    )
    assert error_rate([("no leaks", "")]) == 1
    assert error_rate([]) is None


@given(st.integers(0, 999_999))
def test_num2words_agrees(number):
    num2words = pytest.importorskip("num2words")
    assert normal(num2words.num2words(number)) == normal(str(number))


@given(st.text())
def test_no_text_makes_it_raise(text):
    assert normal(normal(text)).split() is not None


def test_a_missing_jiwer_is_told(monkeypatch):
    real = builtins.__import__

    def refuse(name, *args, **more):
        if name == "jiwer":
            raise ImportError(name)
        return real(name, *args, **more)

    monkeypatch.setattr(builtins, "__import__", refuse)
    with pytest.raises(ConfigError, match=r"voicelog\[dev\]"):
        error_rate([("a", "b")])
