"""Many people dictating at once into one server: does everything arrive, and how soon?

    python -m tests.web.crowd [PEOPLE [UTTERANCES]]

Each one sends synthetic speech in real time over the WebSocket of the pages, as a browser
would; meanwhile a page is opened once a second. Printed: utterances that arrived, seconds
from the end of speech to its text on the page, the longest queue that was shown, how long
pages took.
"""

from __future__ import annotations

import asyncio
import json
import re
import statistics
import struct
import sys
import tempfile
import time
from pathlib import Path

import httpx
import numpy as np
import websockets

from tests.browser.serving import Server
from tests.web.scene import CHEAP, SECRET, populate
from voicelog.records import Store

RATE_HZ, FRAME = 16_000, 1600
EVERY_S = 9.0
"""From one utterance of a person to the next."""
SENTENCES = (
    "Bolt one, ninety eight newton metres.", "Wear pin, eight millimetres.", "Cotter pin fitted.",
    "Bolt two, one hundred and one newton metres.",
)  # fmt: skip


def voice() -> list[np.ndarray]:
    """The sentences as 16-bit samples."""
    import hibari
    from scipy.signal import resample_poly

    speak = hibari.Hibari()
    found = []
    for sentence in SENTENCES:
        said = resample_poly(speak(sentence, seed=1), 2, 3)
        found.append((said / np.abs(said).max() * 18_000).astype("<i2"))
    return found


class Dictating:
    """One person at one page."""

    def __init__(self, number: int, address: str, cookies: httpx.Cookies, id: str) -> None:
        self.number, self.address, self.cookies, self.id = number, address, cookies, id
        self.ended: list[float] = []
        self.texts: list[float] = []
        self.longest_queue = 0
        self.acknowledged = self.sent = 0

    def script(self, sentences: list[np.ndarray], count: int) -> np.ndarray:
        """Silence and speech in turn; `ends` are the seconds at which speech ends."""
        whole = np.zeros(round((count * EVERY_S + 1.5 + self.number * 0.7) * RATE_HZ), "<i2")
        self.ends = []
        for turn in range(count):
            said = sentences[(turn + self.number) % len(sentences)]
            at = round((1.0 + self.number * 0.7 + turn * EVERY_S) * RATE_HZ)
            whole[at : at + len(said)] = said
            self.ends.append((at + len(said)) / RATE_HZ)
        return whole

    async def run(self, sentences: list[np.ndarray], count: int) -> None:
        sound = self.script(sentences, count)
        header = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        async with websockets.connect(
            f"ws://{self.address}/dictate/{self.id}/sound",
            origin=f"http://{self.address}",  # type: ignore[arg-type]
            additional_headers={"cookie": header},
            compression=None,
            max_size=None,
        ) as socket:
            listening = asyncio.create_task(self.listen(socket))
            began = time.monotonic()
            self.ended = [began + end for end in self.ends]
            for number in range(len(sound) // FRAME):
                await asyncio.sleep(max(0, began + (number + 1) * 0.1 - time.monotonic()))
                frame = sound[number * FRAME : (number + 1) * FRAME].tobytes()
                await socket.send(struct.pack("<BII", 1, self.number + 1, number) + frame)
                self.sent += 1
            deadline = time.monotonic() + 60
            while time.monotonic() < deadline and (
                len(self.texts) < count or self.acknowledged < self.sent
            ):
                await asyncio.sleep(0.1)
            listening.cancel()

    async def listen(self, socket: websockets.ClientConnection) -> None:
        async for message in socket:
            told = json.loads(message)
            if "ack" in told:
                self.acknowledged = max(self.acknowledged, told["ack"][1])
                continue
            line = told.get("line") or told["page"]
            self.longest_queue = max(self.longest_queue, line["waiting"] + line["before"])
            if "page" not in told:
                continue
            heard = len(re.findall(r'class="heard (?!soft)', told["page"]["heard_html"]))
            while len(self.texts) < heard:
                self.texts.append(time.monotonic())


async def crowd(address: str, people: int, count: int) -> None:
    """Everybody at once; prints what came of it."""
    client = httpx.AsyncClient(base_url=f"http://{address}", follow_redirects=True, timeout=60)
    async with client:
        page = await client.get("/sign-in")
        await client.post(
            "/sign-in", data={"csrf": token(page.text), "person": "tom", "secret": SECRET}
        )
        page = await client.get("/dictate")
        everybody = []
        for number in range(people):
            answer = await client.post(
                "/dictate",
                data={"csrf": token(page.text), "work_order": "W-7", "card": "DM-10"},
            )
            id = str(answer.url).rsplit("/", 1)[1]
            everybody.append(Dictating(number, address, client.cookies, id))
        sentences = voice()
        taken: list[float] = []
        opening = asyncio.create_task(open_pages(client, taken))
        await asyncio.gather(*(one.run(sentences, count) for one in everybody))
        opening.cancel()
    waits = sorted(
        text - end for one in everybody for text, end in zip(one.texts, one.ended, strict=False)
    )
    frames = sum(one.sent for one in everybody)
    lost = frames - sum(one.acknowledged for one in everybody)
    arrived = sum(len(one.texts) for one in everybody)
    print(f"{people} people, an utterance every {EVERY_S:.0f} s each")
    print(f"frames sent {frames}, not acknowledged {lost}")
    print(f"utterances spoken {people * count}, on the page {arrived}")
    if waits:
        p95 = waits[min(len(waits) - 1, round(0.95 * len(waits)))]
        print(
            f"seconds from end of speech to text: median {statistics.median(waits):.2f}, "
            f"p95 {p95:.2f}, longest {waits[-1]:.2f}"
        )
    print(f"longest queue shown {max(one.longest_queue for one in everybody)}")
    print(
        f"pages opened meanwhile {len(taken)}: median {1000 * statistics.median(taken):.0f} ms, "
        f"longest {1000 * max(taken):.0f} ms"
    )


async def open_pages(client: httpx.AsyncClient, taken: list[float]) -> None:
    while True:
        for path in ("/", "/dictate", "/orders/W-7"):
            began = time.monotonic()
            await client.get(path)
            taken.append(time.monotonic() - began)
            await asyncio.sleep(1)


def token(page: str) -> str:
    found = re.search(r'name="csrf" value="([^"]+)"', page)
    assert found
    return found[1]


def main() -> None:
    """Serve a fresh home in a process of its own and let the crowd in."""
    people, count = (int(word) for word in (*sys.argv[1:], "10", "4")[:2])
    place = Path(tempfile.mkdtemp())
    (place / "site.toml").write_text('[read_back]\nvoice = "off"\nunasked = false\n')
    with Store.open(place / "home", cost=CHEAP) as store:
        populate(store)
    server = Server(place / "home", place / "site.toml")
    server.start()
    try:
        time.sleep(6)  # the model is loaded by then
        asyncio.run(crowd(f"127.0.0.1:{server.port}", people, count))
    finally:
        server.stop()


if __name__ == "__main__":
    main()
