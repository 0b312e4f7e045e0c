"""Recordings with what they say and what is to be expected: a manifest, a JSON object a line.

    {"file": "wheel-01.flac", "text": "...", "card": "DM-32-10", "step": "30",
     "expect": [{"step": "30", "field": "bolt_torque", "position": "2", "value": 98,
                 "unit": "N*m"}],
     "ask": [], "voice": "flite-slt", "noise": "clean", "sha256": "...", "synthetic": true}

"ask" lists fields where the speech itself leaves the value open, as objects (step, field,
position) or as indices into "expect". "noise" is a name of `noise.LADDER`. Notes as text are
written the same way, with "id" in place of "file" and "form" in place of "noise". A card is
named by its number: one of the demo's, or of the folder `cards/` beside the manifest.

The command that makes the recordings again reads this manifest:
`python -m voicelog.bench.samples OUT [MANIFEST]`.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicelog import cards, config
from voicelog.bench import noise
from voicelog.bench.score import Entry, Key
from voicelog.bench.voices import VOICES, speak
from voicelog.errors import AudioError, ConfigError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from voicelog.objects import Card


@dataclass(frozen=True, slots=True)
class Sample:
    """One recording, or one note as text, and what is to be expected of it."""

    name: str
    """The recording's file name, or the note's id."""
    text: str
    card: str
    step: str | None
    expect: tuple[Entry, ...]
    ask: tuple[Key, ...] = ()
    voice: str = ""
    noise: str = "clean"
    sha256: str = ""
    path: Path | None = None
    """Where the recording is; None for a note as text."""


def shipped() -> Path:
    """The manifest of the demo's recordings."""
    return config.shipped("sample_audio") / "manifest.jsonl"


def _rows(path: Path) -> Iterator[tuple[int, dict[str, Any]]]:
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"{path}: can't be read ({error}); name a manifest.jsonl") from error
    for number, line in enumerate(lines, 1):
        if not line.strip() or line.lstrip().startswith(("#", "//")):
            continue
        try:
            row = json.loads(line)
        except json.JSONDecodeError as error:
            raise ConfigError(f"{path}, line {number}: not JSON ({error})") from error
        if not isinstance(row, dict):
            raise ConfigError(f"{path}, line {number}: expected an object")
        yield number, row


def _key(data: Any, expected: tuple[Entry, ...], step: str | None) -> Key:
    if isinstance(data, int):
        return expected[data].key
    position = data.get("position")
    return (
        str(data.get("step") or step or ""),
        data["field"],
        None if position is None else str(position),
    )


def _sample(row: dict[str, Any], folder: Path) -> Sample:
    step = None if row.get("step") is None else str(row["step"])
    file = row.get("file")
    expect = tuple(Entry.of_contract(entry, step) for entry in row["expect"])
    ask = tuple(_key(entry, expect, step) for entry in row.get("ask", ()))
    open_ended = [entry for entry in expect if entry.value is None and entry.key not in ask]
    if open_ended:
        raise ValueError(f"{open_ended[0].key} has no value and is not asked")
    return Sample(
        name=str(file or row["id"]),
        text=row["text"],
        card=row["card"],
        step=step,
        expect=expect,
        ask=ask,
        voice=row.get("voice", ""),
        noise=row.get("noise") or (row.get("form") if not file else None) or "clean",
        sha256=row.get("sha256", ""),
        path=folder / file if file else None,
    )


def read(path: Path) -> tuple[Sample, ...]:
    """The samples of the manifest at `path`; lines that begin with # explain it.

    Raises ConfigError naming file, line and what is wrong with it.
    """
    samples = []
    for number, row in _rows(path):
        try:
            samples.append(_sample(row, path.parent))
        except KeyError as error:
            raise ConfigError(f"{path}, line {number}: lacks {error}") from error
        except (TypeError, ValueError, AttributeError, IndexError, ArithmeticError) as error:
            raise ConfigError(f"{path}, line {number}: {error}") from error
    if not samples:
        raise ConfigError(f"{path}: holds no samples")
    return tuple(samples)


def cards_for(manifest: Path) -> dict[str, Card]:
    """The demo's cards and those of the folder `cards/` beside `manifest`, by number.

    Raises CardError.
    """
    own = [cards.load(path) for path in sorted(manifest.parent.glob("cards/*.yaml"))]
    return cards.shipped() | {card.number: card for card in own}


def card_of(sample: Sample, known: dict[str, Card]) -> Card:
    """The card that `sample` names. Raises ConfigError."""
    if sample.card not in known:
        raise ConfigError(
            f"{sample.name}: no card {sample.card!r}; known are: {', '.join(sorted(known))}"
        )
    return known[sample.card]


def record(text: str, voice: str, condition: str, seed: str) -> bytes:
    """`text` by `voice` under `condition`, as a FLAC file.

    Raises AudioError when the voice is not installed, ConfigError when a name is unknown.
    """
    from voicelog.speech.audio import to_flac

    if voice not in VOICES:
        raise ConfigError(f"no voice {voice!r}; known are: {', '.join(VOICES)}")
    if condition not in noise.CONDITIONS:
        known = ", ".join(noise.CONDITIONS)
        raise ConfigError(f"no condition {condition!r}; known are: {known}")
    said = speak(VOICES[voice], text)
    return to_flac(noise.apply(said, noise.CONDITIONS[condition], seed))


def _speakable(row: dict[str, Any], voices: Sequence[str]) -> Iterator[dict[str, Any]]:
    """The row for its own voice, or once for each of `voices`."""
    if not voices:
        yield row
        return
    stem = Path(str(row.get("file") or row.get("id"))).stem
    for voice in voices:
        yield row | {"file": f"{stem}-{voice}.flac", "voice": voice}


def remake(
    out: Path,
    manifest: Path,
    voices: Sequence[str] = (),
    tick: Callable[[], object] = lambda: None,
) -> int:
    """All recordings of `manifest` once more, into the folder `out`, with a manifest of their own.

    With `voices`, every line is spoken by each of them, so notes as text become recordings
    (but those that a recogniser wrote: their figures are not how anybody speaks). `tick` is
    called after each. Returns how many there are. Engines of another version sound different:
    the digests are those of what was made. Raises AudioError, ConfigError.
    """
    out.mkdir(parents=True, exist_ok=True)
    lines = []
    for number, row in _rows(manifest):
        if voices and row.get("form") == "recognised":
            continue
        for spoken in _speakable(row, voices):
            if not {"file", "text", "voice"} <= spoken.keys():
                raise ConfigError(f"{manifest}, line {number}: lacks file, text or voice")
            name = Path(spoken["file"]).name
            data = record(spoken["text"], spoken["voice"], spoken.get("noise", "clean"), name)
            (out / name).write_bytes(data)
            digest = hashlib.sha256(data).hexdigest()
            spoken |= {"file": name, "sha256": digest, "synthetic": True}
            lines.append(json.dumps(spoken, ensure_ascii=False))
            tick()
    (out / "manifest.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
    own_cards = sorted(manifest.parent.glob("cards/*.yaml"))
    if own_cards and out.resolve() != manifest.parent.resolve():
        (out / "cards").mkdir(exist_ok=True)
        for card in own_cards:
            shutil.copyfile(card, out / "cards" / card.name)
    return len(lines)


def verify(samples: tuple[Sample, ...]) -> None:
    """Raises AudioError naming the first recording that is missing or not the one listed."""
    for sample in samples:
        if sample.path is None:
            raise AudioError(f"{sample.name}: the manifest names no file")
        if not sample.path.is_file():
            raise AudioError(f"{sample.path}: there is no such file; the manifest lists it")
        if sample.sha256 and hashlib.sha256(sample.path.read_bytes()).hexdigest() != sample.sha256:
            raise AudioError(f"{sample.path}: is not the recording that the manifest lists")


if __name__ == "__main__":
    if len(sys.argv) not in (2, 3):
        sys.exit("usage: python -m voicelog.bench.samples OUT [MANIFEST]")
    source = Path(sys.argv[2]) if len(sys.argv) == 3 else shipped()
    made = remake(Path(sys.argv[1]), source)
    sys.stderr.write(f"{made} recordings in {sys.argv[1]}\n")
