"""The pages in a process of their own, with a worker that only pretends to listen.

    python -m tests.web.handing HOME PORT

While HOME/slow exists, a recording takes its time.
"""

from __future__ import annotations

import sys
import time
from functools import partial
from pathlib import Path

from tests.web.scene import CHEAP, recognition
from tests.work.scene import Hears
from voicelog import web
from voicelog.pipeline import Chain
from voicelog.records import Store
from voicelog.web.site import Site
from voicelog.work.follow import CrewHands


class Slow(Hears):
    """Hears the same in every recording, as slowly as it is told."""

    def __init__(self, told: Path) -> None:
        super().__init__(otherwise="bolt one ninety eight newton metres.")
        self._told = told

    def transcribe(self, audio, vocabulary=None):  # type: ignore[no-untyped-def]
        while self._told.exists():
            time.sleep(0.05)
        return super().transcribe(audio, vocabulary)


def chain(told: Path) -> Chain:
    """Importable by the worker."""
    return Chain(Slow(told))


def main() -> None:
    import uvicorn

    home, port = Path(sys.argv[1]), int(sys.argv[2])
    with Store.open(home, cost=CHEAP) as store:
        make = partial(chain, home / "slow")
        hands = (partial(CrewHands, store, make, 1, backlog=1, patience_s=0.5),)
        app = web.create(store, Site(), recognition(), hands=hands)
        uvicorn.run(app, host="127.0.0.1", port=port, access_log=False, log_level="warning")


if __name__ == "__main__":
    main()
