"""What the browser handed to the page as sound, written down beside it; and what the page
must have made of that, computed once more in another language.

`listen(page)` before the page opens the microphone; `frames()` afterwards.
"""

from __future__ import annotations

import base64
import math
from typing import Any

import numpy as np

RATE_HZ, FRAME, WIDE = 16_000, 1600, 16

_TEE = """
(() => {
  const tell = (rate, channels) => {
    const mean = (_, i) => channels.reduce((sum, channel) => sum + channel[i], 0) / channels.length;
    const bytes = new Uint8Array(Float32Array.from(channels[0], mean).buffer);
    let text = "";
    for (let at = 0; at < bytes.length; at += 4096) {
      text += String.fromCharCode(...bytes.subarray(at, at + 4096));
    }
    window.witness(rate, btoa(text));
  };
  const Straight = window.MediaStreamTrackProcessor;
  if (WAY !== "straight") delete window.MediaStreamTrackProcessor;
  else window.MediaStreamTrackProcessor = class {
    constructor(options) {
      const reader = new Straight(options).readable.getReader();
      let read = 0;
      this.readable = { getReader: () => ({ read: async () => {
        for (;;) {
          const answer = await reader.read();
          read += 1;
          if (answer.done) return answer;
          if (read > DROP_FROM && read <= DROP_UNTIL) { answer.value.close(); continue; }
          const { numberOfFrames, numberOfChannels, sampleRate } = answer.value;
          tell(sampleRate, Array.from({ length: numberOfChannels }, (_, planeIndex) => {
            const samples = new Float32Array(numberOfFrames);
            answer.value.copyTo(samples, { planeIndex, format: "f32-planar" });
            return samples;
          }));
          return answer;
        }
      } }) };
    }
  };
  const Node = window.AudioWorkletNode;
  window.AudioWorkletNode = class extends Node {
    constructor(context, ...more) {
      super(context, ...more);
      this.port.addEventListener("message", ({ data }) => tell(context.sampleRate, data));
    }
  };
  if (WAY === "own rate") {
    const Context = window.AudioContext;
    window.AudioContext = class extends Context {
      constructor(options) {
        if (options) throw new DOMException("not here", "NotSupportedError");
        super();
      }
    };
  }
})();
"""


class Witness:
    """Stands between the browser's microphone and the page."""

    def __init__(self, page: Any, way: str = "straight", drop: tuple[int, int] = (0, 0)) -> None:
        """`way`: "straight" from the device, through the audio "graph", or that at its "own rate".

        `drop`: pieces of sound (10 ms) of these numbers never come, as if the device lost them.
        """
        self.rate_hz = 0
        self._pieces: list[bytes] = []
        page.expose_function("witness", self._hear)
        script = _TEE.replace("WAY", repr(way))
        script = script.replace("DROP_FROM", str(drop[0])).replace("DROP_UNTIL", str(drop[1]))
        page.add_init_script(script)

    def _hear(self, rate_hz: int, piece: str) -> None:
        self.rate_hz = rate_hz
        self._pieces.append(base64.b64decode(piece))

    @property
    def samples(self) -> np.ndarray:
        return np.frombuffer(b"".join(self._pieces), "<f4").astype(np.float64)

    def frames(self) -> np.ndarray:
        """All 16-bit samples that were complete frames, at 16 kHz."""
        made = quantised(resampled(self.samples, self.rate_hz))
        return made[: len(made) // FRAME * FRAME]


def quantised(samples: np.ndarray) -> np.ndarray:
    """As 16-bit numbers; halves go up, as in the browser."""
    whole: np.ndarray = np.floor(np.clip(samples, -1, 1) * 32767 + 0.5).astype(int)
    return whole


def resampled(samples: np.ndarray, rate_hz: int) -> np.ndarray:
    """At 16 kHz: a windowed sinc (Blackman), computed all at once instead of piece by piece."""
    if rate_hz == RATE_HZ:
        return samples
    common = math.gcd(rate_hz, RATE_HZ)
    up, down = RATE_HZ // common, rate_hz // common
    stretch = max(1.0, rate_hz / RATE_HZ)
    reach, cut = math.ceil(WIDE * stretch), 0.92 / stretch
    padded = np.concatenate((np.zeros(reach - 1), samples))
    count = max(0, ((len(padded) - 2 * reach + 1) * up - 1) // down + 1)
    turns = np.arange(count) * down
    out = np.zeros(count)
    for phase in range(up):
        mine = np.flatnonzero(turns % up == phase)
        if not len(mine):
            continue
        x = np.arange(2 * reach) - reach + 1 - phase / up
        at = np.minimum(np.abs(x) / reach, 1)
        window = np.where(
            at < 1, 0.42 + 0.5 * np.cos(np.pi * at) + 0.08 * np.cos(2 * np.pi * at), 0
        )
        weights = window * cut * np.sinc(cut * x)
        weights /= weights.sum()
        firsts = turns[mine] // up
        out[mine] = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach)[firsts] @ weights
    return out
