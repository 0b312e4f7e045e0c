"""The server itself: TLS of its own making, the greeting, the recogniser's process."""

from __future__ import annotations

import asyncio
import os
import re
import signal
import ssl
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest

from tests.web.scene import fake_chain
from voicelog import web
from voicelog.errors import ConfigError
from voicelog.web import tls
from voicelog.web.recognition import Recognition


def test_a_certificate_is_made_once_and_again_for_another_name(tmp_path: Path) -> None:
    certificate, key = tls.self_signed(tmp_path / "tls", "127.0.0.1")
    ssl.create_default_context().load_verify_locations(certificate)
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key)
    assert key.stat().st_mode & 0o077 == 0
    first = certificate.read_bytes()
    assert tls.self_signed(tmp_path / "tls", "127.0.0.1")[0].read_bytes() == first
    assert tls.self_signed(tmp_path / "tls", "hangar.example")[0].read_bytes() != first


def test_half_of_a_certificate_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="both"):
        web.serve(tmp_path / "home", tls_cert=tmp_path / "c.pem")


def test_the_greeting_shows_a_phone_the_way() -> None:
    assert len(web._greeting("127.0.0.1", 8000, encrypted=False)) == 1
    lines = web._greeting("0.0.0.0", 8000, encrypted=True)  # noqa: S104
    assert re.search(r"https://\d+\.\d+\.\d+\.\d+:8000/", lines[0])
    assert lines[1].count("\n") > 8
    assert "--tls-self-signed" in web._greeting("0.0.0.0", 80, encrypted=False)[-1]  # noqa: S104


def test_serving_over_tls_and_stopping(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from voicelog import web\n"
        "web.serve(Path(sys.argv[1]), port=int(sys.argv[2]), tls_self_signed=True)"
    )
    from tests.browser.serving import free_port

    port = free_port()
    process = subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path / "home"), str(port)], stdout=subprocess.PIPE
    )
    try:
        trusted = tmp_path / "home" / "tls" / "certificate.pem"
        answer = None
        deadline = time.monotonic() + 30
        while answer is None and time.monotonic() < deadline:
            try:
                context = ssl.create_default_context(cafile=str(trusted))
                answer = httpx.get(f"https://127.0.0.1:{port}/sign-in", verify=context)
            except (OSError, httpx.HTTPError):
                time.sleep(0.2)
        assert answer is not None
        assert answer.status_code == 200
        assert "strict-transport-security" in answer.headers
    finally:
        process.send_signal(signal.SIGINT)
        out, _ = process.communicate(timeout=30)
    assert f"https://127.0.0.1:{port}/".encode() in out
    assert process.returncode == 0


def test_the_recogniser_comes_back_when_its_process_dies() -> None:
    async def twice() -> tuple[int, int]:
        hearing = Recognition(fake_chain)
        first = await hearing._run(os.getpid)
        os.kill(first, signal.SIGKILL)
        await asyncio.sleep(0.2)
        second = await hearing._run(os.getpid)
        hearing.close()
        return first, second

    first, second = asyncio.run(twice())
    assert first != second


def test_the_recogniser_s_process_ends_with_a_server_that_was_killed() -> None:
    code = (
        "import asyncio, os\n"
        "from tests.web.scene import fake_chain\n"
        "from voicelog.web.recognition import Recognition\n"
        "if __name__ == '__main__':\n"
        "    async def run():\n"
        "        print(await Recognition(fake_chain)._run(os.getpid), flush=True)\n"
        "        await asyncio.sleep(60)\n"
        "    asyncio.run(run())\n"
    )
    server = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    assert server.stdout is not None
    child = int(server.stdout.readline())
    server.kill()
    server.wait()
    server.stdout.close()
    deadline = time.monotonic() + 10
    while time.monotonic() < deadline and Path(f"/proc/{child}").exists():
        time.sleep(0.1)
    assert not Path(f"/proc/{child}").exists()
