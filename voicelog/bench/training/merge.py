"""Merges an adapter: `python -m voicelog.bench.training.merge MODEL ADAPTER FOLDER`.

FOLDER becomes a model like MODEL, for `voicelog … --model FOLDER`. It appears whole or not
at all; PyTorch is not needed.
"""

from __future__ import annotations

import argparse
import shutil
import tempfile
from pathlib import Path

from voicelog.errors import ModelError
from voicelog.speech import weights


def merge(model: Path, adapter: Path, folder: Path) -> None:
    """Raises ModelError when the adapter does not fit or `folder` is there already."""
    if folder.exists():
        raise ModelError(f"{folder}: is there already; name a folder that is not")
    merged = weights.adapted(model / "model.bin", adapter)
    folder.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder.parent, prefix=".merging-") as work:
        made = Path(work) / "model"
        made.mkdir()
        for file in model.iterdir():
            if file.is_file() and file.name != "model.bin":
                shutil.copyfile(file, made / file.name)
        weights.write(merged, made / "model.bin")
        made.rename(folder)


def main() -> None:
    """Three paths."""
    asked = argparse.ArgumentParser(description=__doc__)
    for name in ("model", "adapter", "folder"):
        asked.add_argument(name, type=Path)
    given = asked.parse_args()
    merge(given.model, given.adapter, given.folder)


if __name__ == "__main__":
    main()
