"""The chain of stages: order as data, every `requires` assigned earlier, spans that say it."""

from __future__ import annotations

import itertools
import re
import time
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelog.errors import ConfigError
from voicelog.heard import Transcript, Word
from voicelog.objects import Interval, Ratio
from voicelog.reading import STAGES, Reader, chain, cues
from voicelog.reading.passage import Passage
from voicelog.reading.settings import settings as reading_settings

if TYPE_CHECKING:
    from voicelog.objects import Card, Mention, Reading

ORDER = reading_settings().stages


def test_every_stage_reads_what_an_earlier_one_wrote() -> None:
    written = {chain.PASSAGE}
    for name in ORDER:
        missing = set(STAGES[name].requires) - written
        assert not missing, f"{name} reads {missing} before it is written"
        written |= set(STAGES[name].assigns)


def test_no_two_stages_write_the_same() -> None:
    written = [attribute for name in ORDER for attribute in STAGES[name].assigns]
    assert len(written) == len(set(written))


def test_every_stage_runs() -> None:
    assert sorted(ORDER) == sorted(STAGES)


def test_a_wrong_order_is_refused() -> None:
    late = next(name for name in ORDER if set(STAGES[name].requires) - {chain.PASSAGE})
    with pytest.raises(ConfigError, match=f"{late} needs"):
        chain.pipeline((late,), STAGES)


def test_an_unknown_stage_is_refused() -> None:
    with pytest.raises(ConfigError, match="known are"):
        chain.pipeline(("guessing",), STAGES)


def test_every_doubt_has_its_sentence() -> None:
    """Codes that the stages name in their code are keys of [reasons]."""
    folder = Path(chain.__file__).parent
    named: set[str] = set()
    for path in folder.glob("*.py"):
        for found in re.findall(
            r"doubts?=\(([^()]*)\)|doubts\.append\(([^()]*)\)", path.read_text()
        ):
            named |= set(re.findall(r'"([a-z_]+)"', " ".join(found)))
    assert {"fused_position", "pattern_misfit", "no_day", "rounded_fraction"} <= named
    assert named <= set(reading_settings().reasons)


def test_the_tokens_are_the_text() -> None:
    nlp = chain.pipeline(ORDER, STAGES)
    for text in ("", " ", "98  Nm,\t½ in\n", "naïve °C Ω 𝟗 ٣", "a" * 500):
        assert chain.tokens(nlp.vocab, Passage.of(text, cues.Cues())).text == text


PIECES = [
    "bolt", "bolts", "cylinder", "one", "two", "four", "ninety eight", "174", "6.185", "2-5-0",
    "1-8", "447-9er", "hundred", "thousand", "and", "to", "over", "80", "point", "five", "oh",
    "double", "newton metres", "psi", "mm", "N1", "HT66-902", "hotel", "tango", "dash", "½", "3/8",
    "minus", "about", "nil", "of", "a", "half", "quarter", "all", "left", "phase", "U280", "the",
    "rest", "30", "nov", "2026", "12/11/2026", "14:35", "pm", "step", "number", "negative", ",",
    ".", "thousandths", "serial number", "first", "th", "er", "°C", "o'clock", "x", "-", "/",
]  # fmt: skip
notes = st.lists(st.sampled_from(PIECES), max_size=14).map(" ".join)


def said(text: str) -> set[str]:
    return {char for char in text if char.isdigit()}


def check_spans(reading: Reading) -> None:
    text = reading.transcript.text
    for mention in reading.mentions:
        assert mention.text == text[mention.start : mention.end]
        assert mention.text.strip() == mention.text != ""
        assert mention.stage in STAGES
    starts = [mention.start for mention in reading.mentions]
    assert starts == sorted(starts)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=80))
def test_no_text_raises(text: str) -> None:
    for typed in (Transcript.of_text(text), Transcript((Word(text),))):
        check_spans(Reader(None).read(typed))


@settings(max_examples=300, deadline=None)
@given(notes)
def test_no_note_raises_and_every_value_has_its_span(card: Card, text: str) -> None:
    check_spans(Reader(card).read(Transcript.of_text(text), "30"))


@settings(max_examples=150, deadline=None)
@given(notes)
def test_no_figure_is_read_twice(card: Card, text: str) -> None:
    """Two values never share a character, save several positions said in one group."""
    reading = Reader(card).read(Transcript.of_text(text), "30")
    numeric = {"quantity", "count", "ratio", "range", "identifier", "date", "time", "position"}
    spans = {
        (m.start, m.end) for m in reading.mentions if m.kind in numeric and m.stage != "remarks"
    }
    ordered = sorted(span for span in spans)
    for (_, end), (start, _) in itertools.pairwise(ordered):
        assert end <= start


def values(mentions: tuple[Mention, ...]) -> list[tuple[str, object, str | None]]:
    return [
        (m.kind, m.value, m.unit) for m in mentions if m.kind not in ("term", "remark", "procedure")
    ]


@settings(max_examples=150, deadline=None)
@given(notes)
def test_capitals_change_nothing(card: Card, text: str) -> None:
    reader = Reader(card)
    plain = reader.read(Transcript.of_text(text.lower()), "30")
    upper = reader.read(Transcript.of_text(text.upper()), "30")
    assert values(plain.mentions) == values(upper.mentions)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.integers(min_value=0, max_value=9999), min_size=1, max_size=5))
def test_no_digit_comes_from_nowhere(card: Card, numbers: list[int]) -> None:
    """The figures of every number are figures of the text, apart from the zeros of powers."""
    text = " psi, ".join(map(str, numbers)) + " psi"
    for mention in Reader(card).read(Transcript.of_text(text), "30").mentions:
        value = mention.value
        parts: tuple[Decimal | None, ...] = ()
        if isinstance(value, Decimal):
            parts = (value,)
        elif isinstance(value, Ratio):
            parts = (value.reading, value.reference)
        elif isinstance(value, Interval):
            parts = (value.low, value.high)
        for part in parts:
            assert part is None or said(str(part)) <= said(mention.text) | {"0"}


def test_cost_grows_with_length_only(card: Card) -> None:
    """Ten times the words may not cost more than twenty times the time (10 000 words: an hour
    of dictation)."""
    said = (
        "bolts one to four, ninety eight newton metres; five to eight, one oh two. cylinder one "
        "seventy four over eighty, two seventy six over eighty. cotter pin fitted, no cracks"
    )
    note = said.split()
    reader = Reader(card)

    def seconds(words: int) -> float:
        """The least of three: on a busy machine the others are longer than they need to be."""
        text = Transcript.of_text(" ".join((note * (words // len(note) + 1))[:words]))
        times = []
        for _ in range(3):
            begin = time.process_time()
            reader.read(text, "30")
            times.append(time.process_time() - begin)
        return min(times)

    assert seconds(10_000) < 20 * max(seconds(1000), 0.02)
