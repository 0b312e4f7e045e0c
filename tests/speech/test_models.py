"""Models: found as data, checked byte for byte, put together once."""

from __future__ import annotations

import hashlib
import importlib
import json
import sys
import threading
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from voicelog.errors import ModelError
from voicelog.speech import models
from voicelog.speech.settings import Adapter, ModelEntry, ModelFile, Part

if TYPE_CHECKING:
    from pathlib import Path

CONFIG, TOKENIZER = b'{"is": "small"}', b'{"tokens": []}'
BIN = b"weights " * 5000


def _sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@pytest.fixture
def packages(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two weight packages that must never be imported, and a cache of our own."""
    site = tmp_path / "site"
    for name in ("wtest_one", "wtest_two"):
        folder = site / name / "data"
        folder.mkdir(parents=True)
        (site / name / "__init__.py").write_text("raise RuntimeError('imported')\n")
    (site / "wtest_one/data/model.bin.part1").write_bytes(BIN[:20000])
    (site / "wtest_two/data/model.bin.part2").write_bytes(BIN[20000:])
    (site / "wtest_one/data/config.json").write_bytes(CONFIG)
    (site / "wtest_one/data/tokenizer.json").write_bytes(TOKENIZER)
    (site / "wtest_two/data/model.bin").write_bytes(BIN)
    monkeypatch.syspath_prepend(str(site))
    monkeypatch.setenv("VOICELOG_CACHE", str(tmp_path / "cache"))
    importlib.invalidate_caches()
    entries = (
        ModelEntry(
            "parted",
            "test",
            "MIT",
            1,
            (
                ModelFile(
                    "model.bin",
                    _sha(BIN),
                    (
                        Part("wtest_one", "data/model.bin.part1"),
                        Part("wtest_two", "data/model.bin.part2"),
                    ),
                ),
                ModelFile("config.json", _sha(CONFIG), (Part("wtest_one", "data/config.json"),)),
            ),
            default=True,
        ),
        ModelEntry(
            "whole",
            "test",
            "MIT",
            1,
            (ModelFile("model.bin", _sha(BIN), (Part("wtest_two", "data/model.bin"),)),),
        ),
        ModelEntry(
            "absent",
            "test",
            "MIT",
            1,
            (ModelFile("model.bin", _sha(BIN), (Part("wtest_none", "model.bin"),)),),
        ),
        ModelEntry("far", "hub", "MIT", 1, hub="somebody/far"),
    )
    monkeypatch.setattr(models, "entries", lambda: entries)
    return site


def test_parts_are_joined_in_the_cache_without_importing_anything(packages: Path) -> None:
    found = models.find("parted")
    assert (found.folder / "model.bin").read_bytes() == BIN
    assert (found.folder / "config.json").read_bytes() == CONFIG
    assert not {"wtest_one", "wtest_two"} & set(sys.modules)
    assert models.find() == found
    assert models.default_name() == "parted"
    assert [path.name for path in found.folder.parent.iterdir()] == [found.folder.name]


def test_a_whole_model_is_used_where_it_lies(packages: Path) -> None:
    assert models.find("whole").folder == packages / "wtest_two/data"


def test_a_changed_byte_in_a_part_is_refused_before_anything_is_written(
    packages: Path, tmp_path: Path
) -> None:
    part = packages / "wtest_two/data/model.bin.part2"
    data = bytearray(part.read_bytes())
    data[7] ^= 1
    part.write_bytes(bytes(data))
    with pytest.raises(ModelError, match="reinstall wtest_one wtest_two"):
        models.find("parted")
    assert not list((tmp_path / "cache").rglob("model.bin"))


def test_a_changed_byte_in_the_cache_is_refused(packages: Path) -> None:
    made = models.find("parted").folder / "model.bin"
    made.write_bytes(made.read_bytes()[:-1] + b"!")
    with pytest.raises(ModelError, match=r"delete .* put together again"):
        models.verify("parted")


def test_a_changed_byte_in_place_is_refused(packages: Path) -> None:
    (packages / "wtest_two/data/model.bin").write_bytes(BIN[:-1] + b"!")
    with pytest.raises(ModelError, match="reinstall wtest_two"):
        models.find("whole")


def test_a_missing_part_is_told_with_the_cure(packages: Path) -> None:
    assert not models.installed(models.entries()[2])
    with pytest.raises(ModelError, match=r"not installed.*voicelog\[models\]"):
        models.find("absent")
    (packages / "wtest_two/data/model.bin.part2").unlink()
    with pytest.raises(ModelError, match="wtest_two is not installed"):
        models.find("parted")


def test_several_at_once_join_it_once(packages: Path) -> None:
    found: list[models.Model] = []
    threads = [
        threading.Thread(target=lambda: found.append(models.find("parted"))) for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 8
    assert len(set(found)) == 1
    assert (found[0].folder / "model.bin").read_bytes() == BIN
    assert len(list(found[0].folder.parent.iterdir())) == 1


def test_an_unwritable_cache_is_told(
    packages: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("VOICELOG_CACHE", str(tmp_path / "file"))
    with pytest.raises(ModelError, match="VOICELOG_CACHE"):
        models.find("parted")


def test_an_unknown_name_lists_what_there_is(packages: Path) -> None:
    with pytest.raises(ModelError, match=r"no model 'huge'; name one of parted, whole"):
        models.find("huge")


def test_a_folder_of_ones_own_is_named_by_its_path(packages: Path, tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    folder.mkdir()
    with pytest.raises(ModelError, match=r"lacks model.bin, config.json, tokenizer.json"):
        models.find(folder)
    for name, data in (("model.bin", BIN), ("config.json", CONFIG), ("tokenizer.json", TOKENIZER)):
        (folder / name).write_bytes(data)
    first = models.find(folder)
    assert first == models.find(str(folder))
    (folder / "model.bin").write_bytes(BIN + b"x")
    assert models.find(folder).sha256 != first.sha256


def test_a_hub_model_is_not_fetched_unless_asked_for(packages: Path) -> None:
    with pytest.raises(ModelError, match="voicelog model fetch far"):
        models.find("far")
    with pytest.raises(ModelError, match="not fetched from the model hub; these are: far"):
        models.fetch("parted")


def test_a_fetched_model_is_checked_ever_after(
    packages: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def download(repository: str, local_dir: Path) -> None:
        assert repository == "somebody/far"
        local_dir.mkdir(parents=True)
        (local_dir / "model.bin").write_bytes(BIN)

    monkeypatch.setattr("huggingface_hub.snapshot_download", download)
    made = models.fetch("far")
    assert made == models.find("far")
    sums = json.loads((made.folder / models.SUMS).read_text())
    assert sums == {"model.bin": _sha(BIN)}
    (made.folder / "model.bin").write_bytes(BIN[1:])
    with pytest.raises(ModelError, match="fetch it again"):
        models.find("far")


def test_a_failed_download_leaves_nothing(
    packages: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def download(repository: str, local_dir: Path) -> None:
        local_dir.mkdir(parents=True)
        (local_dir / "model.bin").write_bytes(BIN[:10])
        raise OSError("no network")

    monkeypatch.setattr("huggingface_hub.snapshot_download", download)
    with pytest.raises(ModelError, match="could not be fetched"):
        models.fetch("far")
    assert list((tmp_path / "cache/models").iterdir()) == []


@pytest.mark.model
def test_the_declared_models_are_what_they_are_declared_to_be() -> None:
    for entry in models.entries():
        if entry.files:
            assert models.find(entry.name).name == entry.name


# --- adapted models -----------------------------------------------------------------


@pytest.fixture
def adapted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModelEntry:
    """A made-up model in a weight package, and an adapter of it in the settings' folder."""
    import numpy as np

    from voicelog.speech import weights

    package, settings = tmp_path / "site/wtest_base", tmp_path / "settings"
    package.mkdir(parents=True)
    settings.mkdir()
    (package / "__init__.py").write_text("raise RuntimeError('imported')\n")
    tensors = {"a/weight": np.ones((2, 3), np.float16)}
    base = weights.Weights("WhisperSpec", 3, tensors)
    weights.write(base, package / "model.bin")
    (package / "config.json").write_bytes(CONFIG)
    (package / "tokenizer.json").write_bytes(TOKENIZER)
    change = {
        "a/weight/up": np.array([[1], [2]], np.float16),
        "a/weight/down": np.array([[0.5, 0, -0.5]], np.float16),
    }
    weights.write_adapter(change, {"scale": "2.0"}, settings / "shop.safetensors")
    merged = weights.quantized(weights.merge(base, change, 2.0))
    weights.write(merged, tmp_path / "merged.bin")
    monkeypatch.syspath_prepend(str(tmp_path / "site"))
    monkeypatch.setenv("VOICELOG_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("VOICELOG_CONFIG", str(settings))
    importlib.invalidate_caches()
    files = tuple(
        ModelFile(name, _sha((package / name).read_bytes()), (Part("wtest_base", name),))
        for name in ("model.bin", "config.json", "tokenizer.json")
    )
    sums = [
        _sha((folder).read_bytes())
        for folder in (settings / "shop.safetensors", tmp_path / "merged.bin")
    ]
    entry = ModelEntry(
        "shop", "test", "MIT", 1, adapter=Adapter("plain", "shop.safetensors", *sums)
    )
    listed = (ModelEntry("plain", "test", "MIT", 1, files), entry)
    monkeypatch.setattr(models, "entries", lambda: listed)
    return entry


def test_an_adapted_model_is_merged_once_and_its_base_stays(adapted: ModelEntry) -> None:
    assert models.installed(adapted)
    made = models.find("shop")
    assert adapted.adapter is not None
    assert _sha((made.folder / "model.bin").read_bytes()) == adapted.adapter.merged_sha256
    assert (made.folder / "tokenizer.json").read_bytes() == TOKENIZER
    before = (made.folder / "model.bin").stat().st_mtime_ns
    assert models.find("shop") == made
    assert (made.folder / "model.bin").stat().st_mtime_ns == before
    assert models.find("plain").folder != made.folder
    assert models.find("plain").sha256 != made.sha256


def test_a_changed_adapter_or_merged_model_is_refused(adapted: ModelEntry, tmp_path: Path) -> None:
    made = models.find("shop")
    (made.folder / "model.bin").write_bytes(b"changed")
    with pytest.raises(ModelError, match="put together again"):
        models.find("shop")
    (tmp_path / "settings/shop.safetensors").write_bytes(b"changed")
    with pytest.raises(ModelError, match="not the declared file"):
        models.find("shop")


def test_a_merge_that_comes_out_otherwise_leaves_nothing_behind(
    adapted: ModelEntry, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    assert adapted.adapter is not None
    wrong = replace(adapted, adapter=replace(adapted.adapter, merged_sha256="0" * 64))
    listed = (models.entries()[0], wrong)
    monkeypatch.setattr(models, "entries", lambda: listed)
    with pytest.raises(ModelError, match="SHA-256 differs"):
        models.find("shop")
    assert not list((tmp_path / "cache/models").glob("*"))


def test_an_adapter_without_its_base_is_not_here(
    adapted: ModelEntry, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(models, "entries", lambda: (adapted,))
    assert not models.installed(adapted)
    with pytest.raises(ModelError, match="plain"):
        models.find("shop")
