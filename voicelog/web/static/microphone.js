// The microphone: opened as it is, without the browser's own corrections, and watched.

import { Frames } from "./frames.js";

const WHY = { NotAllowedError: "refused", SecurityError: "refused", NotFoundError: "missing",
  OverconstrainedError: "missing" };

export class NoMicrophone extends Error {} // its message names a text of the page

export class Microphone {
  // `frame` gets each 100 ms as an ArrayBuffer, with the milliseconds of sound that the device
  // lost before it; `gone` is called when the device disappears.
  constructor(worklet, frame, gone) {
    Object.assign(this, { worklet, frame, gone });
  }

  get open() {
    return Boolean(this.stream);
  }

  get settings() {
    return this.stream?.getAudioTracks()[0]?.getSettings() ?? {};
  }

  async start() {
    if (!navigator.mediaDevices) throw new NoMicrophone("insecure");
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({ audio: {
        channelCount: 1, echoCancellation: false, noiseSuppression: false, autoGainControl: false } });
      const [track] = this.stream.getAudioTracks();
      track.addEventListener("ended", () => {
        if (!this.open) return;
        this.stop();
        this.gone();
      });
      if ("MediaStreamTrackProcessor" in window) this.read(track);
      else this.context = await this.listen();
    } catch (error) {
      this.stop();
      throw new NoMicrophone(WHY[error.name] ?? "broken");
    }
  }

  // Straight from the device, where the browser allows it: its audio graph has a clock of its
  // own, and puts silence into the sound when the two disagree.
  async read(track) {
    const reader = new MediaStreamTrackProcessor({ track, maxBufferSize: 3000 }).readable.getReader();
    let frames;
    for (;;) {
      const { done, value } = await reader.read();
      if (done) return;
      const { numberOfFrames: size, numberOfChannels: count, sampleRate: rate, timestamp } = value;
      const channels = Array.from({ length: count }, (_, planeIndex) => {
        const samples = new Float32Array(size);
        value.copyTo(samples, { planeIndex, format: "f32-planar" });
        return samples;
      });
      value.close();
      if (frames?.rate !== rate) frames = new Frames(rate, this.frame);
      frames.take(channels, timestamp / 1e6 + size / rate);
    }
  }

  async listen() {
    let context;
    try {
      context = new AudioContext({ sampleRate: 16000 });
      return await this.wire(context);
    } catch { // some browsers take a microphone at its own rate only
      await context?.close().catch(() => {});
      return this.wire(new AudioContext());
    }
  }

  async wire(context) {
    await context.audioWorklet.addModule(this.worklet);
    const node = new AudioWorkletNode(context, "pieces", { numberOfOutputs: 0 });
    const frames = new Frames(context.sampleRate, this.frame);
    node.port.onmessage = ({ data }) => frames.take(data, performance.now() / 1000);
    context.createMediaStreamSource(this.stream).connect(node);
    context.addEventListener("statechange", () => this.context?.resume().catch(() => {}));
    await context.resume();
    return context;
  }

  stop() {
    this.context?.close().catch(() => {});
    this.context = null;
    this.stream?.getTracks().forEach((track) => track.stop());
    this.stream = null;
  }
}

// Loudness of a frame, 0 to 100, over a range of 60 dB.
export function level(buffer) {
  let sum = 0;
  for (const sample of new Int16Array(buffer)) sum += sample * sample;
  const decibels = 10 * Math.log10(sum / 1600 / 32767 ** 2 + 1e-9);
  return Math.max(0, Math.min(100, Math.round((decibels + 60) * 1.8)));
}

// Frames as a WAV file, for a recording that is sent with a form.
export function wav(frames) {
  const length = frames.length * 3200;
  const header = new DataView(new ArrayBuffer(44));
  const text = (at, word) => [...word].forEach((sign, i) => header.setUint8(at + i, sign.charCodeAt(0)));
  text(0, "RIFF"); header.setUint32(4, 36 + length, true); text(8, "WAVEfmt ");
  header.setUint32(16, 16, true); header.setUint16(20, 1, true); header.setUint16(22, 1, true);
  header.setUint32(24, 16000, true); header.setUint32(28, 32000, true);
  header.setUint16(32, 2, true); header.setUint16(34, 16, true);
  text(36, "data"); header.setUint32(40, length, true);
  return new Blob([header, ...frames], { type: "audio/wav" });
}
