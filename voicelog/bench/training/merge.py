"""Merges an adapter: `python -m voicelog.bench.training.merge MODEL ADAPTER FOLDER`.

FOLDER becomes a model like MODEL, for `voicelog … --model FOLDER`, with the adapter as it was laid
on beside it. It appears whole or not at all; PyTorch is not needed. `--share` lays on a part of the
change: what lies between two models often hears unknown voices better than either (Wortsman and
others 2022, "Robust fine-tuning of zero-shot models").
"""

from __future__ import annotations

import argparse
import shutil
import tempfile
from pathlib import Path

from voicelog.errors import ModelError
from voicelog.speech import weights


def merge(model: Path, adapter: Path, folder: Path, share: float = 1.0) -> None:
    """Raises ModelError when the adapter does not fit or `folder` is there already."""
    if folder.exists():
        raise ModelError(f"{folder}: is there already; name a folder that is not")
    tensors, about = weights.read_adapter(adapter)
    about["scale"] = str(share * weights.scale_of(about, adapter))
    folder.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder.parent, prefix=".merging-") as work:
        made = Path(work) / "model"
        made.mkdir()
        for file in model.iterdir():
            if file.is_file() and file.name != "model.bin":
                shutil.copyfile(file, made / file.name)
        laid_on = made / "adapter.safetensors"
        weights.write_adapter(tensors, about, laid_on)
        weights.write(weights.adapted(model / "model.bin", laid_on), made / "model.bin")
        made.rename(folder)


def main() -> None:
    """Three paths, and how much of the change is laid on."""
    asked = argparse.ArgumentParser(description=__doc__)
    for name in ("model", "adapter", "folder"):
        asked.add_argument(name, type=Path)
    asked.add_argument("--share", type=float, default=1.0)
    given = asked.parse_args()
    merge(given.model, given.adapter, given.folder, given.share)


if __name__ == "__main__":
    main()
