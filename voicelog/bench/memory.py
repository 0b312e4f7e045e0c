"""The most memory that this process has held resident."""

from __future__ import annotations

import resource
import sys
from pathlib import Path


def peak_mib(*, reset: bool = False) -> float:
    """Since the last `reset`, or since the program of this process was started.

    The kernel's own mark is read where there is one (Linux): what getrusage gives instead counts
    the parent's memory as well, if a process was forked to be started.
    """
    try:
        if reset:
            Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
        status = Path("/proc/self/status").read_text(encoding="ascii")
        line = next(line for line in status.splitlines() if line.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    except (OSError, StopIteration):
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        return peak / (1024 * 1024 if sys.platform == "darwin" else 1024)
