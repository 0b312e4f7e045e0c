"""Whisper in PyTorch over CTranslate2's variables, as far as training needs it.

Architecture: Radford et al. 2022, "Robust Speech Recognition via Large-Scale Weak
Supervision". Names are those of `model.bin`, so what is trained can be merged there. The
low-rank change is that of Hu et al. 2021, "LoRA".
"""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import torch
from torch import Tensor, nn
from torch.nn import functional as F  # noqa: N812  its usual name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.speech.weights import Tensors

_STARTED = 0.02
_ENGLISH_ONLY = 51864
"""Size of the vocabulary of a model that knows no other language."""


class Whisper(nn.Module):
    """Frozen weights, with a trainable pair `up`, `down` beside every matrix of the layers."""

    def __init__(self, tensors: Tensors, rank: int, scale: float, seed: int = 0) -> None:
        super().__init__()
        self.frozen: dict[str, Tensor] = {
            name: torch.from_numpy(tensor.astype("float32"))
            for name, tensor in tensors.items()
            if tensor.dtype.kind == "f" and tensor.ndim
        }
        self.heads = {side: int(tensors[f"{side}/num_heads"]) for side in ("encoder", "decoder")}
        self.scale = scale
        chance = torch.Generator().manual_seed(seed)
        self.down, self.up = nn.ParameterDict(), nn.ParameterDict()
        for name, weight in self.frozen.items():
            if "/layer_" in name and name.endswith("/weight"):
                out_size, in_size = weight.shape
                start = torch.randn(rank, in_size, generator=chance) * _STARTED
                self.down[_key(name)] = nn.Parameter(start)
                self.up[_key(name)] = nn.Parameter(torch.zeros(out_size, rank))

    @property
    def multilingual(self) -> bool:
        return self.frozen["decoder/embeddings/weight"].shape[0] > _ENGLISH_ONLY

    def moved(self, device: str) -> Whisper:
        """Everything, the frozen weights too, on `device`."""
        self.frozen = {name: tensor.to(device) for name, tensor in self.frozen.items()}
        return self.to(device)

    @contextmanager
    def untrained(self) -> Iterator[None]:
        """Inside, the model is the base it started from."""
        scale, self.scale = self.scale, 0.0
        try:
            yield
        finally:
            self.scale = scale

    def adapter(self) -> Tensors:
        """The pairs as `weights.merge` takes them."""
        return {
            f"{name.replace('|', '/')}/{side}": value.detach().float().cpu().numpy()
            for side, pairs in (("up", self.up), ("down", self.down))
            for name, value in pairs.items()
        }

    def take(self, adapter: Tensors) -> None:
        """Goes on from pairs that `adapter` gave."""
        for name, pair in adapter.items():
            whole, side = name.rsplit("/", 1)
            pairs = self.up if side == "up" else self.down
            pairs[_key(whole)].data.copy_(torch.from_numpy(pair.astype("float32")))

    def _linear(self, x: Tensor, name: str) -> Tensor:
        f, key = self.frozen, _key(f"{name}/weight")
        low = F.linear(F.linear(x, self.down[key]), self.up[key])
        return F.linear(x, f[f"{name}/weight"], f.get(f"{name}/bias")) + self.scale * low

    def _norm(self, x: Tensor, name: str) -> Tensor:
        gamma, beta = self.frozen[f"{name}/gamma"], self.frozen[f"{name}/beta"]
        return F.layer_norm(x, gamma.shape, gamma, beta)

    def _attend(self, q: Tensor, k: Tensor, v: Tensor, heads: int, causal: bool) -> Tensor:
        split = [t.unflatten(-1, (heads, -1)).transpose(1, 2) for t in (q, k, v)]
        out = F.scaled_dot_product_attention(*split, is_causal=causal)
        return out.transpose(1, 2).flatten(-2)

    def _block(self, x: Tensor, layer: str, heads: int, memory: Tensor | None) -> Tensor:
        own = f"{layer}/self_attention"
        q, k, v = self._linear(self._norm(x, f"{own}/layer_norm"), f"{own}/linear_0").chunk(3, -1)
        x = x + self._linear(self._attend(q, k, v, heads, memory is not None), f"{own}/linear_1")
        if memory is not None:
            other = f"{layer}/attention"
            q = self._linear(self._norm(x, f"{other}/layer_norm"), f"{other}/linear_0")
            k, v = self._linear(memory, f"{other}/linear_1").chunk(2, -1)
            x = x + self._linear(self._attend(q, k, v, heads, False), f"{other}/linear_2")
        inner = self._linear(self._norm(x, f"{layer}/ffn/layer_norm"), f"{layer}/ffn/linear_0")
        return x + self._linear(F.gelu(inner), f"{layer}/ffn/linear_1")

    def _stack(self, x: Tensor, side: str, memory: Tensor | None = None) -> Tensor:
        layer = 0
        while f"{side}/layer_{layer}/ffn/linear_0/weight" in self.frozen:
            x = self._block(x, f"{side}/layer_{layer}", self.heads[side], memory)
            layer += 1
        return self._norm(x, f"{side}/layer_norm")

    def encode(self, mel: Tensor) -> Tensor:
        """[batch, mels, frames] -> [batch, frames / 2, width]."""
        f = self.frozen
        x = F.gelu(F.conv1d(mel, f["encoder/conv1/weight"], f["encoder/conv1/bias"], padding=1))
        x = F.conv1d(x, f["encoder/conv2/weight"], f["encoder/conv2/bias"], stride=2, padding=1)
        x = F.gelu(x).transpose(1, 2)
        return self._stack(x + f["encoder/position_encodings/encodings"][: x.shape[1]], "encoder")

    def decode(self, tokens: Tensor, memory: Tensor, chosen: Tensor) -> Tensor:
        """[batch, length] token numbers -> [n, vocabulary] logits where `chosen` is true.

        The vocabulary is the dearest part, and most places are prompt.
        """
        table = self.frozen["decoder/embeddings/weight"]
        places = self.frozen["decoder/position_encodings/encodings"][: tokens.shape[1]]
        x = self._stack(F.embedding(tokens, table) + places, "decoder", memory)
        return x[chosen] @ table.T


def _key(name: str) -> str:
    return name.replace("/", "|")
