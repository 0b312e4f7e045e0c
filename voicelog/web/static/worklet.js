// Sound as it comes from the microphone, handed on in pieces; `frames.js` does all the rest.
const PIECE = 8; // blocks of 128 samples

class Pieces extends AudioWorkletProcessor {
  constructor() {
    super();
    this.blocks = [];
  }

  process([channels]) {
    if (!channels.length) return true;
    this.blocks.push(channels.map((channel) => channel.slice()));
    if (this.blocks.length < PIECE) return true;
    const piece = channels.map((_, number) => {
      const whole = new Float32Array(PIECE * 128);
      this.blocks.forEach((block, at) => whole.set(block[number] ?? block[0], 128 * at));
      return whole;
    });
    this.blocks = [];
    this.port.postMessage(piece, piece.map(({ buffer }) => buffer));
    return true;
  }
}

registerProcessor("pieces", Pieces);
