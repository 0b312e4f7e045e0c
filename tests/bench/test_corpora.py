"""Sets of real speech: what is found, and how it is counted."""

import json
from functools import partial

import numpy as np
import pytest

from voicelog.bench import corpora
from voicelog.errors import ConfigError, NoSpeech
from voicelog.heard import Suspicion, Transcript, Word
from voicelog.objects import Take
from voicelog.speech import audio


def clip(text, corpus="digits"):
    silence = partial(audio.of_samples, np.zeros(1600, np.float32))
    return corpora.Clip(corpus, text, text, silence)


class Ear:
    """Hears each clip as the next of `texts`; None: nobody speaks."""

    def __init__(self, *texts):
        self.texts, self.asked = list(texts), []

    def hear(self, _, card=None, step=None):
        self.asked.append((card.number if card else None, step))
        text = self.texts.pop(0)
        if text is None:
            raise NoSpeech("nobody speaks")
        words = tuple(Word(word, probability=0.9) for word in text.rstrip("?").split())
        doubts = (Suspicion(0, 3, (), 0.0, "differs"),) if text.endswith("?") else ()
        return Take(Transcript(words, suspicions=doubts))


def test_each_clip_is_heard_with_a_prompt_and_without():
    ear = Ear("two", "2", "nine?", "five", "Four four.", None)
    heard = corpora.measure(ear, [clip("two"), clip("five"), clip("four")])
    assert [step is not None for _, step in ear.asked] == [True, False] * 3
    assert len({at for at in ear.asked if at[0]}) == 3
    with_prompt, without = corpora.rows(heard)
    assert (with_prompt.prompted, with_prompt.clips, with_prompt.words) == (True, 3, 3)
    assert (with_prompt.whole, with_prompt.silent) == (1, 1)
    assert with_prompt.examples == ("four | Four four.",)
    assert with_prompt.error_rate == pytest.approx(2 / 3)
    assert (without.whole, without.silent) == (2, 0)


def test_sets_stay_apart():
    heard = corpora.measure(Ear("a", "a", "b", "b"), [clip("a", "one"), clip("b", "two")])
    assert [(row.corpus, row.prompted) for row in corpora.rows(heard)] == [
        ("one", True), ("one", False), ("two", True), ("two", False),
    ]  # fmt: skip


def test_a_folder_is_read_by_its_manifest(tmp_path):
    folder = tmp_path / "site"
    folder.mkdir()
    (folder / "1.wav").write_bytes(audio.to_wav(np.full(1600, 0.1, np.float32)))
    lines = [{"file": "1.wav", "text": "seven", "kind": "digit"},
             {"file": "1.wav", "text": "all of it"}]  # fmt: skip
    (folder / "manifest.jsonl").write_text("\n".join(map(json.dumps, lines)))
    own = [c for c in corpora.installed([folder]) if c.corpus.startswith("site")]
    assert [(c.corpus, c.text) for c in own] == [("site digit", "seven"), ("site", "all of it")]
    assert own[0].sound().duration_s == pytest.approx(0.1)


def test_a_manifest_that_is_none_is_named(tmp_path):
    with pytest.raises(ConfigError, match=r"manifest\.jsonl"):
        corpora.installed([tmp_path])


def test_what_is_installed_can_be_decoded():
    names = [each.corpus for each in corpora.installed()]
    for corpus in set(names):
        first = next(each for each in corpora.installed() if each.corpus == corpus)
        assert first.sound().duration_s > 0.2
        assert first.text
