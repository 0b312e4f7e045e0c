"""The accuracy bench on listeners that say what they are told."""

import json
from decimal import Decimal
from types import SimpleNamespace

import numpy as np
import pytest

from voicelog.bench import noise
from voicelog.bench.accuracy import listen, planned, risk_curve, rows
from voicelog.bench.quantities import compare_numbers, dictation
from voicelog.bench.score import Entry, Tally
from voicelog.bench.systems import Quantity, numbers, quantity_parser, words_of
from voicelog.errors import ConfigError, NoSpeech
from voicelog.heard import Transcript
from voicelog.objects import Draft, FieldValue, Ratio, Reason, Take

WHY = (Reason("noise", "It is loud here."),)


def listener(heard):
    """Reads the pressure right with doubt, invents a pass, hears nothing in the crane's note."""

    def listen_to(audio, card, step):
        heard.append(audio)
        if card.number == "DM-KR-15":
            raise NoSpeech("nobody speaks")
        return Draft(
            card.number,
            card.revision,
            step,
            (Take(Transcript.of_text("tyre pressure 200 psi no leaks")),),
            (
                FieldValue("40", "tyre_pressure", None, Decimal(200), "psi", confidence=0.4,
                           reasons=WHY),
                FieldValue("40", "leaks", None, "fail", confidence=0.9),
            ),
        )  # fmt: skip

    return listen_to


def test_rows_by_condition_and_voice(bench):
    ticks = []
    results = listen(bench.samples, bench.cards, {"a": listener([])}, tick=lambda: ticks.append(1))
    assert len(ticks) == len(results) == 2
    clean, loud, total = rows(results)
    assert (clean.group, loud.group, total.group) == ("clean", "15 dB", "all")
    assert clean.tally == Tally(expected=2, right=1, right_unflagged=0, silent=1)
    assert loud.tally == Tally(expected=1, missed=1)
    assert (clean.word_error_rate, loud.word_error_rate) == (0, 1)
    assert total.tally.expected == 3
    assert [row.group for row in rows(results, "voice")] == ["x", "y", "all"]
    assert [o.key[1] for r in results for o in r.failures] == ["leaks", "broken_wires"]


def test_rows_are_json(bench):
    row = rows(listen(bench.samples[:1], bench.cards, {"a": listener([])}))[0].plain()
    assert json.loads(json.dumps(row)) == row
    assert row["right"] == 1
    assert row["right_share"] == 0.5
    assert row["right_interval"][0] < 0.5 < row["right_interval"][1]
    assert row["right_flagged_share"] == 1
    assert row["silent"] == 1


def test_the_ladder_is_made_from_the_clean_recordings(bench):
    assert len(planned(bench.samples, noise.LADDER)) == len(noise.LADDER)
    heard = []
    ladder = (noise.CLEAN, noise.CONDITIONS["10 dB"])
    results = listen(bench.samples, bench.cards, {"a": listener(heard)}, ladder)
    assert [r.condition for r in results] == ["clean", "10 dB"]
    again = []
    listen(bench.samples, bench.cards, {"a": listener(again)}, ladder)
    assert np.array_equal(heard[1].samples, again[1].samples)
    assert not np.array_equal(heard[0].samples, heard[1].samples)


def test_risk_falls_as_more_is_flagged(bench):
    results = listen(bench.samples, bench.cards, {"a": listener([])})
    points = risk_curve(results)
    assert (points[0].threshold, points[0].silent, points[0].right_flagged) == (0, 1, 1)
    assert points[-1].silent == 0
    silent = [point.silent for point in points]
    assert silent == sorted(silent, reverse=True)
    assert risk_curve([])[0].silent == 0


def test_numbers_are_counted_once_a_note(bench):
    found = {
        "all": lambda s: numbers(s.expect),
        "blind": lambda _: (Quantity(Decimal(200), "bar"), Quantity(Decimal(9))),
    }
    everything, blind = compare_numbers(bench.samples, found)
    assert everything.dictation_s is None
    assert (everything.expected, everything.right, everything.surplus) == (2, 2, 0)
    assert (blind.right, blind.number_right, blind.surplus) == (0, 1, 3)
    assert json.dumps(everything.plain())


def test_a_long_dictation_is_timed_as_one_text(bench):
    texts = []

    def system(sample):
        texts.append(sample.text)
        return ()

    (row,) = compare_numbers(bench.samples, {"a": system}, words=50)
    assert row.dictation_words == len(texts[-1].split()) == 50
    assert row.dictation_s >= 0
    with pytest.raises(ConfigError, match="no notes"):
        dictation([], 50)


def test_a_ratio_is_two_numbers_and_a_date_is_none():
    ratio = Entry(("1", "x", None), Ratio(Decimal(74), Decimal(80)), "psi")
    assert [q.value for q in numbers([ratio, Entry(("1", "y", None), "2026-01-01")])] == [74, 80]


@pytest.mark.slow
def test_the_bare_parser_reads_plain_quantities_and_survives_any_text():
    pytest.importorskip("quantulum3")
    parse = quantity_parser()
    assert parse("94 newton metres") == (Quantity(Decimal("94.0"), "newton*metre"),)
    assert parse("tyre 205 psi")[0].unit == "psi"
    assert parse("18 degrees celsius")[0].unit == "degC"
    for text in ("", "plus or minus", "1/0", "½ of °", "two five foot pounds"):
        assert isinstance(parse(text), tuple)


def test_pieces_without_a_space_are_one_word():
    said = [(" 11", 0.9), (".4mm,", 0.8), (" tight", 1.0), (" ", 1.0)]
    pieces = [SimpleNamespace(word=w, start=0.0, end=1.0, probability=p) for w, p in said]
    words = words_of([SimpleNamespace(words=pieces)])
    assert [(word.text, word.probability) for word in words] == [("11.4mm,", 0.8), ("tight", 1.0)]
