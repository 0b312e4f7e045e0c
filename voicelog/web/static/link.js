// The line to the server: every frame goes out in order, again if need be, until the server
// says that it is on its disk. Streams of earlier pages go first.

const KEPT = 1, PASSING = 2, HEAD = 9, SOUND = 3200, CLOSED = { 4403: "refused", 4409: "moved", 4507: "full" };

// The frame with two bytes more, wherever it is kept until it is on the server's disk.
function marked(sound, lost) {
  const buffer = new ArrayBuffer(SOUND + 2);
  new Uint8Array(buffer).set(new Uint8Array(sound));
  new DataView(buffer).setUint16(SOUND, lost, true);
  return buffer;
}

export class Link {
  // `shown` gets what the page is to show, `line` how many are heard before it, `changed` is called when the line comes or goes.
  constructor(address, keep, { shown, line, changed, closed }) {
    Object.assign(this, { address, keep, shown, line, changed, closed });
    this.stream = Math.floor(Date.now() / 100) % 0xffffffff; // grows with time: the oldest first
    this.next = 0;
    this.sent = new Map();
    this.wait = 250;
    this.waiting = []; // acts that wait for the line
  }

  get up() {
    return this.socket?.readyState === WebSocket.OPEN;
  }

  connect() {
    if (this.stopped) return;
    const socket = this.socket = new WebSocket(this.address);
    socket.binaryType = "arraybuffer";
    socket.onopen = async () => {
      this.wait = 250;
      this.sent.clear();
      this.queue = [...new Set([...(await this.keep.streams()), this.stream])];
      this.send({ do: "streams", of: this.queue });
      this.waiting.splice(0).forEach((act) => this.send(act));
      this.changed();
    };
    socket.onmessage = ({ data }) => this.take(JSON.parse(data));
    socket.onclose = ({ code }) => {
      if (this.socket !== socket) return;
      this.changed();
      const why = CLOSED[code];
      if (why === "moved" || why === "refused") return this.closed(why);
      if (why) this.closed(why);
      setTimeout(() => this.connect(), this.wait);
      this.wait = Math.min(this.wait * 1.7, 5000);
    };
  }

  stop() {
    this.stopped = true;
    this.socket?.close();
  }

  send(act) {
    if (this.up) this.socket.send(JSON.stringify(act));
    else if (act.do !== "streams") this.waiting.push(act);
  }

  async take(message) {
    if (message.page) this.shown(message.page);
    if (message.line) this.line(message.line);
    if (!message.ack) return;
    const [stream, wanted] = message.ack;
    await this.keep.forget(stream, wanted);
    if (!this.sent.has(stream) || this.sent.get(stream) < wanted) this.sent.set(stream, wanted);
    this.acknowledged?.();
    this.pump();
  }

  // A new frame of this page, and the milliseconds of sound that the device lost before it.
  async frame(sound, lost) {
    const number = this.next++;
    const buffer = lost ? marked(sound, lost) : sound;
    await this.keep.put(this.stream, number, buffer);
    if (this.up && !this.pumping && this.queue?.length === 1 && this.sent.get(this.stream) === number) {
      this.sent.set(this.stream, number + 1);
      this.out(KEPT, this.stream, number, buffer);
    } else this.pump();
  }

  // A frame that is listened to and never kept: spoken on stand-by.
  passing(buffer) {
    if (this.up && this.socket.bufferedAmount < 64000) this.out(PASSING, 0, 0, buffer);
  }

  out(kind, stream, number, buffer) {
    const message = new Uint8Array(HEAD + (buffer?.byteLength ?? SOUND));
    const head = new DataView(message.buffer);
    head.setUint8(0, kind);
    head.setUint32(1, stream, true);
    head.setUint32(5, number, true);
    if (buffer) message.set(new Uint8Array(buffer), HEAD);
    this.socket.send(message);
  }

  // Send what is kept, stream by stream, as fast as the line takes it.
  async pump() {
    if (this.pumping) return;
    this.pumping = true;
    try {
      while (this.up && this.queue?.length) {
        const stream = this.queue[0];
        if (!this.sent.has(stream)) return; // the server has not said yet what it wants
        const batch = await this.keep.some(stream, this.sent.get(stream), 100);
        if (!this.up) return;
        if (!batch.length) {
          if (stream === this.stream) return;
          this.queue.shift();
          continue;
        }
        for (const [number, buffer] of batch) {
          // Only a page that was closed can have lost frames: silence keeps the time of the rest.
          for (let at = this.sent.get(stream); at < number; at++) {
            if (stream === this.stream) return;
            this.out(KEPT, stream, at);
          }
          this.out(KEPT, stream, number, buffer);
          this.sent.set(stream, number + 1);
        }
        while (this.up && this.socket.bufferedAmount > 300000) await new Promise((go) => setTimeout(go, 50));
      }
    } finally {
      this.pumping = false;
    }
  }
}
