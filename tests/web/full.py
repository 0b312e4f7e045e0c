"""How long the pages take when the home is full.

    python -m tests.web.full [RECORDS]

A home with so many records, and as many open drafts, is made in a temporary folder; every
page that reads the store is opened 200 times in turn. Printed: milliseconds of server time,
and those of the first time of all, right after the start.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from pathlib import Path

from starlette.testclient import TestClient

from tests.web.scene import Browser, recognition
from voicelog import web, wire
from voicelog.bench import invented, store
from voicelog.records import Person
from voicelog.records.people import ROLES
from voicelog.web.site import Site

PAGES = (
    "/", "/dictate", "/review", "/review?from=5000", "/review/{draft}", "/review/{draft}/sign",
    "/inspect", "/records", "/records?words=barbarbar", "/records?serial_number=RL-0050000",
    "/records?work_order=W-2500", "/records?since=2020-02-01&until=2020-02-20",
    "/records?person=rev0&card=BN-10", "/records/R-050000", "/orders", "/orders/W-2500",
    "/orders/W-2500/handover", "/export?work_order=W-2500", "/export", "/upkeep",
    "/upkeep/people", "/upkeep/cards", "/upkeep/cards/BN-10",
)  # fmt: skip
TIMES = 200


def main() -> None:
    """Fill, open, print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    home = Path(tempfile.mkdtemp()) / "home"
    with invented.founded(home) as kept:
        kept.people.add(Person("max", "Max Ferro", ROLES), invented.SECRET, by="ada")
        store.generate(kept, count)
        note = kept.notes.add(invented.draft("still to decide"), work_order="W-3", by="tom")
        plain = wire.to_plain(note)
        with kept.connections.writing() as db:
            rows = (
                (
                    2_000_000 + number,
                    f"N-{2_000_000 + number}",
                    json.dumps(plain | {"id": f"N-{2_000_000 + number}", "work_order": "W-3"}),
                    number % 9,
                )
                for number in range(count)
            )
            db.conn.executemany(
                "INSERT INTO notes(seq, id, content, doubt) VALUES (?, ?, ?, ?)", rows
            )
        app = web.create(kept, Site(), recognition())
        with TestClient(app) as client:
            browser = Browser(client)
            browser.sign_in("max", invented.SECRET)
            print(f"{count} records, {count} drafts; ms of server time")
            for path in PAGES:
                address = path.replace("{draft}", "N-2000007")
                taken = []
                for _ in range(TIMES):
                    began = time.perf_counter()
                    answer = client.get(address)
                    taken.append(1000 * (time.perf_counter() - began))
                    assert answer.status_code == 200, (address, answer.status_code)
                first = taken[0]
                taken.sort()
                median, p95 = taken[TIMES // 2], taken[round(0.95 * TIMES)]
                print(f"{path:48} median {median:7.1f}  p95 {p95:7.1f}  first {first:7.1f}")


if __name__ == "__main__":
    main()
