// Sound as it comes from the microphone -> frames of 100 ms, 16 kHz, 16 bit.
// Where the browser keeps its own rate, each sample is the mean over its stretch of time.
const RATE = 16000, FRAME = 1600;

class Frames extends AudioWorkletProcessor {
  constructor() {
    super();
    this.step = sampleRate / RATE;
    this.frame = new Int16Array(FRAME);
    this.filled = 0;
    this.sum = 0;
    this.weight = 0;
  }

  process([[channel]]) {
    if (!channel) return true;
    if (this.step === 1) for (const sample of channel) this.put(sample);
    else for (const sample of channel) this.average(sample);
    return true;
  }

  average(sample) {
    const room = this.step - this.weight;
    if (room > 1) {
      this.sum += sample;
      this.weight += 1;
      return;
    }
    this.put((this.sum + sample * room) / this.step);
    this.sum = sample * (1 - room);
    this.weight = 1 - room;
  }

  put(sample) {
    this.frame[this.filled++] = Math.round(Math.max(-1, Math.min(1, sample)) * 32767);
    if (this.filled < FRAME) return;
    this.port.postMessage(this.frame.buffer, [this.frame.buffer]);
    this.frame = new Int16Array(FRAME);
    this.filled = 0;
  }
}

registerProcessor("frames", Frames);
