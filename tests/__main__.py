"""Run everything that holds the project together: `python -m tests`.

Style, types, the tests, and the tests in a real browser in a call of their own (its event
loop must not meet the others'). Each part runs even if one before it failed; the exit
status is 1 if any did.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from tests import BROWSER_DIED

ROOT = Path(__file__).resolve().parent.parent

PARTS = {
    "style": ("ruff", "check", "."),
    "format": ("ruff", "format", "--check", "."),
    "types": ("mypy",),
    "browser": ("pytest", "tests/browser"),
    "tests": ("pytest", "--ignore=tests/browser", "-n", "logical", "--dist", "worksteal"),
}


def passes(name: str, command: tuple[str, ...]) -> bool:
    """Run one part. What failed because the browser's own process died is run once more."""
    print(f"== {name}: {' '.join(command)}", flush=True)
    status = run(command)
    if name == "browser" and status == BROWSER_DIED:
        again = (*command, "--last-failed", "--last-failed-no-failures=none")
        print(f"== {name}: the browser died; once more: {' '.join(again)}", flush=True)
        status = run(again)
    return status == 0


def run(command: tuple[str, ...]) -> int:
    """The exit status of a module of this Python."""
    return subprocess.run([sys.executable, "-m", *command], cwd=ROOT, check=False).returncode


def main() -> int:
    """Run the parts in their order and say what failed or was left out."""
    failed = []
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    for name, command in PARTS.items():
        if name == "browser" and chromium is None:
            print("browser: SKIPPED, no chromium found (Debian: apt-get install chromium)")
            if os.environ.get("VOICELOG_REQUIRE_BROWSER"):
                failed.append(name)
            continue
        if not passes(name, command):
            failed.append(name)
    print(f"failed: {', '.join(failed)}" if failed else "all parts passed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
