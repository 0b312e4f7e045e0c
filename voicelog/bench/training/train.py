"""Trains the adapter: `python -m voicelog.bench.training.train SET MODEL OUT.safetensors`.

SET is what `prepare` wrote, MODEL a folder with the model to adapt. Needs PyTorch, which
voicelog itself does not. Half of the notes have the step's prompt before them, as the pipeline
puts it. The best adapter on development voices and notes is kept.
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

from voicelog.bench.training import spoken, weights
from voicelog.bench.training.whisper import Whisper
from voicelog.errors import ModelError
from voicelog.objects import RATE_HZ

if TYPE_CHECKING:
    from collections.abc import Sequence

    from torch import Tensor

_WINDOW, _HOP, _MELS = 400, 160, 80
_PROMPT = 160
_IGNORED = -100
_CONTROL = (
    "<|startofprev|>",
    "<|startoftranscript|>",
    "<|en|>",
    "<|transcribe|>",
    "<|notimestamps|>",
    "<|endoftext|>",
)


@dataclass(frozen=True, slots=True)
class Plan:
    """How long and how hard to train."""

    rank: int = 8
    alpha: float = 16.0
    rate: float = 4e-4
    batch: int = 32
    steps: int = 600
    every: int = 50
    """Steps between two looks at the development set."""
    patience: int = 4
    """Looks without a gain before it stops."""
    kept: float = 0.25
    """Share of a batch that is real speech."""
    listen_s: float = 15.0
    beyond_s: float = 7.5
    most_s: float = 3600.0
    seed: int = 0


def mel_filters() -> np.ndarray[Any, Any]:
    """[80, 201] triangles of equal area on Slaney's mel scale, as Whisper was trained on.

    Slaney 1998, "Auditory Toolbox": linear below 1 kHz, then 27 steps for a factor of 6.4.
    """

    def hz(mel: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
        above = 1000 * np.exp(np.log(6.4) / 27 * (mel - 15))
        return np.where(mel < 15, mel * 200 / 3, above)

    top = 15 + 27 * np.log(RATE_HZ / 2 / 1000) / np.log(6.4)
    edges = hz(np.linspace(0, top, _MELS + 2))
    bins = np.fft.rfftfreq(_WINDOW, 1 / RATE_HZ)
    rise = (bins - edges[:-2, None]) / (edges[1:-1] - edges[:-2])[:, None]
    fall = (edges[2:, None] - bins) / (edges[2:] - edges[1:-1])[:, None]
    area = 2 / (edges[2:] - edges[:-2])
    return np.asarray(np.maximum(0, np.minimum(rise, fall)) * area[:, None], np.float32)


def log_mel(samples: Tensor) -> Tensor:
    """[samples] -> [80, frames] as the model is fed, after Radford et al. 2022."""
    window = torch.hann_window(_WINDOW, device=samples.device)
    spectrum = torch.stft(samples, _WINDOW, _HOP, window=window, return_complex=True)
    power = spectrum[:, :-1].abs() ** 2
    filters = torch.from_numpy(mel_filters()).to(samples.device)
    log = torch.clamp(filters @ power, min=1e-10).log10()
    return (torch.maximum(log, log.max() - 8.0) + 4.0) / 4.0


class Examples:
    """Clips and targets of one split."""

    def __init__(self, folder: Path, split: str, tokenizer: Tokenizer, plan: Plan) -> None:
        lines = (folder / "notes.jsonl").read_text(encoding="utf-8").splitlines()
        rows = [row for row in map(json.loads, lines) if row["split"] == split]
        self.folder, self.plan, self.tokenizer = folder, plan, tokenizer
        self.notes = [row for row in rows if not row["keep"]]
        self.real = [row for row in rows if row["keep"]]
        numbers = {name: tokenizer.token_to_id(name) for name in _CONTROL}
        lacking = [name for name, number in numbers.items() if number is None]
        if lacking:
            raise ModelError(f"the model's tokenizer lacks {', '.join(lacking)}")
        self.prev, *self.start, self.no_times, self.end = (n or 0 for n in numbers.values())
        self.times = self.no_times + 1

    def tokens(self, text: str) -> list[int]:
        return list(self.tokenizer.encode(text, add_special_tokens=False).ids)

    def sequence(
        self, row: dict[str, Any], prompted: bool, timed: bool, lasts_s: float
    ) -> tuple[list[int], list[int]]:
        """(tokens read, tokens to be written after each); what stands before is not learnt."""
        taken: list[list[int]] = []
        for phrase in row["phrases"] if prompted else ():
            ids = self.tokens(" " + phrase)
            if sum(map(len, taken)) + len(ids) <= _PROMPT:
                taken.append(ids)
        before = [self.prev, *(t for ids in reversed(taken) for t in ids)] if taken else []
        text = self.tokens(" " + row["written"])
        if timed:
            last = self.times + min(1500, round(lasts_s * 50))
            text = [self.times, *text, last]
        head = [*before, *self.start, *(() if timed else (self.no_times,))]
        whole = [*head, *text, self.end]
        goals = [_IGNORED] * (len(head) - 1) + whole[len(head) :]
        if timed:  # where a phrase lies is drawn by the padding, not learnt
            goals[len(head) - 1] = goals[-2] = _IGNORED
        return whole[:-1], goals

    def batch(
        self, rows: Sequence[dict[str, Any]], salt: str, device: str
    ) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """(mel, tokens, goals, which rows are real speech); the same salt gives the same."""
        mels, pairs = [], []
        for row in rows:
            seed = f"{salt}|{row['name']}"
            chance = random.Random(seed)  # noqa: S311  repeatable, not secret
            clean = np.load(self.folder / f"{row['name']}.npy").astype(np.float32) / 32767
            sound = torch.from_numpy(spoken.worsened(clean, seed)).to(device)
            mels.append(log_mel(sound))
            prompted, timed = chance.random() < 0.5, chance.random() < 0.5
            pairs.append(self.sequence(row, prompted, timed, len(clean) / RATE_HZ))
        plan = self.plan
        frames = max(round(plan.listen_s * 100), *(m.shape[1] + plan.beyond_s * 100 for m in mels))
        frames = min(3000, int(frames) // 2 * 2)
        mel = torch.stack([F.pad(m[:, :frames], (0, max(0, frames - m.shape[1]))) for m in mels])
        length = max(len(read) for read, _ in pairs)
        tokens = torch.full((len(rows), length), self.end, device=device)
        goals = torch.full((len(rows), length), _IGNORED, device=device)
        for at, (read, wanted) in enumerate(pairs):
            tokens[at, : len(read)] = torch.tensor(read)
            goals[at, : len(wanted)] = torch.tensor(wanted)
        real = torch.tensor([row["keep"] for row in rows], device=device)
        return mel, tokens, goals, real


def loss_of(model: Whisper, parts: tuple[Tensor, Tensor, Tensor, Tensor]) -> Tensor:
    """Cross entropy on notes; on real speech the distance from what the base would have said."""
    mel, tokens, goals, real = parts
    wanted = goals != _IGNORED
    logits = model.decode(tokens, model.encode(mel), wanted).float()
    kept = real[:, None].expand_as(goals)[wanted]
    total = logits.sum() * 0
    if not kept.all():
        total = total + F.cross_entropy(logits[~kept], goals[wanted][~kept])
    if kept.any():
        with torch.no_grad(), model.untrained():
            base = model.decode(tokens[real], model.encode(mel[real]), wanted[real]).float()
        target, said = F.log_softmax(base, -1), F.log_softmax(logits[kept], -1)
        total = total + F.kl_div(said, target, reduction="batchmean", log_target=True)
    return total


def development_loss(model: Whisper, examples: Examples, device: str, batch: int) -> float:
    """Mean loss over the development notes and real clips, each under one condition."""
    rows = [*examples.notes, *examples.real[: len(examples.notes)]]
    losses = []
    with torch.no_grad():
        for at in range(0, len(rows), batch):
            parts = examples.batch(rows[at : at + batch], "development", device)
            losses.append(loss_of(model, parts).item())
    return float(np.mean(losses))


def train(folder: Path, model_folder: Path, out: Path, plan: Plan, device: str) -> dict[str, Any]:
    """Trains, writes the best adapter to `out`, and gives what was seen on the way."""
    torch.manual_seed(plan.seed)
    base = weights.read(model_folder / "model.bin")
    scale = plan.alpha / plan.rank
    model = Whisper(base.tensors, plan.rank, scale, plan.seed).moved(device)
    tokenizer = Tokenizer.from_file(str(model_folder / "tokenizer.json"))
    training, development = (
        Examples(folder, split, tokenizer, plan) for split in ("training", "development")
    )
    chance = random.Random(plan.seed)  # noqa: S311
    optimiser = torch.optim.AdamW(model.parameters(), plan.rate, weight_decay=0.01)
    warm = max(1, plan.steps // 10)
    schedule = torch.optim.lr_scheduler.LambdaLR(
        optimiser, lambda s: min((s + 1) / warm, max(0.02, (plan.steps - s) / plan.steps))
    )
    begin = time.monotonic()
    best = development_loss(model, development, device, plan.batch)
    seen: list[tuple[int, float]] = [(0, best)]
    print(f"step 0: development loss {best:.4f}", flush=True)  # noqa: T201  a script's progress
    waited = done = 0
    real = round(plan.batch * plan.kept) if training.real else 0
    while done < plan.steps and waited < plan.patience:
        rows = chance.choices(training.notes, k=plan.batch - real)
        rows += chance.choices(training.real, k=real) if real else []
        with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
            loss = loss_of(model, training.batch(rows, f"step {done}", device))
        optimiser.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(model.parameters(), 1.0)
        optimiser.step()
        schedule.step()
        done += 1
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
        if late:
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
    given = vars(asked.parse_args())
    paths = [given.pop(name) for name in ("set", "model", "out")]
    device = "cuda" if torch.cuda.is_available() else "cpu"
    seen = train(paths[0], paths[1], paths[2], Plan(**given), device)
    print(json.dumps(seen))  # noqa: T201  a script's result


if __name__ == "__main__":
    main()
