"""A server of the pages in a process of its own, and a line to it that can be cut.

python -m tests.browser.serving HOME PORT [SITE.toml]
"""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Server:
    """The pages over one home; can be killed and started again on the same port."""

    def __init__(self, home: Path, site: Path) -> None:
        self.home, self.site, self.port = home, site, free_port()
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def command(self) -> list[str]:
        """What runs in the process."""
        program = [sys.executable, "-m", "tests.browser.serving"]
        return [*program, str(self.home), str(self.port), str(self.site)]

    def start(self) -> None:
        """Return when it answers."""
        self.process = subprocess.Popen(self.command(), cwd=ROOT)
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port)):
                return
            assert self.process.poll() is None, "the server ended before it answered"
            time.sleep(0.1)
        raise AssertionError("the server does not answer")

    def kill(self) -> None:
        """As a power cut would: no goodbye."""
        if self.process is not None:
            self.process.send_signal(signal.SIGKILL)
            self.process.wait()
            self.process = None

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            try:
                self.process.wait(15)
            except subprocess.TimeoutExpired:
                self.kill()
            self.process = None


class Line:
    """A TCP line to a server that can be cut in the middle of anything."""

    def __init__(self, port: int) -> None:
        self._to = port
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._door.getsockname()[1])
        self._open: list[socket.socket] = []
        self._up = True
        threading.Thread(target=self._serve, daemon=True).start()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def cut(self) -> None:
        self._up = False
        for each in self._open:
            with contextlib.suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)
            each.close()
        self._open.clear()

    def mend(self) -> None:
        self._up = True

    def close(self) -> None:
        self.cut()
        self._door.close()

    def _serve(self) -> None:
        while True:
            try:
                near, _ = self._door.accept()
            except OSError:
                return
            try:
                if not self._up:
                    raise OSError("cut")
                far = socket.create_connection(("127.0.0.1", self._to), 5)
                far.settimeout(None)
            except OSError:
                near.close()
                continue
            self._open += [near, far]
            for pair in ((near, far), (far, near)):
                threading.Thread(target=self._carry, args=pair, daemon=True).start()

    @staticmethod
    def _carry(source: socket.socket, target: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(65536):
                target.sendall(data)
        for each in (source, target):
            with contextlib.suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)


def main() -> None:
    """Serve with a cheap cost of secrets; everything else is as in earnest."""
    import uvicorn

    from tests.web.scene import CHEAP
    from voicelog import web
    from voicelog.records import Store
    from voicelog.web import site

    home, port, settings = Path(sys.argv[1]), int(sys.argv[2]), Path(sys.argv[3])
    os.environ.setdefault("OMP_NUM_THREADS", "2")
    chosen = site.load(settings)
    with Store.open(home, cost=CHEAP) as store:
        uvicorn.run(
            web.create(store, chosen, hands=web.hands(store, chosen, 1)),
            host="127.0.0.1",
            port=port,
            ws_max_size=16_384,
            ws_per_message_deflate=False,
            access_log=False,
            log_level="warning",
        )


if __name__ == "__main__":
    main()
