"""Writes the `text` of the golden set's recognised notes: synthetic speech, really recognised.

    python tests/golden/make_recognised.py MODEL_FOLDER [FILE.jsonl ...]

For each note of form "recognised" the words of `said` are spoken by its `voice` and heard by
faster-whisper (base, CPU, int8, beam 5), with general words of maintenance as prompt where
`prompted` is true. Prints the notes with the text as heard now; the files stay as they are,
because each expectation was written for exactly the text that stands beside it.

Voices: "heart 1.0" (hibari-tts at a speed), "flite:slt", "espeak-ng:en-gb", "festival".
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

    from faster_whisper import WhisperModel

PROMPT = (
    "Maintenance notes: torque in newton metres and foot pounds, pressure in psi and bar, "
    "clearance in millimetres and thou, serial number, cotter pin fitted, no leaks, "
    "cylinder 1, 74 over 80, bolts 1 to 4, as found, as left, within limits."
)


def speak(text: str, voice: str, path: Path) -> None:
    """Write `text`, spoken by `voice`, as a WAV file."""
    engine, _, name = voice.replace(" ", ":").partition(":")
    if engine == "heart":
        from hibari import Hibari

        Hibari(engine).save(text, str(path), speed=float(name), seed=1)
        return
    commands = {
        "flite": ["flite", "-voice", name, "-t", text, "-o", str(path)],
        "espeak-ng": ["espeak-ng", "-v", name, "-s", "150", "-w", str(path), text],
        "festival": ["text2wave", "-o", str(path)],
    }
    subprocess.run(commands[engine], input=text, text=True, check=True, capture_output=True)


def hear(model: WhisperModel, path: Path, prompted: bool) -> str:
    """What the recogniser writes for the WAV file `path`."""
    segments, _ = model.transcribe(
        str(path),
        language="en",
        beam_size=5,
        vad_filter=True,
        initial_prompt=PROMPT if prompted else None,
    )
    return " ".join(segment.text.strip() for segment in segments)


def recognised(notes: list[dict[str, Any]], model_folder: str) -> Iterator[dict[str, Any]]:
    """The recognised ones of `notes`, each with the text as heard now."""
    os.environ["HF_HUB_OFFLINE"] = "1"
    from faster_whisper import WhisperModel

    model = WhisperModel(
        model_folder, device="cpu", compute_type="int8", cpu_threads=1, local_files_only=True
    )
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder) / "note.wav"
        for note in notes:
            if note["form"] == "recognised":
                speak(note["said"], note["voice"], wav)
                yield note | {"text": hear(model, wav, note["prompted"])}


def main() -> None:
    folder, *names = sys.argv[1:]
    files = [Path(name) for name in names] or sorted(Path(__file__).parent.glob("notes_*.jsonl"))
    for file in files:
        notes = [json.loads(line) for line in file.read_text("utf-8").splitlines()]
        for note in recognised(notes, folder):
            sys.stdout.write(json.dumps(note, ensure_ascii=False) + "\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
