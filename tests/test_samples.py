"""The recordings of the demo are what their manifest says, and cover what they should."""

import json
import re
from collections import Counter

import pytest

from voicelog import cards, limits, units
from voicelog.bench import noise, samples
from voicelog.bench.score import Tally, score
from voicelog.bench.voices import VOICES
from voicelog.objects import Ratio
from voicelog.speech import audio

MANIFEST = samples.shipped()
SAMPLES = samples.read(MANIFEST)
CARDS = cards.shipped()
FOLDER = MANIFEST.parent


def field_of(sample, key):
    return CARDS[sample.card].step(key[0]).field(key[1])


def test_every_recording_is_listed_with_its_digest():
    samples.verify(SAMPLES)
    assert {s.path.name for s in SAMPLES} == {p.name for p in FOLDER.glob("*.flac")}
    assert len({s.name for s in SAMPLES}) == len(SAMPLES)
    assert sum(s.path.stat().st_size for s in SAMPLES) < 8_000_000


def test_every_line_says_that_it_is_synthetic():
    lines = [json.loads(line) for line in MANIFEST.read_text(encoding="utf-8").splitlines()]
    assert all(line["synthetic"] is True for line in lines)
    assert "synthetic" in (FOLDER / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda s: s.name)
def test_a_recording_is_sound_of_a_sensible_length(sample):
    sound = audio.load(sample.path)
    assert 2 < sound.duration_s < 25
    assert not sound.warnings
    assert 0.2 < abs(sound.samples).max() <= 0.95
    # between 1.2 and 5 words a second, pauses and silence at both ends included
    assert 1.2 < len(sample.text.split()) / sound.duration_s < 5
    assert sample.voice in VOICES
    assert sample.noise in noise.CONDITIONS


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda s: s.name)
def test_what_is_expected_fits_the_card(sample):
    card = CARDS[sample.card]
    assert card.step(sample.step) is not None
    assert sample.expect
    assert Tally.of(score(card, sample.expect, sample.expect)).right == len(sample.expect)
    assert len({e.key for e in sample.expect}) == len(sample.expect)
    for entry in sample.expect:
        field = field_of(sample, entry.key)
        assert entry.key[2] in field.places
        if entry.unit is not None:
            assert units.compatible(entry.unit, field.unit)
        if field.type == "identifier":
            assert re.fullmatch(r"[A-Z0-9-]+", entry.value)
        if field.type == "check":
            assert entry.value in ("pass", "fail")
        if field.type == "choice":
            assert entry.value in field.options


def test_the_recordings_cover_the_trade():
    assert len(SAMPLES) >= 24
    assert {s.card for s in SAMPLES} == set(CARDS)
    assert {s.card + s.step for s in SAMPLES} == {
        card.number + step.number for card in CARDS.values() for step in card.steps
    }
    assert len({VOICES[s.voice].engine for s in SAMPLES}) >= 4
    assert len({s.voice for s in SAMPLES}) >= 4
    conditions = Counter(s.noise for s in SAMPLES)
    assert conditions["clean"] >= 16
    assert len(SAMPLES) - conditions["clean"] >= 8
    assert "15 dB, reverb" in conditions
    entries = [(s, e) for s in SAMPLES for e in s.expect]
    kinds = Counter(field_of(s, e.key).type for s, e in entries)
    assert set(kinds) >= {
        "measurement", "count", "ratio", "identifier", "check", "choice", "date", "text",
    }  # fmt: skip
    verdicts = Counter()
    for sample, entry in entries:
        field = field_of(sample, entry.key)
        if field.type in ("measurement", "count", "ratio"):
            value = entry.value.reading if isinstance(entry.value, Ratio) else entry.value
            verdicts[limits.check(value, entry.unit, field).verdict] += 1
    assert verdicts["below"]
    assert verdicts["above"] >= 2
    assert {"pass", "fail"} <= {e.value for _, e in entries if isinstance(e.value, str)}
    said = " ".join(s.text.lower() for s in SAMPLES)
    for form in ("correction", "negative", "i say again", "hang on", " was ", "one to four"):
        assert form in said
