// Sound at any rate -> frames of 100 ms, 16 kHz, 16 bit; and what was lost before it came here.

const RATE = 16000, FRAME = 1600, WIDE = 16; // the filter reaches over so many samples on each side

const gcd = (a, b) => (b ? gcd(b, a % b) : a);

// Windowed sinc (Blackman), one set of weights for each place that an output sample can have
// between two input samples; each set sums to 1.
class Resampler {
  constructor(rate) {
    const common = gcd(rate, RATE);
    this.up = RATE / common;
    this.down = rate / common;
    const stretch = Math.max(1, rate / RATE);
    const cut = 0.92 / stretch;
    this.reach = Math.ceil(WIDE * stretch);
    this.sets = Array.from({ length: this.up }, (_, phase) => {
      const weights = new Float64Array(2 * this.reach);
      let sum = 0;
      for (let i = 0; i < weights.length; i++) {
        const x = i - this.reach + 1 - phase / this.up;
        const at = Math.abs(x) / this.reach;
        const window = at >= 1 ? 0 : 0.42 + 0.5 * Math.cos(Math.PI * at) + 0.08 * Math.cos(2 * Math.PI * at);
        weights[i] = window * (x === 0 ? cut : Math.sin(Math.PI * cut * x) / (Math.PI * x));
        sum += weights[i];
      }
      return weights.map((weight) => weight / sum);
    });
    this.kept = new Float32Array(this.reach - 1); // silence before the first sample
    this.turn = 0; // place of the next output sample, in steps of 1 / up
  }

  // All output samples that `samples` complete.
  put(samples, out) {
    const whole = new Float32Array(this.kept.length + samples.length);
    whole.set(this.kept);
    whole.set(samples, this.kept.length);
    let first = Math.floor(this.turn / this.up);
    while (first + 2 * this.reach <= whole.length) {
      const weights = this.sets[this.turn % this.up];
      let sum = 0;
      for (let i = 0; i < weights.length; i++) sum += weights[i] * whole[first + i];
      out(sum);
      this.turn += this.down;
      first = Math.floor(this.turn / this.up);
    }
    const gone = Math.min(first, whole.length);
    this.kept = whole.slice(gone);
    this.turn -= gone * this.up;
  }
}

// Sound that is late may still come; sound that stays away was lost. How far the sound is behind
// the clock is noted by tenths of a second, and the least of the last ten compared with the least
// of those before: neither a busy page nor two clocks that differ a little count then.
const TENTHS = 100, LATEST = 10, LEAST_MS = 20;

class Clock {
  constructor() {
    this.given = 0; // seconds of sound so far, and of what was told as lost
    this.late = [];
    this.least = Infinity;
    this.since = -Infinity;
  }

  // Milliseconds that were lost in the last second or two; told once. `time` in seconds, and
  // the length of the sound that was captured until then.
  lost(time, length) {
    this.given += length;
    this.least = Math.min(this.least, time - this.given);
    if (time - this.since < 0.1) return 0;
    this.late.push(this.least);
    this.least = Infinity;
    this.since = time;
    if (this.late.length > TENTHS) this.late.shift();
    if (this.late.length < 2 * LATEST) return 0;
    const gone = Math.min(...this.late.slice(-LATEST)) - Math.min(...this.late.slice(0, -LATEST));
    const ms = Math.round(1000 * gone);
    if (ms < LEAST_MS) return 0;
    this.given += gone;
    this.late = this.late.map((late, at) => (at < this.late.length - LATEST ? late : late - gone));
    return ms;
  }
}

export class Frames {
  // `frame` gets each frame as an ArrayBuffer, and the milliseconds lost since the one before.
  constructor(rate, frame) {
    this.rate = rate;
    this.out = frame;
    this.resampler = rate === RATE ? null : new Resampler(rate);
    this.clock = new Clock();
    this.lost = 0;
    this.frame = new Int16Array(FRAME);
    this.filled = 0;
    this.sample = (value) => this.put(value);
  }

  // Sound of some channels (the same length each), captured until `time` (seconds).
  take(channels, time) {
    const [first, ...others] = channels;
    const mono = others.length ? first.map((sample, i) => others.reduce((sum, more) => sum + more[i], sample) / channels.length) : first;
    this.lost += this.clock.lost(time, mono.length / this.rate);
    if (this.resampler) this.resampler.put(mono, this.sample);
    else mono.forEach(this.sample);
  }

  put(value) {
    this.frame[this.filled++] = Math.round(Math.max(-1, Math.min(1, value)) * 32767);
    if (this.filled < FRAME) return;
    const { buffer } = this.frame, { lost } = this;
    this.frame = new Int16Array(FRAME);
    this.filled = this.lost = 0;
    this.out(buffer, Math.min(lost, 65535));
  }
}
