"""The generator of training speech, the weight format, and the merging of an adapter."""

from __future__ import annotations

import json
import random
import re
from datetime import date
from decimal import Decimal
from itertools import islice
from pathlib import Path

import numpy as np
import pytest

from voicelog.bench.training import figures, frames, grammar, spoken
from voicelog.bench.training.merge import merge
from voicelog.errors import ModelError
from voicelog.objects import Card, Field, FieldValue, Ratio, Step
from voicelog.pipeline import Chain
from voicelog.speech import weights


def test_the_same_seed_gives_the_same_notes_and_another_seed_others() -> None:
    assert list(grammar.notes(7, 40)) == list(grammar.notes(7, 40))
    others = {note.spoken for note in grammar.notes(8, 40)}
    assert not {note.spoken for note in grammar.notes(7, 40)} & others


def test_speech_holds_no_figure_and_prompts_hold_no_number() -> None:
    for note in grammar.notes(3, 200):
        assert not any(sign.isdigit() for sign in note.spoken)
        assert not any(sign.isdigit() for phrase in note.phrases for sign in phrase)


def test_frames_are_filled_whole_and_written_as_they_are_said() -> None:
    rng = random.Random(5)  # noqa: S311
    for _ in range(400):
        free = frames.draw(rng)
        assert not set("{}") & set(free.spoken + free.written), free
        assert free.spoken[0].isupper()
        assert "P S I" not in figures.written(free.written)
        heard = figures.written(free.spoken).casefold().replace(" ", "")
        assert figures.written(free.written).casefold().replace(" ", "") == heard, free


def test_no_frame_is_a_note_of_the_golden_set() -> None:
    """Compared without figures: what the model learns by heart must not be what is scored."""
    golden = Path(__file__).parents[1] / "golden" / "notes_dev.jsonl"
    lines = golden.read_text(encoding="utf-8").splitlines()
    notes = {words_of(json.loads(line)["text"]) for line in lines}
    assert not {words_of(frame) for frame in frames.every()} & notes


def words_of(text: str) -> tuple[str, ...]:
    """The words of a sentence that are no part of a number and no slot."""
    plain = re.sub(r"\{.\}|\d+", " ", text.casefold())
    numbers = {*figures.ONES, "hundred", "thousand", "point", "twenty", "thirty", "forty", "fifty"}
    return tuple(word for word in re.findall(r"[a-z']+", plain) if word not in numbers)


def test_a_prompt_may_hold_terms_of_the_note_and_never_a_slot() -> None:
    rng, held = random.Random(1), 0  # noqa: S311
    for _ in range(100):
        prompt = frames.prompt(
            "Gland follower nipped {n} newton metres.", ("Torque checked,",), rng
        )
        assert "Torque checked," in prompt
        assert all(phrase[0].isupper() and phrase.endswith(",") for phrase in prompt)
        assert not any("{" in phrase for phrase in prompt)
        held += any("Gland" in phrase for phrase in prompt)
    assert 10 < held < 90


def as_text(value: FieldValue | None) -> str | None:
    if value is None:
        return None
    if isinstance(value.value, Ratio):
        return f"{value.value.reading}/{value.value.reference}"
    return str(value.value)


def test_the_reading_finds_in_clean_text_what_was_drawn() -> None:
    """What the model is taught to write is what the rest of the chain reads best."""
    chain, wrong, drawn = Chain(), {}, 0
    for note in grammar.notes(1, 400):
        draft = chain.read(note.written, note.card, "1")
        found = {(value.field, value.position): value for value in draft.values}
        for field, position, value in note.expect:
            drawn += 1
            got = as_text(found.get((field, position)))
            if got != value:
                wrong[note.written] = (field, value, got)
    assert drawn > 150
    assert len(wrong) <= 0.03 * 200, wrong


@pytest.mark.parametrize("text", ["0", "15", "50", "205", "1080", "2950", "0.05", "7.90", "300"])
def test_every_way_to_say_a_number_is_read_back(text: str) -> None:
    chain = Chain()
    field = Field("wear", "Lug wear", "measurement", "mm", say=("lug wear",))
    step = Step("1", "Measure", (field,))
    card = Card("T-1", "Test", "1", date(2026, 1, 1), "invented", (step,))
    for seed in range(12):
        said = figures.written(figures.say_number(text, random.Random(seed)))  # noqa: S311
        draft = chain.read(f"{field.label}, {said} millimetres.", card, "1")
        assert [Decimal(str(value.value)) for value in draft.values] == [Decimal(text)], said


def test_voices_are_repeatable_and_those_for_measuring_are_never_trained_on() -> None:
    assert spoken.draw_talker("a") == spoken.draw_talker("a")
    trained = {(voice.engine, voice.options) for voice in spoken.TRAINING}
    assert not trained & {(voice.engine, voice.options) for voice in spoken.DEVELOPMENT}
    engines = {engine for engine, _ in trained}
    assert not engines & {voice.engine for voice in spoken.MEASURING}
    assert spoken.draw_talker("a", spoken.MEASURING).voice in spoken.MEASURING


def test_conditions_are_drawn_from_the_seed() -> None:
    drawn = [spoken.draw_condition(str(seed)) for seed in range(200)]
    assert drawn == [spoken.draw_condition(str(seed)) for seed in range(200)]
    assert 0.2 < sum(one.name == "clean" for one in drawn) / len(drawn) < 0.5
    samples = np.sin(np.arange(8000, dtype=np.float32) / 9) * np.float32(0.5)
    assert np.array_equal(spoken.worsened(samples, "x"), spoken.worsened(samples, "x"))


# --- weights ----------------------------------------------------------------------


def tiny() -> weights.Weights:
    rng = np.random.default_rng(0)
    return weights.Weights(
        "WhisperSpec",
        3,
        {
            "decoder/a/weight": rng.standard_normal((6, 4)).astype(np.float16),
            "decoder/b/bias": np.arange(6, dtype=np.float16),
            "encoder/num_heads": np.array(8, np.int16),
            "encoder/scale": np.array([[1, 2]], np.int32),
        },
        (("decoder/projection/weight", "decoder/a/weight"),),
    )


def test_weights_come_back_bit_for_bit(tmp_path: Path) -> None:
    weights.write(tiny(), tmp_path / "model.bin")
    read = weights.read(tmp_path / "model.bin")
    assert (read.spec, read.revision, read.aliases) == ("WhisperSpec", 3, tiny().aliases)
    for name, tensor in tiny().tensors.items():
        assert read.tensors[name].dtype == tensor.dtype
        assert np.array_equal(read.tensors[name], tensor)
    weights.write(read, tmp_path / "again.bin")
    assert (tmp_path / "again.bin").read_bytes() == (tmp_path / "model.bin").read_bytes()


def test_half_a_file_and_another_format_are_refused(tmp_path: Path) -> None:
    weights.write(tiny(), tmp_path / "model.bin")
    whole = (tmp_path / "model.bin").read_bytes()
    (tmp_path / "half.bin").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(ModelError, match="not a whole"):
        weights.read(tmp_path / "half.bin")
    (tmp_path / "other.bin").write_bytes(b"\5" + whole[1:])
    with pytest.raises(ModelError, match="version"):
        weights.read(tmp_path / "other.bin")


def pair() -> weights.Tensors:
    return {
        "decoder/a/weight/up": np.array([[1], [0], [2], [0], [0], [-1]], np.float16),
        "decoder/a/weight/down": np.array([[0.5, 0, -1, 0]], np.float16),
    }


def test_merging_adds_the_scaled_product_and_nothing_else() -> None:
    merged = weights.merge(tiny(), pair(), 2.0)
    old = tiny().tensors["decoder/a/weight"].astype(np.float32)
    change = np.zeros((6, 4), np.float32)
    change[0], change[2], change[5] = [1, 0, -2, 0], [2, 0, -4, 0], [-1, 0, 2, 0]
    assert np.array_equal(merged.tensors["decoder/a/weight"], (old + change).astype(np.float16))
    for name in ("decoder/b/bias", "encoder/num_heads", "encoder/scale"):
        assert np.array_equal(merged.tensors[name], tiny().tensors[name])


def test_an_adapter_of_zeros_changes_no_bit() -> None:
    zeros = {name: tensor * 0 for name, tensor in pair().items()}
    merged = weights.merge(tiny(), zeros, 2.0)
    before = tiny().tensors["decoder/a/weight"]
    assert np.array_equal(merged.tensors["decoder/a/weight"], before)


def test_quantized_matrices_are_those_of_ctranslate2() -> None:
    from ctranslate2.specs import common_spec, model_spec

    class Layer(model_spec.LayerSpec):  # type: ignore[misc]  # the library has no types
        def __init__(self) -> None:
            self.a = common_spec.LinearSpec()

    rng = np.random.default_rng(1)
    matrix = np.concatenate([rng.standard_normal((40, 16)), np.zeros((1, 16))]).astype(np.float16)
    theirs = Layer()
    theirs.a.weight = matrix
    theirs.a.bias = np.ones(41, np.float16)
    theirs.validate()
    theirs.optimize(quantization="int8")
    ours = weights.quantized(
        weights.Weights("", 3, {"a/weight": matrix, "a/bias": np.ones(41, np.float16)})
    ).tensors
    assert ours["a/bias"].dtype == np.float16
    for name, tensor in theirs.variables().items():
        if name != "a/bias":
            assert np.array_equal(ours[name], np.asarray(tensor.numpy())), name


@pytest.mark.parametrize("change", ["other name", "one half", "other shape"])
def test_an_adapter_of_another_model_is_refused(change: str) -> None:
    adapter = pair()
    match change:
        case "other name":
            adapter = {name.replace("/a/", "/z/"): tensor for name, tensor in adapter.items()}
        case "one half":
            del adapter["decoder/a/weight/up"]
        case _:
            adapter["decoder/a/weight/down"] = np.zeros((1, 5), np.float16)
    with pytest.raises(ModelError, match="does not belong"):
        weights.merge(tiny(), adapter, 1.0)


def test_adapter_files_come_back(tmp_path: Path) -> None:
    weights.write_adapter(pair(), {"scale": "2.0"}, tmp_path / "a.safetensors")
    tensors, about = weights.read_adapter(tmp_path / "a.safetensors")
    assert about == {"scale": "2.0"}
    assert all(np.array_equal(tensors[name], tensor) for name, tensor in pair().items())


def test_a_damaged_adapter_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.safetensors"
    for data in (b"", b"\xff" * 40, (4).to_bytes(8, "little") + b"nope"):
        path.write_bytes(data)
        with pytest.raises(ModelError, match="safetensors"):
            weights.read_adapter(path)


def test_a_merged_model_appears_whole_or_not_at_all(tmp_path: Path) -> None:
    model = tmp_path / "base"
    model.mkdir()
    weights.write(tiny(), model / "model.bin")
    (model / "config.json").write_text(json.dumps({"a": 1}))
    weights.write_adapter(pair(), {"scale": "2.0"}, tmp_path / "a.safetensors")
    merge(model, tmp_path / "a.safetensors", tmp_path / "made")
    assert sorted(file.name for file in (tmp_path / "made").iterdir()) == [
        "adapter.safetensors",
        "config.json",
        "model.bin",
    ]
    with pytest.raises(ModelError, match="already"):
        merge(model, tmp_path / "a.safetensors", tmp_path / "made")
    weights.write_adapter(pair(), {}, tmp_path / "b.safetensors")
    with pytest.raises(ModelError, match="scale"):
        merge(model, tmp_path / "b.safetensors", tmp_path / "none")
    assert not [*tmp_path.glob(".merging-*"), *islice(tmp_path.glob("none"), 1)]


def test_a_share_of_the_change_lies_between_the_model_and_the_whole_of_it(tmp_path: Path) -> None:
    model = tmp_path / "base"
    model.mkdir()
    weights.write(tiny(), model / "model.bin")
    weights.write_adapter(pair(), {"scale": "2.0", "rank": "1"}, tmp_path / "a.safetensors")
    merge(model, tmp_path / "a.safetensors", tmp_path / "made", share=0.25)
    tensors, about = weights.read_adapter(tmp_path / "made" / "adapter.safetensors")
    assert about == {"scale": "0.5", "rank": "1"}
    assert all(np.array_equal(tensors[name], tensor) for name, tensor in pair().items())
    expected = weights.quantized(weights.merge(tiny(), pair(), 0.5)).tensors
    laid_on = weights.read(tmp_path / "made" / "model.bin").tensors
    assert all(np.array_equal(laid_on[name], tensor) for name, tensor in expected.items())


# --- PyTorch, where it is installed -------------------------------------------------


def test_features_are_those_that_the_recogniser_makes() -> None:
    torch = pytest.importorskip("torch")
    features = pytest.importorskip("faster_whisper.feature_extractor")
    from voicelog.bench.training import spectrum

    samples = np.random.default_rng(0).standard_normal(32000).astype(np.float32) * np.float32(0.1)
    short = np.where(np.arange(32000) < 16000, samples, np.float32(0))
    both, lengths = torch.from_numpy(np.stack([samples, short])), torch.tensor([32000, 16000])
    ours = spectrum.log_mel(both, lengths, 250).numpy()
    assert ours.shape == (2, 80, 250)
    for mel, clip in zip(ours, (samples, samples[:16000]), strict=True):
        frames = len(clip) // 160
        theirs = features.FeatureExtractor()(clip)[:, :frames]
        # the last frames reach beyond the end, where each has its own silence or mirror
        assert np.abs(mel[:, :frames] - theirs)[:, :-3].max() < 1e-3
        assert not mel[:, frames:].any()
