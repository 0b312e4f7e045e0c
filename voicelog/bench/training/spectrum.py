"""The spectrum that Whisper is fed, and what another microphone and mouth would add to it."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import torch
from torch.nn import functional as F  # noqa: N812  its usual name

from voicelog.heard import RATE_HZ

if TYPE_CHECKING:
    from torch import Tensor

_WINDOW, HOP, _MELS = 400, 160, 80
_KNOTS, _COLOUR_BEL = 6, 0.4


@cache
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


@cache
def _filters_on(device: torch.device) -> tuple[Tensor, Tensor]:
    """(triangles, window) where the sound is."""
    return torch.from_numpy(mel_filters()).to(device), torch.hann_window(_WINDOW, device=device)


def log_mel(samples: Tensor, lengths: Tensor, frames: int, colour: Tensor | None = None) -> Tensor:
    """[clips, samples] -> [clips, 80, frames] as the model is fed, after Radford et al. 2022.

    Each clip has `lengths` of samples; what stands behind them is 0, as the pipeline pads it.
    `colour`, [clips, 80], is what a microphone and a mouth of another kind add, in bel.
    """
    filters, window = _filters_on(samples.device)
    spectrum = torch.stft(samples, _WINDOW, HOP, window=window, return_complex=True)
    log = torch.clamp(filters @ (spectrum.abs() ** 2), min=1e-10).log10()
    if colour is not None:
        log = log + colour[:, :, None]
    spoken_in = torch.arange(log.shape[2], device=log.device) < (lengths // HOP)[:, None]
    loudest = log.masked_fill(~spoken_in[:, None], -10.0).amax((1, 2), keepdim=True)
    mel = (torch.maximum(log, loudest - 8.0) + 4.0) / 4.0 * spoken_in[:, None]
    return F.pad(mel[:, :, :frames], (0, max(0, frames - mel.shape[2])))


def colours(clips: int, device: str) -> Tensor:
    """[clips, 80] smooth random curves over the mel scale: no clip is ever quite the same."""
    knots = torch.randn(clips, 1, _KNOTS, device=device) * _COLOUR_BEL
    return F.interpolate(knots, size=_MELS, mode="linear", align_corners=True)[:, 0]
