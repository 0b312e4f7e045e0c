// The microphone: opened as it is, without the browser's own corrections, and watched.

const WHY = { NotAllowedError: "refused", SecurityError: "refused", NotFoundError: "missing",
  OverconstrainedError: "missing" };

export class NoMicrophone extends Error {} // its message names a text of the page

export class Microphone {
  // `frame` gets each 100 ms as an ArrayBuffer, `gone` is called when the device disappears.
  constructor(worklet, frame, gone) {
    Object.assign(this, { worklet, frame, gone });
  }

  get open() {
    return Boolean(this.context);
  }

  get settings() {
    return this.stream?.getAudioTracks()[0]?.getSettings() ?? {};
  }

  async start() {
    if (!navigator.mediaDevices) throw new NoMicrophone("insecure");
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({ audio: {
        channelCount: 1, echoCancellation: false, noiseSuppression: false, autoGainControl: false } });
      this.context = await this.listen();
    } catch (error) {
      this.stop();
      throw new NoMicrophone(WHY[error.name] ?? "broken");
    }
    const [track] = this.stream.getAudioTracks();
    track.addEventListener("ended", () => {
      if (this.open) {
        this.stop();
        this.gone();
      }
    });
    this.context.addEventListener("statechange", () => this.context?.resume().catch(() => {}));
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
    const node = new AudioWorkletNode(context, "frames", { numberOfOutputs: 0 });
    node.port.onmessage = ({ data }) => this.frame(data);
    context.createMediaStreamSource(this.stream).connect(node);
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
