// Frames that the server has not acknowledged yet, kept in this browser over everything:
// a closed tab, an empty battery, a night without network.

const request = (asked) => new Promise((done, failed) => {
  asked.onsuccess = () => done(asked.result);
  asked.onerror = () => failed(asked.error);
});

export class Keep {
  constructor(dictation) {
    this.dictation = dictation;
    this.full = false;
    this.memory = new Map(); // what the disk refused: better than nothing, and said on the page
  }

  async open() {
    try {
      const asked = indexedDB.open("voicelog", 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore("frames");
      this.database = await request(asked);
    } catch { // a browser that keeps nothing: memory only, and the page says so
      this.full = true;
    }
    await navigator.storage?.persist?.().catch(() => false);
  }

  store(mode) {
    return this.database.transaction("frames", mode, { durability: "strict" }).objectStore("frames");
  }

  range(stream, from = 0, to = Infinity) {
    return IDBKeyRange.bound([this.dictation, stream, from], [this.dictation, stream, to]);
  }

  async put(stream, number, buffer) {
    try {
      await request(this.store("readwrite").put(buffer, [this.dictation, stream, number]));
      this.full = false;
    } catch {
      this.memory.set(`${stream} ${number}`, buffer);
      this.full = true;
    }
  }

  // Up to `count` frames of a stream from number `from`: [[number, buffer], ...].
  async some(stream, from, count) {
    const found = [];
    if (this.database) {
      const store = this.store("readonly");
      const range = this.range(stream, from);
      const [keys, buffers] = await Promise.all(
        [request(store.getAllKeys(range, count)), request(store.getAll(range, count))]);
      keys.forEach((key, at) => found.push([key[2], buffers[at]]));
    }
    for (const [name, buffer] of this.memory) {
      const [of, number] = name.split(" ").map(Number);
      if (of === stream && number >= from) found.push([number, buffer]);
    }
    return found.sort((a, b) => a[0] - b[0]).slice(0, count);
  }

  // The server has all frames of `stream` below `number`.
  async forget(stream, number) {
    for (const name of [...this.memory.keys()]) {
      const [of, at] = name.split(" ").map(Number);
      if (of === stream && at < number) this.memory.delete(name);
    }
    if (this.database && number > 0) await request(this.store("readwrite").delete(this.range(stream, 0, number - 1)));
  }

  // Streams that still hold frames, the oldest page first.
  async streams() {
    const found = [];
    if (!this.database) return found;
    let range = IDBKeyRange.bound([this.dictation], [this.dictation, []]);
    for (;;) {
      const [key] = await request(this.store("readonly").getAllKeys(range, 1));
      if (!key) return found;
      found.push(key[1]);
      range = IDBKeyRange.bound([this.dictation, key[1], []], [this.dictation, []]);
    }
  }

  async count() {
    const all = IDBKeyRange.bound([this.dictation], [this.dictation, []]);
    return (this.database ? await request(this.store("readonly").count(all)) : 0) + this.memory.size;
  }

  // Minutes of sound that still fit, or Infinity when the browser won't say.
  async minutesLeft() {
    const { quota, usage } = (await navigator.storage?.estimate?.().catch(() => null)) ?? {};
    return quota ? Math.floor((quota - usage) / (3300 * 600)) : Infinity;
  }
}
