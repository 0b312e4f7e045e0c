"""Trains the adapter: `python -m voicelog.bench.training.train SET MODEL OUT.safetensors`.

SET is what `prepare` wrote, MODEL a folder with the model to adapt. Needs PyTorch, which
voicelog itself does not. Most notes have the step's prompt before them, as the pipeline puts
it, some the prompt of another step; some are joined to a longer dictation; in some nobody
speaks, and nothing is to be written. How much silence the window holds behind the speech is
drawn as well, so that the adapted model can listen to short windows; clips of a batch are
about as long as each other. The best adapter on development voices and notes is kept.
"""

from __future__ import annotations

import argparse
import json
import random
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import torch
from tokenizers import Tokenizer
from torch.nn import functional as F  # noqa: N812  its usual name
from torch.utils.data import DataLoader, Dataset

from voicelog.bench.training import spoken
from voicelog.bench.training.spectrum import HOP, colours, log_mel
from voicelog.bench.training.whisper import Whisper
from voicelog.errors import ModelError
from voicelog.heard import RATE_HZ
from voicelog.speech import weights

if TYPE_CHECKING:
    from collections.abc import Sequence

    from torch import Tensor

_PROMPT = 160
_FRAMES = 3000
_SHAPE = 40
"""Windows are a multiple of this many frames: CUDA's convolutions are planned once a shape."""
_IGNORED = -100
_CONTROL = (
    "<|startofprev|>",
    "<|startoftranscript|>",
    "<|en|>",
    "<|transcribe|>",
    "<|notimestamps|>",
    "<|endoftext|>",
)
_PAUSE_S = (0.3, 1.2)


@dataclass(frozen=True, slots=True)
class Plan:
    """How long and how hard to train."""

    rank: int = 32
    alpha: float = 64.0
    rate: float = 6e-4
    batch: int = 64
    steps: int = 3000
    every: int = 250
    """Steps between two looks at the development set."""
    patience: int = 6
    """Looks without a gain before it stops."""
    kept: float = 0.12
    """Share of a batch that is real speech."""
    prompted: float = 0.7
    """Share of notes with a prompt; a tenth of these get that of another step."""
    joined: float = 0.1
    """Share of batches in which another note is joined to each."""
    silent: float = 0.03
    """Share of clips in which nobody speaks."""
    most_s: float = 3600.0
    """Time after which the last step is taken; the rate of learning has come down by then."""
    workers: int = 0
    """Processes that make the sound worse while the model learns."""
    held: float = 1.0
    """Weight of staying with the base where that is wanted, against learning."""
    seed: int = 0


@dataclass(frozen=True, slots=True)
class Batch:
    """What a step is given; made beside the training, since it takes a processor's time."""

    sound: Tensor
    """[clips, samples] as int16; its spectrum is taken where the model is."""
    lengths: Tensor
    """[clips] samples of each; the rest is padding."""
    frames: int
    """Length of the window."""
    tokens: Tensor
    """[clips, length] read."""
    goals: Tensor
    """[clips, length] to be written after each."""
    keep: Tensor
    """[clips] which are to stay as the base has them."""

    def on(self, device: str, coloured: bool = False) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        sound = self.sound.to(device).float() / 32767
        colour = colours(len(sound), device) if coloured else None
        return (
            log_mel(sound, self.lengths.to(device), self.frames, colour),
            self.tokens.to(device),
            self.goals.to(device),
            self.keep.to(device),
        )


def batch_of(
    clips: Sequence[np.ndarray[Any, Any]],
    pairs: Sequence[tuple[list[int], list[int]]],
    keep: Sequence[bool],
    window_s: float,
    end: int,
) -> Batch:
    """Clips in one window of `window_s` or as long as the longest, with what they are to give."""
    lengths = torch.tensor([len(clip) for clip in clips])
    sound = torch.zeros((len(clips), int(lengths.max())), dtype=torch.int16)
    for row, clip in zip(sound, clips, strict=True):
        row[: len(clip)] = torch.from_numpy(np.int16(np.clip(clip, -1, 1) * 32767))
    frames = max(round(window_s * 100), int(lengths.max()) // HOP)
    frames = min(_FRAMES, -(-frames // _SHAPE) * _SHAPE)
    length = max(len(read) for read, _ in pairs)
    tokens = torch.full((len(clips), length), end)
    goals = torch.full((len(clips), length), _IGNORED)
    for at, (read, wanted) in enumerate(pairs):
        tokens[at, : len(read)] = torch.tensor(read)
        goals[at, : len(wanted)] = torch.tensor(wanted)
    return Batch(sound, lengths, frames, tokens, goals, torch.tensor(keep))


class Examples:
    """Clips and targets of one split."""

    def __init__(
        self, folder: Path, split: str, tokenizer: Tokenizer, multilingual: bool, plan: Plan
    ) -> None:
        lines = (folder / "notes.jsonl").read_text(encoding="utf-8").splitlines()
        rows = [row for row in map(json.loads, lines) if row["split"] == split]
        self.folder, self.plan, self.tokenizer = folder, plan, tokenizer
        self.notes = sorted(
            (row for row in rows if not row["real"]),
            key=lambda row: (folder / f"{row['name']}.npy").stat().st_size,
        )
        self.real = [row for row in rows if row["real"]]
        numbers = {name: tokenizer.token_to_id(name) for name in _CONTROL}
        lacking = [name for name, number in numbers.items() if number is None]
        if lacking:
            raise ModelError(f"the model's tokenizer lacks {', '.join(lacking)}")
        self.prev, *start, self.no_times, self.end = (n or 0 for n in numbers.values())
        self.start = start if multilingual else start[:1]

    def tokens(self, text: str) -> list[int]:
        return list(self.tokenizer.encode(text, add_special_tokens=False).ids)

    def sequence(self, text: str, phrases: Sequence[str]) -> tuple[list[int], list[int]]:
        """(tokens read, tokens to be written after each); what stands before is not learnt.

        No times are written: where a phrase ends is drawn by the padding, and a model that
        isn't taught its end goes on ("six five three two two two"), see `timed` in `speech.toml`.
        """
        taken: list[list[int]] = []
        for phrase in phrases:
            ids = self.tokens(" " + phrase)
            if sum(map(len, taken)) + len(ids) <= _PROMPT:
                taken.append(ids)
        before = [self.prev, *(t for ids in reversed(taken) for t in ids)] if taken else []
        said = self.tokens(" " + text) if text else []
        head = [*before, *self.start, self.no_times]
        whole = [*head, *said, self.end]
        goals = [_IGNORED] * (len(head) - 1) + whole[len(head) :]
        return whole[:-1], goals

    def _clip(self, row: dict[str, Any]) -> np.ndarray[Any, Any]:
        return np.asarray(np.load(self.folder / f"{row['name']}.npy").astype(np.float32) / 32767)

    def alike(self, count: int, chance: random.Random) -> list[dict[str, Any]]:
        """`count` notes out of a few hundred that are about as long as each other."""
        few = min(len(self.notes), max(count, len(self.notes) // 30))
        first = chance.randrange(len(self.notes) - few + 1)
        return chance.choices(self.notes[first : first + few], k=count)

    def _example(
        self, row: dict[str, Any], seed: str, joined: bool
    ) -> tuple[np.ndarray[Any, Any], tuple[list[int], list[int]]]:
        plan, chance = self.plan, random.Random(seed)  # noqa: S311  repeatable, not secret
        text, clip, phrases = row["written"], self._clip(row), row["phrases"]
        general = row["real"] or row["keep"]
        if self.notes and chance.random() < plan.prompted:
            other = chance.random() < 0.1 or general
            phrases = chance.choice(self.notes)["phrases"] if other else phrases
        else:
            phrases = ()
        next_ = self.alike(1, chance)[0] if joined and not general else row
        if not general and chance.random() < plan.silent:
            text, clip = "", spoken.silence(seed)
        elif joined and not general and not next_["keep"]:
            pause = np.zeros(int(chance.uniform(*_PAUSE_S) * RATE_HZ), np.float32)
            clip = np.concatenate([clip, pause, self._clip(next_)])[: 28 * RATE_HZ]
            text = f"{text} {next_['written']}" if len(clip) < 28 * RATE_HZ else ""
            if not text:  # too long for a window together
                text, clip = row["written"], self._clip(row)
        heard = spoken.worsened(clip, seed) if text else clip
        return heard, self.sequence(text, phrases)

    def batch(self, rows: Sequence[dict[str, Any]], salt: str) -> Batch:
        """The same salt gives the same."""
        chance = random.Random(salt)  # noqa: S311
        joined = chance.random() < self.plan.joined
        made = [self._example(row, f"{salt}|{row['name']}", joined) for row in rows]
        longest = max(len(clip) for clip, _ in made) / RATE_HZ
        way = chance.random()
        window_s = longest + chance.uniform(0.1, 2.0) if way < 0.8 else 15.0 if way < 0.92 else 30.0
        clips, pairs = zip(*made, strict=True)
        return batch_of(clips, pairs, [row["keep"] for row in rows], window_s, self.end)


class Steps(Dataset[Batch]):
    """The batch of every step, whichever process makes it."""

    def __init__(self, examples: Examples, plan: Plan) -> None:
        self.examples, self.plan = examples, plan

    def __len__(self) -> int:
        return self.plan.steps

    def __getitem__(self, step: int) -> Batch:
        plan, examples = self.plan, self.examples
        chance = random.Random(f"{plan.seed}|{step}")  # noqa: S311
        real = round(plan.batch * plan.kept) if examples.real else 0
        rows = examples.alike(plan.batch - real, chance)
        rows += chance.choices(examples.real, k=real) if real else []
        return examples.batch(rows, f"step {step}")


def loss_of(
    model: Whisper, parts: tuple[Tensor, Tensor, Tensor, Tensor], held: float = 1.0
) -> Tensor:
    """Cross entropy; where `keep` is set, the distance from what the base would have said."""
    mel, tokens, goals, keep = parts
    wanted = goals != _IGNORED
    logits = model.decode(tokens, model.encode(mel), wanted).float()
    kept = keep[:, None].expand_as(goals)[wanted]
    total = logits.sum() * 0
    if not kept.all():
        total = total + F.cross_entropy(logits[~kept], goals[wanted][~kept])
    if kept.any():
        # the base is asked with all the silence it was made for; in a short window it
        # repeats itself
        whole = F.pad(mel[keep], (0, _FRAMES - mel.shape[2]))
        with torch.no_grad(), model.untrained():
            base = model.decode(tokens[keep], model.encode(whole), wanted[keep]).float()
        target, said = F.log_softmax(base, -1), F.log_softmax(logits[kept], -1)
        total = total + held * F.kl_div(said, target, reduction="batchmean", log_target=True)
    return total


def development_loss(model: Whisper, examples: Examples, device: str, batch: int) -> float:
    """Mean loss over the development notes and real clips, each under one condition."""
    rows = [*examples.notes, *examples.real[: len(examples.notes) // 2]]
    losses = []
    for at in range(0, len(rows), batch):
        parts = examples.batch(rows[at : at + batch], "development").on(device)
        with torch.no_grad(), torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
            losses.append(loss_of(model, parts).item())
    return float(np.mean(losses))


def train(
    folder: Path, model_folder: Path, out: Path, plan: Plan, device: str, begun: Path | None = None
) -> dict[str, Any]:
    """Trains, writes the best adapter to `out`, and gives what was seen on the way.

    `begun` is an adapter of the same rank to go on from.
    """
    torch.manual_seed(plan.seed)
    torch.backends.cuda.enable_cudnn_sdp(False)  # it plans anew for every shape, and takes 10 ms
    base = weights.read(model_folder / "model.bin")
    scale = plan.alpha / plan.rank
    model = Whisper(base.tensors, plan.rank, scale, plan.seed)
    if begun is not None:
        model.take(weights.read_adapter(begun)[0])
    model.moved(device)
    tokenizer = Tokenizer.from_file(str(model_folder / "tokenizer.json"))
    training, development = (
        Examples(folder, split, tokenizer, model.multilingual, plan)
        for split in ("training", "development")
    )
    optimiser = torch.optim.AdamW(model.parameters(), plan.rate, weight_decay=0.01)
    begin = time.monotonic()
    best = development_loss(model, development, device, plan.batch)
    seen: list[tuple[int, float]] = [(0, best)]
    print(f"step 0: development loss {best:.4f}", flush=True)  # noqa: T201  a script's progress
    waited = 0
    warm = max(1, plan.steps // 20)
    batches = DataLoader(Steps(training, plan), batch_size=None, num_workers=plan.workers)
    for done, made in enumerate(batches, 1):
        gone = max(done / plan.steps, (time.monotonic() - begin) / plan.most_s)
        for group in optimiser.param_groups:
            group["lr"] = plan.rate * min(done / warm, max(0.01, 1 - gone))
        parts = made.on(device, coloured=True)  # the spectrum needs full precision
        with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
            loss = loss_of(model, parts, plan.held)
        optimiser.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(model.parameters(), 1.0)
        optimiser.step()
        late = time.monotonic() - begin > plan.most_s
        if done % plan.every == 0 or done == plan.steps or late:
            now = development_loss(model, development, device, plan.batch)
            seen.append((done, now))
            took = time.monotonic() - begin
            print(f"step {done}: {loss.item():.4f}, {now:.4f}, {took:.0f} s", flush=True)  # noqa: T201
            waited = 0 if now < best else waited + 1
            if now < best:
                best = now
                about = {"scale": str(scale), "step": str(done), "rank": str(plan.rank)}
                weights.write_adapter(model.adapter(), about, out)
        if late or waited >= plan.patience:
            break
    return {"best": best, "seen": seen, "took_s": time.monotonic() - begin}


def main() -> None:
    """The plan's numbers are options."""
    asked = argparse.ArgumentParser(description=__doc__)
    for name in ("set", "model", "out"):
        asked.add_argument(name, type=Path)
    usual = Plan()
    for name in Plan.__dataclass_fields__:
        value = getattr(usual, name)
        asked.add_argument(f"--{name.replace('_', '-')}", type=type(value), default=value)
    asked.add_argument("--begun", type=Path)
    given = vars(asked.parse_args())
    begun = given.pop("begun")
    paths = [given.pop(name) for name in ("set", "model", "out")]
    device = "cuda" if torch.cuda.is_available() else "cpu"
    seen = train(paths[0], paths[1], paths[2], Plan(**given), device, begun)
    print(json.dumps(seen))  # noqa: T201  a script's result


if __name__ == "__main__":
    main()
